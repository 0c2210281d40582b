"""The verdict: suspects in order with their reasons, what does not add up, where the job is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from backprobe.book.model import Book
from backprobe.defects.atoms import of_atoms
from backprobe.defects.model import Atom, Defects, Flags, Floats, Ints, Predictor
from backprobe.defects.pairs import PairList
from backprobe.defects.predict import Circuit
from backprobe.findings.model import CodesFound, JobState
from backprobe.suspects.evidence import Evidence, ask, gather
from backprobe.suspects.factor import Factor, ListFactor
from backprobe.suspects.model import (
    NOT_IN_BOOK,
    Belief,
    Beside,
    Proof,
    Reason,
    Suspect,
    Verdict,
)
from backprobe.suspects.odd import MISFIT, clashing, contradictions
from backprobe.suspects.paths import path_words
from backprobe.suspects.prior import stories
from backprobe.suspects.proof import proof_of
from backprobe.suspects.reasons import KEPT, LeftOut, fit, leave_out
from backprobe.suspects.screen import screened
from backprobe.suspects.together import failing_in, only_together
from backprobe.suspects.twofold import weighed_with_pairs
from backprobe.suspects.view import View
from backprobe.suspects.visits import stretches
from backprobe.suspects.weigh import conditions_told, likeliest, weighed
from backprobe.suspects.wording import Case, Told, codes_by_case, reason_words

DECIDED = 0.9
"""Chance of one group at which the search is over and the repair begins. Judgement."""
ODD = 0.2
"""Chance of "not in this book" at which the job does not add up. Judgement."""
STRANGE = 0.05
"""Chance of "not in this book" from which all hypotheses are looked at again. Judgement."""
SHOWN = 12
LEAST = 0.002
"""Suspects below this chance are not listed, unless nothing is above it."""
NAMES = 4
LIKE = 1.0
"""A reading is like that of another pin when it fits there better than chance."""
CHANGES = 0.05
"""A finding whose absence moves the leader by less than this changes little."""
SECONDS = 3
WORTH_NAMING = 0.01
"""Second faults told beside a suspect, and the chance from which they are."""
MAY_COME = 0.25
"""From this share on a suspect is told as one that comes and goes."""


def verdict(book: Book, predictor: Predictor, job: JobState, belief: Belief) -> Verdict:
    """Suspects grouped by the one thing to open or replace, likeliest first."""
    return _verdict(ask(book, predictor, job), job, belief)


def judge(book: Book, predictor: Predictor, job: JobState) -> tuple[Belief, Verdict]:
    """weigh() and verdict() in one, asking the circuit once."""
    view = ask(book, predictor, job)
    belief = weighed(view, job)
    return belief, _verdict(view, job, belief)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Findings weighed. `circuit`: what the belief speaks of, every single and the pairs that were
    carried beside them."""

    circuit: Circuit
    belief: Belief
    verdict: Verdict


def judge_with_pairs(circuit: Circuit, job: JobState) -> Judged:
    """judge(), and two faults at once where the findings leave them room. Once measuring has begun
    only what was worth it on arrival is weighed, unless that does not explain the findings; where all
    that is weighed leaves them to a fault that is not in the book, two that show only together are
    looked for."""
    some = screened(circuit, job)
    found = _judged(some, job)
    if some is not circuit and _strange(found.verdict):
        found = _judged(circuit, job)
    where = failing_in(job)
    if found.verdict.not_in_book > ODD and where is not None:
        more = only_together(circuit, where)
        return found if more is None else _judged(circuit, job, more)
    return found


def _strange(verdict: Verdict) -> bool:
    return bool(verdict.contradictions) or verdict.not_in_book > STRANGE


def _judged(circuit: Circuit, job: JobState, more: PairList | None = None) -> Judged:
    carried, view, belief = weighed_with_pairs(circuit, job, more)
    found = _verdict(view, job, belief, pairs=True)
    return Judged(circuit=carried, belief=belief, verdict=found)


