"""Close looks, "is it failing right now?", and acts that may end a defect."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import replace
from math import log

import numpy as np

from backprobe.book.situations import Situation
from backprobe.defects.atoms import of_atoms
from backprobe.defects.model import RUBBED, TO_GROUND, Atom, Defects, Flags, Floats
from backprobe.findings.fold import MENDING
from backprobe.findings.model import Act, Bet, Condition, Failing, Looked, Provoked
from backprobe.suspects.factor import RHO, Change, Factor
from backprobe.suspects.view import View

OTHER_DAMAGE = 0.03
"""Chance that a close look finds damage that is not the defect. Judgement."""
FAILING_TOLD = {"yes": (0.95, 0.03), "gone": (0.05, 0.95), "only when": (0.1, 0.9)}
"""Chance of each answer to "failing right now?" while the defect shows, and while not. Judgement."""
DRIFT = 0.03
"""Chance that a fault that is gone comes back by itself while one watches. Judgement."""
BET = 3.0
"""How many times likelier a suspect is for the technician's own bet on it. Judgement: enough to come
to the front of its equals, too little to stand against one good reading."""
LOOSE = ("plug off", "half mated")
"""Kinds of atoms that end when the plug is pushed home, and are felt when it is pulled."""
LOOM_SIDE = ("bad contact", "wet plug")
"""Kinds of atoms that stay with the loom when the part behind the plug is replaced."""
ONLY_WHEN_STEADY = 0.2
"""Further factor on "only when ..." for a defect that is always there, or none. Judgement."""


def looked_factor(view: View, looked: Looked, told_of: Set[str] = frozenset()) -> Factor:
    """What a close look says: the chance that the defect sits there and shows to the eye. What sits
    in one of `told_of`, groups looked at by themselves, is told there."""
    ratio = np.ones((1, 1))
    look = (1.0 - OTHER_DAMAGE) / OTHER_DAMAGE if looked.damage else -1.0
    if not view.asking:
        which, at = np.unique(view.defects.atom_of, return_inverse=True)
        atoms = [view.defects.atoms[number] for number in which]
        elsewhere = told_of - {looked.target}
        shown = np.array(
            [
                0.0 if atom.group in elsewhere else share_at(atom, looked.target) * atom.visible
                for atom in atoms
            ]
        )
        ratio = (1.0 + look * shown)[at][:, None]
    background = OTHER_DAMAGE if looked.damage else 1.0 - OTHER_DAMAGE
    return Factor(
        finding=looked.id, present=ratio, gone=ratio, background=log(background), look=look
    )


def looked_at_both(whole: Factor, one: Factor, other: Factor) -> Factor:
    """What a finding says of two faults at once; in a look each shows where it sits itself, and what
    brings one of them is enough."""
    if whole.either:
        ratio = np.maximum(one.present, other.present)
        return replace(whole, present=ratio, gone=ratio)
    if not whole.look:
        return whole
    hidden = [1.0 - (factor.present - 1.0) / whole.look for factor in (one, other)]
    ratio = 1.0 + whole.look * (1.0 - hidden[0] * hidden[1])
    return replace(whole, present=ratio, gone=ratio)


def pulled_factor(view: View, finding: str, parts: Set[str], told_of: Set[str]) -> Factor:
    """What it says that parts were unplugged and nothing was remarked: nobody pulls a plug that is
    off or half home without noticing, as often as a look shows it (common practice, no source).
    `told_of`: groups of which more is known."""
    ratio = np.ones((1, 1))
    if not view.asking:
        atoms = view.defects.atoms
        loose = [
            a.kind in LOOSE and a.group not in told_of and not parts.isdisjoint(a.owners)
            for a in atoms
        ]
        seen = np.where(loose, [a.visible for a in atoms], 0.0)
        ratio = (1.0 - seen)[view.defects.atom_of][:, None]
    return Factor(finding=finding, present=ratio, gone=ratio, background=0.0)


def share_at(atom: Atom, target: str) -> float:
    """Share of the atom that sits at a group, part, plug, section or spot."""
    if target == atom.group:
        return 1.0
    share = sum(place.share for place in atom.places if target in (place.section, place.words))
    if atom.places and share:
        return share
    return 1.0 if target in atom.owners else 0.0


def bet_factor(view: View, bet: Bet) -> Factor:
    """The technician's own bet on a group: BET to one, for two faults of which it is one as well."""
    ratio = np.ones((1, 1))
    if not view.asking:
        on = np.array([bet.target in (a.group, a.second) for a in view.defects.atoms])
        on[0] = False
        ratio = np.where(on, BET, 1.0)[view.defects.atom_of][:, None]
    return Factor(finding=bet.id, present=ratio, gone=ratio, background=0.0, outside=1.0)


