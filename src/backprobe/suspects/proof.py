"""Whether a repair is proven: how likely a fault is still on the machine after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from backprobe.defects.model import Defects
from backprobe.findings.fold import MENDING
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    Condition,
    Failing,
    JobState,
    Provoked,
    Works,
)
from backprobe.suspects.looks import change_of
from backprobe.suspects.model import Belief, Proof
from backprobe.suspects.recursion import CURED_BY_REPAIR

STILL = 0.05
"""Chance of a fault still on the machine, this one or another, below which the repair holds.
Judgement."""
UNPROVEN = 2.0
"""The fault, if that repair failed, must have had so many times the chance to show since. Before
anything is tried a repair of the right place fails in 3 of 100. Judgement."""
LIKELIER = 0.5
"""A repair is spoken of when it ended the fault with more than this chance."""
MOST = 6


def proof_of(
    defects: Defects, belief: Belief, job: JobState, mended: Mapping[str, float]
) -> Proof | None:
    """How far the likeliest repair is proven; None while nothing likely is mended, or it was not
    said since that it is gone. `mended`: chance by group that its repair took hold."""
    if job.failing != "gone":
        return None
    proof = proof_so_far(defects, belief, job, mended)
    if proof is None or not proof.visits or mended[proof.group] <= LIKELIER:
        return None
    return proof


def proof_so_far(
    defects: Defects, belief: Belief, job: JobState, mended: Mapping[str, float]
) -> Proof | None:
    """The same however unlikely it is, and where nobody has looked since; None without a repair."""
    if not mended:
        return None
    group = max(mended, key=lambda key: (mended[key], key))
    at = _repaired_at(defects, job, group)
    if at < 0:
        return None
    before, since = job.findings[:at], job.findings[at + 1 :]
    gone = [f for f in since if isinstance(f, Failing) and f.trusted and f.answer == "gone"]
    visits = {f.visit for f in gone}
    healthy = float(belief.chance[belief.atom == 0].sum())
    still = max(0.0, 1.0 - healthy - sum(mended.values()))
    words = next((one.words for one in defects.groups if one.key == group), group)
    conditions = tuple(sorted({f.condition for f in gone if f.condition}))
    found = _showed(before)
    return Proof(
        group=group,
        mended=words,
        holds=still <= STILL and tried(defects, belief, group) >= UNPROVEN,
        still=still,
        before=found,
        visits=len(visits),
        conditions=conditions,
        awaited=awaited(before),
        words=_words(words, found, gone),
    )


def tried(defects: Defects, belief: Belief, group: str) -> float:
    """How much likelier the findings since are with the group mended than with its repair failed:
    1 when nothing was tried that would have shown it."""
    if belief.mended is None:
        return 1.0
    inside = [n for n, a in enumerate(belief.atom) if a > 0 and defects.atoms[a].group == group]
    total = float(belief.chance[inside].sum())
    held = float((belief.chance * belief.mended)[inside].sum())
    return held * (1.0 - CURED_BY_REPAIR) / max((total - held) * CURED_BY_REPAIR, 1e-300)


def _repaired_at(defects: Defects, job: JobState, group: str) -> int:
    """Place of the last act that mended something of a group; -1 when there is none."""
    of_group = np.array([atom.group == group for atom in defects.atoms])[defects.atom_of]
    for number in range(len(job.findings) - 1, -1, -1):
        act = job.findings[number]
        if isinstance(act, Act) and act.act in MENDING:
            change = change_of(defects, act)
            if change is not None and bool((change.mended & of_group).any()):
                return number
    return -1


def _showed(findings: Sequence[AnyFinding]) -> tuple[str, ...]:
    """What showed the fault, each once, codes first."""
    codes: dict[str, None] = {}
    dead: dict[str, None] = {}
    for finding in findings:
        if not finding.trusted:
            continue
        if isinstance(finding, CodesFound):
            active = [c for c in (*finding.active, *finding.stored) if c not in finding.by_test]
            codes |= dict.fromkeys(f"{finding.unit} {code}" for code in active)
        elif isinstance(finding, Works) and not finding.works:
            dead[f"{finding.target} dead"] = None
    return (*codes, *dead)


def awaited(findings: Sequence[AnyFinding]) -> Condition:
    """The condition the fault last showed in, or was said to fail in."""
    told: Condition = ""
    for finding in findings:
        match finding:
            case Failing(answer="yes" | "only when", trusted=True, condition=condition):
                told = condition or told
            case Provoked(trusted=True, condition=condition) if finding.shown_at:
                told = condition or told
            case _:
                pass
    return told


def _words(mended: str, before: Sequence[str], gone: Sequence[Failing]) -> str:
    more = f" and {len(before) - MOST} more" if len(before) > MOST else ""
    found = f"{', '.join(before[:MOST])}{more}" if before else "it was failing"
    visits = {f.visit: f.condition for f in gone}
    how = f"{len(visits)} visit{'' if len(visits) == 1 else 's'}"
    tried = {c: list(visits.values()).count(c) for c in sorted(set(visits.values()) - {""})}
    where = f" ({', '.join(f'{n} {c}' for c, n in tried.items())})" if tried else ""
    return f"Before {mended} was mended: {found}. Since then: gone in {how}{where}."