def _verdict(whole: View, job: JobState, belief: Belief, *, pairs: bool = False) -> Verdict:
    defects = whole.defects
    by_group = group_chances(defects, belief)
    order = sorted(by_group, key=lambda key: (-by_group[key], key))
    listed = tuple(key for key in order[:SHOWN] if by_group[key] >= LEAST) or tuple(order[:1])
    best = {group: _best(defects, belief, group) for group in listed}
    rows = np.union1d(likeliest(belief, KEPT), list(best.values())).astype(np.int64)
    rows = defects.with_halves(rows)
    view = whole.near(rows)
    evidence = gather(view, job)
    told = _told(whole.book, job, evidence)
    left_out = leave_out(evidence, view.defects, stories(defects, conditions_told(job)), listed)
    cases = [_case(defects, belief, best[group], rows) for group in listed]
    codes = [_codes(told, case) for case in cases]
    words = {group.key: group.words for group in defects.groups}
    mended = mended_chances(defects, belief)
    suspects = tuple(
        Suspect(
            group=group,
            words=words.get(group, group),
            chance=by_group[group],
            names=_names(defects, belief, group),
            sometimes=_sometimes(defects, belief, group),
            reasons=_reasons(view, left_out, number, told, case),
            explains=codes[number][0],
            leaves_open=codes[number][1],
            still=by_group[group] - mended.get(group, 0.0),
            paths=_paths(view, told, codes[number][0], case),
            beside=_beside(defects, belief, group, rows, told, words),
        )
        for number, (group, case) in enumerate(zip(listed, cases, strict=True))
    )
    outside = float(belief.chance[belief.atom == NOT_IN_BOOK].sum())
    weight, comes = belief.hypothesis[rows], _comes(defects, belief)[defects.atom_of[rows]]
    healed, since = _mended(defects, belief)[defects.atom_of[rows]], _mended_before(evidence)
    fits = {
        name: fit(item.says, weight, comes, healed * since.get(name, 0.0))
        for name, item in told.items()
        if isinstance(item.says, Factor)
    }
    slips = {
        name: tuple(
            slip.place
            for slip in item.says.slips
            if fit(replace(item.says, present=slip.present, gone=slip.gone), weight, comes)
            > max(LIKE, fits[name])
        )
        for name, item in told.items()
        if isinstance(item.says, Factor)
    }
    odd_ones = [name for name, value in fits.items() if value <= MISFIT]
    clash = None
    if outside > ODD and not odd_ones:
        clash = clashing(told, outside, {one.finding: one.outside for one in left_out})
        odd_ones = list(clash or ())
    leading = cases[0] if cases else Case(hypothesis=0, sometimes=False)
    proof = proof_of(defects, belief, job, mended)
    return Verdict(
        suspects=suspects,
        not_in_book=outside,
        healthy=float(belief.chance[belief.atom == 0].sum()),
        contradictions=contradictions(
            view,
            job,
            told,
            fits,
            suspects,
            leading,
            slips=slips,
            pairs=pairs,
            without=_without(suspects, left_out, odd_ones),
            clash=clash,
        ),
        state=_state(job, suspects, outside, proof),
        proof=proof,
    )


def group_chances(defects: Defects, belief: Belief) -> dict[str, float]:
    """Chance of every group of the book, healthy and "not in this book" apart."""
    chances = {group.key: 0.0 for group in defects.groups}
    for number, chance in enumerate(_atom_chances(defects, belief)):
        if number:
            group = defects.atoms[number].group
            chances[group] = chances.get(group, 0.0) + float(chance)
    return chances


def mended_chances(defects: Defects, belief: Belief) -> dict[str, float]:
    """Chance by group that it was the fault and its repair took hold; groups without any left
    out."""
    if belief.mended is None:
        return {}
    total = _mended(defects, belief) * _atom_chances(defects, belief)
    found: dict[str, float] = {}
    for number in np.flatnonzero(total):
        group = defects.atoms[number].group
        found[group] = found.get(group, 0.0) + float(total[number])
    return found


def _mended_before(evidence: Evidence) -> dict[str, Flags]:
    """(N,) by finding: whether a hypothesis was mended before it was made."""
    found: dict[str, Flags] = {}
    done: Flags | None = None
    for segment in evidence.segments:
        if segment.mended is not None:
            done = segment.mended if done is None else done | segment.mended
        if done is not None:
            found.update({factor.finding: done for factor in segment.factors})
    return found


