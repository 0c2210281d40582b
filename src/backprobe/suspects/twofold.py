"""Two faults at once: which pairs the findings leave room for, weighed beside the singles.

Millions of pairs cannot be solved at every finding. What the findings say of the singles bounds
what they say of a pair: of two faults the one that changes a finding's likelihood more is taken to
decide it. Pairs of which each half is needed by some finding, the best few hundred, are solved,
consequences and all, and become hypotheses like any other. Singles of one repair group that say the
same of every finding stand for each other, their rates summed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array

from backprobe.base.sums import log_sum
from backprobe.circuit.compiled import compiled
from backprobe.defects.model import Defects, Flags, Floats, Ints
from backprobe.defects.pairs import PairList, apart, one_cause, rates_of, together, with_pairs
from backprobe.defects.predict import Circuit
from backprobe.findings.model import JobState
from backprobe.suspects.codes import RULE_WRONG
from backprobe.suspects.evidence import Evidence, ask, gather
from backprobe.suspects.filter import Filtered, comes_of, forward_two, two_of
from backprobe.suspects.model import Belief
from backprobe.suspects.recursion import Known
from backprobe.suspects.view import View
from backprobe.suspects.weigh import coarse, finished

HELPS = 0.7
"""A single is looked at when the findings it explains better than the healthy machine does are worth
so much together (ln)."""
NEEDED = 2.0
"""Both halves of a pair are needed when it explains the findings better than either alone by so
much (ln)."""
ALIKE = 0.25
"""Singles of one group whose findings differ by less than this (ln) stand for each other."""
CLASSES, FEW, TURNS = 256, 32, 4
"""Classes that are looked at for all they explain; for what another leaves open, or because they were
mended; and how often what explains the rest is looked for."""
CARRIED = 160
"""Pairs that are solved and weighed."""
FAINT = 12.0
"""Pairs less likely than the best by more than this (ln) are left."""
ROOM = 0.03
"""Pairs are solved when they may hold this share of the belief."""
CAUSES = "causes"
"""What is kept with a circuit: rates of pairs of atoms of one cause."""
NEVER = np.iinfo(np.int64).max


@dataclass(frozen=True, slots=True, kw_only=True)
class Classes:
    """C classes of singles that say the same of every finding. `first` (C,) the likeliest member;
    `rate` (C,); `shift` (C, F) ln likelihood of every finding over that on a healthy machine;
    `member` (H,) the class of every hypothesis, -1 for none. `at` (F,) the stretch of every finding,
    `mended` (C,) that in which a class was mended, NEVER where it was not."""

    first: Ints
    rate: Floats
    shift: Floats
    member: Ints
    at: Ints
    mended: Ints


class Singles(NamedTuple):
    """What a job's findings say of all singles, always there and coming and going, and the pairs they
    leave room for."""

    view: View
    evidence: Evidence
    told: tuple[Filtered, Filtered]
    pairs: PairList | None


@lru_cache(maxsize=1)
def of_singles(circuit: Circuit, job: JobState) -> Singles:
    """The singles of a job. The last are remembered: after the first measurement it is asked which
    of them arrival left worth weighing."""
    view = ask(circuit.book, circuit, job)
    evidence = gather(view, job)
    told = coarse(evidence, view.defects)
    return Singles(view, evidence, told, likely_pairs(evidence, circuit))


def weighed_with_pairs(
    circuit: Circuit, job: JobState, more: PairList | None = None
) -> tuple[Circuit, View, Belief]:
    """weigh() with the pairs the findings leave room for, and `more`: the circuit that carries them,
    its view, the belief over its hypotheses."""
    view, evidence, told, pairs = of_singles(circuit, job)
    if more is not None:
        pairs = more if pairs is None else pairs.then(more)
    if pairs is None:
        return circuit, view, finished(view, job, told, evidence)
    carried = with_pairs(circuit, pairs)
    alone = carried.within(np.append(0, circuit.cases.count + np.arange(pairs.first.size)))
    twos = ask(circuit.book, alone, job, like=view)
    whole = view.beside(twos, carried.defects)
    both = gather(twos, job).only(np.arange(1, pairs.first.size + 1))
    two = two_of(evidence, both, pairs.first, pairs.second)
    comes = comes_of(circuit.defects, pairs.first, pairs.second)
    known = Known()
    told = (
        told[0].then(forward_two(two, comes, known, sometimes=False)),
        told[1].then(forward_two(two, comes, known, sometimes=True)),
    )
    belief = finished(whole, job, told, evidence)
    carried = led(carried, belief)
    whole.defects = carried.defects
    return carried, whole, belief


def likely_pairs(evidence: Evidence, circuit: Circuit) -> PairList | None:
    """The pairs worth solving, the likeliest first; None when singles leave them no room."""
    classes, singles = _classes(evidence, circuit.defects)
    if classes is None:
        return None
    one, two = np.triu_indices(classes.rate.size, 1)
    score = np.maximum(_scores(classes.shift, one, two), _uncovered(classes, one, two))
    alone = classes.shift.sum(axis=1)
    needed = np.flatnonzero(score - np.maximum(alone[one], alone[two]) >= NEEDED)
    one, two, score = one[needed], two[needed], score[needed]
    if not one.size:
        return None
    rate = together(circuit.defects, classes.rate[one], classes.rate[two])
    common = _common(circuit, classes, one, two)
    with np.errstate(divide="ignore"):
        likely = np.log(rate + common) + score
    if log_sum(likely) < singles + np.log(ROOM):
        return None
    order = np.argsort(-likely, kind="stable")[:CARRIED]
    order = order[likely[order] > likely[order[0]] - FAINT]
    one, two, rate, common = one[order], two[order], rate[order], common[order]
    first, second = classes.first[one], classes.first[two]
    for k in np.flatnonzero(common > rate):
        first[k], second[k] = _of_one_cause(circuit, classes, int(one[k]), int(two[k]))
    many = np.diff(circuit.cases.start) > 1
    swap = many[second]
    first, second = np.where(swap, second, first), np.where(swap, first, second)
    fine = ~many[second]
    fine[fine] = apart(circuit, first[fine], second[fine])
    found = PairList(first=first, second=second, rate=rate + common, one_cause=common > rate)
    return found.only(np.flatnonzero(fine)) if fine.any() else None


def _classes(evidence: Evidence, defects: Defects) -> tuple[Classes | None, float]:
    """Singles that explain something, by repair group and by what they say of the findings; ln of
    rate times likelihood of all singles."""
    rows = [
        (at, row)
        for at, told in _rows(evidence, defects.atom_of.size)
        if np.abs(row := told - told[0]).max() > ALIKE / 2.0
    ]
    if not rows:
        return None, 0.0
    shift = np.array([row for _, row in rows])
    worth = np.maximum(shift, 0.0).sum(axis=0)
    rate = rates_of(defects)
    with np.errstate(divide="ignore"):
        singles = float(log_sum(np.log(rate) + shift.sum(axis=0)))
    some = np.flatnonzero((worth > HELPS) & (rate > 0.0))
    shift = shift[:, some]
    if some.size < 2:
        return None, singles
    number = {group.key: k for k, group in enumerate(defects.groups)}
    group = np.array([number.get(atom.group, -1) for atom in defects.atoms])[defects.atom_of[some]]
    key = np.vstack([group, np.rint(shift / ALIKE)]).astype(np.int64)
    _, of = np.unique(_mark(key), return_inverse=True)
    of = of.ravel()
    total: Floats = np.bincount(of, rate[some]).astype(np.float64)
    order = np.lexsort((-rate[some], of))
    lead = order[np.unique(of[order], return_index=True)[1]]
    at = np.array([at for at, _ in rows])
    since = shift[at >= _last_repair(evidence)]
    values = [np.log(total) + worth[some[lead]]]
    if since.size:
        # What is left once one of two is mended explains little of what was found before.
        values.append(np.log(total) + np.maximum(since, 0.0).sum(axis=0)[lead])
    share = CLASSES // len(values)
    chosen = [np.argsort(-value, kind="stable")[:share] for value in values]
    # What was mended may be the half of a pair that is gone, however little it explains by now.
    done = np.flatnonzero(_mended_at(evidence, some[lead]) < NEVER)
    chosen.append(done[np.argsort(-values[0][done], kind="stable")[:FEW]])
    chosen += _left_open(shift[:, lead], np.log(total), values[0])
    kept = np.unique(np.concatenate(chosen))
    place = np.full(total.size, -1)
    place[kept] = np.arange(kept.size)
    member = np.full(defects.atom_of.size, -1)
    member[some] = place[of]
    first = some[lead[kept]]
    classes = Classes(
        first=first,
        rate=total[kept],
        shift=shift.T[lead[kept]],
        member=member,
        at=at,
        mended=_mended_at(evidence, first),
    )
    return classes, singles


def _left_open(shift: Floats, log_rate: Floats, value: Floats) -> list[Ints]:
    """Classes that explain what the likeliest leaves open, then those that explain what the likeliest
    of these does, in turns: one fault with many codes has more explanations than are looked at, and
    none of them may leave room for the other. `shift` (F, C); `value` (C,) all each one explains."""
    found: list[Ints] = []
    for _ in range(TURNS):
        open_still = np.maximum(shift, 0.0) - np.maximum(shift[:, [int(np.argmax(value))]], 0.0)
        value = log_rate + np.maximum(open_still, 0.0).sum(axis=0)
        found.append(np.argsort(-value, kind="stable")[:FEW])
    return found


def _last_repair(evidence: Evidence) -> int:
    """The stretch that the last repair began, NEVER when there was none."""
    done = [at for at, one in enumerate(evidence.segments) if one.mended is not None]
    return done[-1] if done else NEVER


def _mended_at(evidence: Evidence, some: Ints) -> Ints:
    """(m,) the stretch in which hypotheses were mended for the first time."""
    found: Ints = np.full(some.size, NEVER)
    for at, segment in enumerate(evidence.segments):
        if segment.mended is not None:
            found[segment.mended[some] & (found == NEVER)] = at
    return found


def _rows(evidence: Evidence, count: int) -> Iterator[tuple[int, Floats]]:
    """The stretch and (H,) or (1,) ln likelihood ratio of every finding, each rule of a code list by
    itself; what was mended before it leaves a sound machine."""
    mended: Flags = np.zeros(count, bool)
    world = evidence.world

    def flat(ratio: Floats) -> Floats:
        return ratio[:, 0] if ratio.shape[1] == 1 else ratio @ world

    def now(present: Floats) -> Floats:
        shows = flat(present)
        return np.where(mended, shows[0], shows) if mended.any() else shows

    for at, segment in enumerate(evidence.segments):
        if segment.mended is not None:
            mended = mended | segment.mended
        for factor in segment.factors:
            yield at, np.log(np.maximum(now(factor.present), 1e-12))
        for told in segment.lists:
            for rule in told.rules.values():
                ratio = now(rule.present)
                if rule.past is not None:
                    ratio = ratio * flat(rule.past)
                yield at, np.log((1.0 - RULE_WRONG) * ratio + RULE_WRONG)


def _mark(columns: Ints) -> Ints:
    """(n,) one number for each column (F, n): equal where the columns are."""
    odd = np.cumprod(np.full(columns.shape[0], 6364136223846793005))
    marks: Ints = odd @ columns
    return marks


def _scores(shift: Floats, one: Ints, two: Ints) -> Floats:
    """(m,) ln likelihood of all findings under pairs of classes, as their singles bound it."""
    columns = np.ascontiguousarray(shift.T)
    _, first, often = np.unique(
        _mark(columns.view(np.int64).T), return_index=True, return_counts=True
    )
    total: Floats = np.zeros(one.size)
    _decided(columns[first], often, one, two, total)
    return total


@compiled
def _decided(columns: Floats, often: Ints, one: Ints, two: Ints, total: Floats) -> None:
    """Adds to `total` (m,) what decides each pair in every column (c, C), as often as that stands there."""
    for c in range(len(columns)):
        column, times = columns[c], float(often[c])
        for m in range(len(total)):
            a, b = column[one[m]], column[two[m]]
            total[m] += times * (a if abs(a) >= abs(b) else b)


def _uncovered(classes: Classes, one: Ints, two: Ints) -> Floats:
    """(m,) the same when what was mended hid the other from every finding before: a break, from the
    short behind it."""
    best: Floats = np.full(one.size, -np.inf)
    for when in np.unique(classes.mended[classes.mended < NEVER]):
        before, after = (
            classes.shift[:, at].sum(axis=1) for at in (classes.at < when, classes.at >= when)
        )
        for hid, other in ((one, two), (two, one)):
            here = classes.mended[hid] == when
            best[here] = np.maximum(best[here], before[hid[here]] + after[other[here]])
    return best


def _common(circuit: Circuit, classes: Classes, one: Ints, two: Ints) -> Floats:
    """(m,) rate that a common cause adds to pairs of classes."""
    defects, table = circuit.defects, one_cause(circuit)
    if not table:
        return np.zeros(one.size)
    rows = np.flatnonzero(classes.member >= 0)
    atoms, count = len(defects.atoms), classes.rate.size
    share = csr_array(
        (defects.weight[rows], (classes.member[rows], defects.atom_of[rows])),
        shape=(count, atoms),
    )
    found = (share @ _either_way(circuit, atoms) @ share.T).toarray()
    result: Floats = found[one, two]
    return result


def _either_way(circuit: Circuit, atoms: int) -> csr_array:
    """(A, A) the rates of one_cause(), either atom first; kept with the circuit."""
    kept = {} if circuit.made is None else circuit.made
    if CAUSES not in kept:
        table = one_cause(circuit)
        at = np.array(list(table))
        rate = csr_array((list(table.values()), (at[:, 0], at[:, 1])), shape=(atoms, atoms))
        kept[CAUSES] = rate + rate.T
    found: csr_array = kept[CAUSES]
    return found


def _of_one_cause(circuit: Circuit, classes: Classes, one: int, two: int) -> tuple[int, int]:
    """The likeliest members of two classes that one cause explains."""
    a, b = (np.flatnonzero(classes.member == number) for number in (one, two))
    defects, table = circuit.defects, one_cause(circuit)
    each = [
        (
            table.get((min(x, y), max(x, y)), 0.0) * defects.weight[h] * defects.weight[k],
            int(h),
            int(k),
        )
        for h, x in zip(a, defects.atom_of[a].tolist(), strict=True)
        for k, y in zip(b, defects.atom_of[b].tolist(), strict=True)
    ]
    _, h, k = max(each, key=lambda found: (found[0], -found[1], -found[2]))
    return h, k


def led(circuit: Circuit, belief: Belief) -> Circuit:
    """The same circuit, each pair under the repair to begin with: the one that is likelier for the
    minutes it takes, over all that is believed, and not mended already."""
    defects = circuit.defects
    rows = defects.twofold
    if belief.alone is None or defects.halves is None:
        return circuit
    keys = [group.key for group in defects.groups]
    number = {key: k for k, key in enumerate(keys)}
    of_atom = np.array([number.get(atom.group, 0) for atom in defects.atoms])
    of = of_atom[defects.atom_of]
    chance = belief.hypothesis.copy()
    chance[0] = chance[rows] = 0.0
    total = np.bincount(of, chance, minlength=len(keys))
    parts = of[defects.halves[rows]]
    # A half is still to mend unless only the other one is.
    still = belief.hypothesis[rows, None] * (1.0 - belief.alone[rows][:, ::-1])
    for part in (0, 1):
        np.add.at(total, parts[:, part], still[:, part])
    mend = np.array([max(group.mend_s, 1.0) for group in defects.groups])
    # Severities of one pair may have its halves either way round.
    halves = defects.atom_of[defects.halves[rows]]
    each = np.take_along_axis(still * (total / mend)[parts], halves.argsort(axis=1), axis=1)
    pair, at, first = np.unique(defects.atom_of[rows], return_index=True, return_inverse=True)
    worth = np.zeros((pair.size, 2))
    np.add.at(worth, first.ravel(), each)
    atoms = list(defects.atoms)
    for number, two, value in zip(pair, np.sort(halves[at], axis=1), worth, strict=True):
        one, other = (atoms[k] for k in (two if value[0] >= value[1] else two[::-1]))
        atoms[number] = replace(
            atoms[number],
            group=one.group,
            second=other.group,
            words=f"{one.words}, and {other.words}",
        )
    return circuit.beside(cases=circuit.cases, defects=replace(defects, atoms=tuple(atoms)))


def one_left(defects: Defects, belief: Belief) -> Belief:
    """The belief in which two faults, one of which is mended, are the single that is left."""
    rows = defects.twofold
    if belief.alone is None or defects.halves is None or not rows.size:
        return belief
    count = len(defects.atoms)
    chance, hypothesis = belief.chance.copy(), belief.hypothesis.copy()
    shows = belief.chance * belief.present
    mended = None if belief.mended is None else belief.chance * belief.mended
    share = belief.alone[rows]
    pair_of = defects.atom_of[rows]
    total = np.bincount(pair_of, belief.hypothesis[rows], minlength=count)
    part = hypothesis[rows] / np.maximum(total[pair_of], 1e-300)
    hypothesis[rows] *= 1.0 - share.sum(axis=1)
    moved = np.zeros(belief.chance.size)
    for story in (pair_of, pair_of + count - 1):
        for half in (0, 1):
            to = defects.halves[rows, half]
            x = belief.chance[story] * part * share[:, half]
            np.add.at(hypothesis, to, x)
            np.add.at(moved, story, -x)
            np.add.at(moved, defects.atom_of[to], x)
            present = x * belief.present[story]
            np.add.at(shows, story, -present)
            np.add.at(shows, defects.atom_of[to], present)
    chance += moved
    safe = np.where(chance > 1e-300, chance, 1.0)
    return replace(
        belief,
        chance=chance,
        hypothesis=hypothesis,
        present=np.clip(shows / safe, 0.0, 1.0),
        mended=None if mended is None else np.clip(mended / safe, 0.0, 1.0),
        alone=None,
    )