def failing_factor(view: View, failing: Failing, situation: Situation) -> Factor:
    """What "yes", "gone" and "only when ..." say about the present state. Half is no opinion.

    A healthy machine is not failing whichever state it is asked in. A fault that is gone may have
    left a blown fuse, and the machine fails as if it showed.
    """
    shows, shows_not = FAILING_TOLD[failing.answer]
    present = np.full((view.count, 1), shows / 0.5)
    gone = np.full((view.count, 1), shows_not / 0.5)
    if failing.answer != "only when":
        gone[view.left_behind(situation)] = shows / 0.5
        present[0] = gone[0]
    return Factor(finding=failing.id, present=present, gone=gone, background=log(0.5), outside=1.0)


def provoked_factor(view: View, provoked: Provoked) -> Factor:
    """What moving, wetting or warming places one after the other says.

    Each place either brings the fault back or does not; the ratio is the chance of what happened
    under a defect over that on a healthy machine.
    """
    present, gone = np.ones(view.count), np.ones(view.count)
    background = 1.0
    for place in provoked.places:
        showing, back, by_itself = comes_back(view, place, provoked.condition, provoked.places)
        if place == provoked.shown_at:
            present, gone, background = present * showing, gone * back, background * by_itself
            break
        present, gone = present * (1.0 - showing), gone * (1.0 - back)
        background *= 1.0 - by_itself
    return Factor(
        finding=provoked.id,
        present=(present / background)[:, None],
        gone=(gone / background)[:, None],
        background=log(background),
    )


def comes_back(
    view: View, place: str, condition: Condition, places: Sequence[str]
) -> tuple[Floats, Floats, float]:
    """(H,) chance that the fault is seen at a place, when it was showing anyway and when it was
    not, and the chance of being told so on a healthy machine."""
    seen, mistaken = (one / len(places) for one in FAILING_TOLD["yes"])
    if view.asking:
        return np.full(1, seen), np.full(1, mistaken), mistaken
    here = of_atoms(view.defects, sits_at, place)
    factor = of_atoms(view.defects, getattr, condition) if condition else np.ones(here.size)
    odds = np.array(RHO)[:, None] / (1.0 - np.array(RHO)[:, None]) * factor
    shows = np.where(here, (odds / (1.0 + odds)).mean(axis=0), DRIFT / len(places))
    shows[0] = 0.0
    back = shows[view.defects.atom_of]
    showing = np.full(view.count, seen)
    showing[0] = mistaken
    return showing, back * FAILING_TOLD["yes"][0] + (1.0 - back) * mistaken, mistaken


def sits_at(atom: Atom, place: str) -> bool:
    """Whether a defect sits on a part, wire, section or spot."""
    return place in atom.owners or any(place in (p.section, p.words) for p in atom.places)


def change_of(defects: Defects, act: Act) -> Change | None:
    """What an act does to the defects; None for acts that leave them alone."""
    if act.act in ("fitted", "codes cleared"):
        return None
    mending = act.act in MENDING
    # Who fits a new part looks at the pins: no bad one is only moved out of sight.
    touched = np.array(
        [
            _touches(atom, act.target) and not (mending and _behind(atom, act.target))
            for atom in defects.atoms
        ]
    )
    mended = np.zeros(len(defects.atoms), bool)
    if mending:
        mended = of_atoms(defects, mends, act.target) | _seen_beside(defects, act.target)
    touched[0] = mended[0] = False
    return Change(
        finding=act.id,
        mended=mended[defects.atom_of],
        disturbed=(touched & ~mended)[defects.atom_of],
    )


def disturbed_by(defects: Defects, names: Sequence[str]) -> Flags:
    """(H,) hypotheses whose atom sits on one of the parts or plugs named."""
    wanted = set(names)
    touched = np.array([bool(wanted.intersection(atom.owners)) for atom in defects.atoms])
    touched[0] = False
    return touched[defects.atom_of]


def _touches(atom: Atom, target: str) -> bool:
    return target == atom.group or target in atom.owners


def _seen_beside(defects: Defects, target: str) -> Flags:
    """(A,) rubbed places that are found and mended with a group: whoever mends a wire parts it
    from the neighbour it touched; whoever opens a section because of rubbed wires finds every
    bare place in it (common practice, no source)."""
    alone = {a.owners[0] for a in defects.atoms if a.group == target and a.kind == TO_GROUND}
    opened = {a.owners[-1] for a in defects.atoms if a.group == target and a.kind == RUBBED}
    return np.array(
        [
            (a.kind == RUBBED and bool(alone.intersection(a.owners)))
            or (a.kind in (RUBBED, TO_GROUND) and a.owners[-1] in opened)
            for a in defects.atoms
        ]
    )


def mends(atom: Atom, target: str) -> bool:
    """A repair names a group; a new part ends what sits on that part alone. Its plug is pulled and
    pushed home on the way; the pins and the water on the loom's side stay (common practice)."""
    if target == atom.group:
        return True
    return atom.owners == (target,) and not _behind(atom, target)


def _behind(atom: Atom, target: str) -> bool:
    """Whether an atom sits on the loom's side of the plug of a part that is replaced."""
    return target != atom.group and atom.owners == (target,) and atom.kind in LOOM_SIDE