def _mended(defects: Defects, belief: Belief) -> Floats:
    """(A,) share of every atom's chance that was mended."""
    total, ended = _atom_chances(defects, belief), np.zeros(len(defects.atoms))
    inside = belief.atom >= 0
    if belief.mended is not None:
        np.add.at(ended, belief.atom[inside], (belief.chance * belief.mended)[inside])
    share: Floats = ended / np.where(total > 0.0, total, 1.0)
    return share


def _atom_chances(defects: Defects, belief: Belief) -> Floats:
    """(A,) chance of every atom, always and sometimes together."""
    total: Floats = np.zeros(len(defects.atoms))
    inside = belief.atom >= 0
    np.add.at(total, belief.atom[inside], belief.chance[inside])
    return total


def _of_group(defects: Defects, group: str) -> Flags:
    return of_atoms(defects, _is_of, group)


def _is_of(atom: Atom, group: str) -> bool:
    """Whether it is mended with a group; the sound machine is mended with none."""
    return bool(atom.group) and atom.group == group


def _names(defects: Defects, belief: Belief, group: str) -> tuple[tuple[str, float], ...]:
    """The likeliest defects of a group with their chance; those of equal words are one."""
    chance = _atom_chances(defects, belief)
    by_words: dict[str, float] = {}
    for number in np.flatnonzero(_of_group(defects, group)):
        words = defects.atoms[number].words
        by_words[words] = by_words.get(words, 0.0) + float(chance[number])
    order = sorted(by_words.items(), key=lambda item: (-item[1], item[0]))
    return tuple(order[:NAMES])


def _sometimes(defects: Defects, belief: Belief, group: str) -> float:
    """Share of a group's chance that is of defects which come and go."""
    inside = _rows(defects, belief, group)
    total = float(belief.chance[inside].sum())
    comes = float(belief.chance[inside & (belief.sometimes == 1)].sum())
    return comes / total if total > 0.0 else 0.0


def _rows(defects: Defects, belief: Belief, group: str) -> Flags:
    member = _of_group(defects, group)
    rows: Flags = (belief.atom > 0) & member[np.maximum(belief.atom, 0)]
    return rows


def _best(defects: Defects, belief: Belief, group: str) -> int:
    """A group's likeliest hypothesis."""
    member = _of_group(defects, group)[defects.atom_of]
    return int(np.argmax(np.where(member, belief.hypothesis, -1.0)))


def _case(defects: Defects, belief: Belief, hypothesis: int, rows: Ints) -> Case:
    """How a hypothesis is told, by its place among `rows`."""
    comes = float(_comes(defects, belief)[defects.atom_of[hypothesis]])
    return Case(hypothesis=int(np.searchsorted(rows, hypothesis)), sometimes=comes > MAY_COME)


def _comes(defects: Defects, belief: Belief) -> Floats:
    """(A,) share of each atom's chance that comes and goes."""
    total = _atom_chances(defects, belief)
    comes: Floats = np.zeros(len(defects.atoms))
    rows = (belief.atom >= 0) & (belief.sometimes == 1)
    comes[belief.atom[rows]] = belief.chance[rows]
    share: Floats = np.where(total > 0.0, comes / np.where(total > 0.0, total, 1.0), 0.0)
    return share


def _told(book: Book, job: JobState, evidence: Evidence) -> dict[str, Told]:
    """Every weighed finding by its id."""
    says = {one.finding: one for one in evidence.told}
    return {
        finding.id: Told(
            finding=finding, situation=stretch.situation(finding), says=says[finding.id]
        )
        for stretch in stretches(book, job)
        for finding in stretch.findings
        if finding.id in says
    }


def _beside(
    defects: Defects,
    belief: Belief,
    group: str,
    rows: Ints,
    told: Mapping[str, Told],
    words: Mapping[str, str],
) -> tuple[Beside, ...]:
    """What may stand beside a group, with the codes each of both explains."""
    if defects.halves is None:
        return ()
    found: dict[str, tuple[float, float, tuple[int, int]]] = {}
    for row in defects.twofold:
        if defects.atoms[defects.atom_of[row]].group != group:
            continue
        one, two = (int(h) for h in defects.halves[row])
        keys = [defects.atoms[defects.atom_of[h]].group for h in (one, two)]
        here, there, other = (one, two, keys[1]) if keys[0] == group else (two, one, keys[0])
        chance = float(belief.hypothesis[row])
        total, most, best = found.get(other, (0.0, -1.0, (here, there)))
        found[other] = (total + chance, *max((most, best), (chance, (here, there))))
    ranked = sorted(found.items(), key=lambda item: (-item[1][0], item[0]))[:SECONDS]
    return tuple(
        Beside(
            group=other,
            words=words.get(other, other),
            chance=total,
            here=_alone(rows, told, here),
            there=_alone(rows, told, there),
        )
        for other, (total, _, (here, there)) in ranked
        if total >= WORTH_NAMING
    )


def _alone(rows: Ints, told: Mapping[str, Told], hypothesis: int) -> tuple[str, ...]:
    """Codes that one of two faults explains by itself."""
    at = int(np.searchsorted(rows, hypothesis))
    if at >= rows.size or rows[at] != hypothesis:
        return ()
    return _codes(told, Case(hypothesis=at, sometimes=False))[0]


def _reasons(
    view: View, left_out: Sequence[LeftOut], number: int, told: Mapping[str, Told], case: Case
) -> tuple[Reason, ...]:
    """What every finding says about this suspect, the strongest first."""
    reasons = [
        Reason(
            finding=one.finding,
            factor=float(one.factor[number]),
            words=reason_words(view, told[one.finding], case),
        )
        for one in left_out
        if one.finding in told
    ]
    return tuple(sorted(reasons, key=lambda r: (-abs(np.log(max(r.factor, 1e-12))), r.finding)))


def _codes(told: Mapping[str, Told], case: Case) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Codes found that a suspect explains, and those it leaves open."""
    explains: dict[str, None] = {}
    leaves: dict[str, None] = {}
    for item in told.values():
        if isinstance(item.finding, CodesFound) and isinstance(item.says, ListFactor):
            good, left = codes_by_case(item.finding, item.says, case)
            explains |= dict.fromkeys(f"{item.finding.unit} {code}" for code in good)
            leaves |= dict.fromkeys(f"{item.finding.unit} {code}" for code in left)
    return tuple(explains), tuple(code for code in leaves if code not in explains)


def _paths(
    view: View, told: Mapping[str, Told], explained: Sequence[str], case: Case
) -> tuple[str, ...]:
    """How the suspect comes to each code it explains, in their order."""
    words: list[str] = []
    for name in explained:
        unit, _, code = name.rpartition(" ")
        seen = [
            item.situation
            for item in told.values()
            if isinstance(item.finding, CodesFound)
            and item.finding.unit == unit
            and code in item.finding.active
        ]
        rule = view.book.codes.get((unit, code))
        words.append(path_words(view, rule, seen, case.hypothesis) if rule else "")
    return tuple(words)


def _without(
    suspects: Sequence[Suspect], left_out: Sequence[LeftOut], names: Sequence[str]
) -> dict[str, str]:
    """Who would lead if a finding were not there, by finding."""
    found: dict[str, str] = {}
    for one in left_out:
        if one.finding not in names or not suspects:
            continue
        best = int(np.argmax(one.chance))
        now, then = suspects[best].chance, float(one.chance[best])
        little = best == 0 and abs(then - now) < CHANGES
        found[one.finding] = (
            f"{'measuring again changes little: ' if little else ''}without it "
            f"{suspects[best].words} would stand at {100 * then:.0f} %, now {100 * now:.0f} %"
        )
    return found


def _state(
    job: JobState, suspects: Sequence[Suspect], outside: float, proof: Proof | None
) -> Literal["open", "decided", "gone", "odd", "mended", "proven"]:
    if proof is not None and proof.holds:
        return "proven"
    if outside > ODD and job.findings:
        return "odd"
    if proof is not None:
        return "mended"
    if suspects and suspects[0].still >= DECIDED:
        return "decided"
    return "gone" if job.failing == "gone" else "open"
