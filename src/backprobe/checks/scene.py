"""Where the suspicion lies and which situations are worth measuring in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from backprobe.book.model import End, Function
from backprobe.book.situations import KEYS, Key, Lead, Past, Situation, one_of
from backprobe.checks.layout import Layout, Touch
from backprobe.defects.model import Atom, Defects, Floats, RepairGroup
from backprobe.findings.model import AnyFinding, CodesFound, JobState, Works
from backprobe.suspects.model import Belief
from backprobe.suspects.visits import stretches

WORTH_A_THOUGHT = 0.004
"""Groups below this chance send nobody anywhere."""
GROUPS = 24
NODES = 40
LIVE = 5
REACH = 2
AWAY = 0.5
"""Share of the suspicion that does not show from which a fault counts as away, where nobody said. Judgement."""


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What the makers of checks share. `groups`: chance by group key, likeliest first; `atoms`:
    chance by atom number; `near`: touches worth a probe, most suspected neighbourhood first;
    `live`: situations to measure in; `past`: what every one of them comes after, `renewed`: fuses
    fitted new since; `stands`: the engine does not start, so nothing can be tried with it running;
    `away`: share of what is suspected that does not show now."""

    layout: Layout
    job: JobState
    defects: Defects
    groups: Mapping[str, float]
    atoms: Floats
    owners: Mapping[str, float] = field(repr=False)
    near: tuple[Touch, ...] = field(repr=False)
    live: tuple[Situation, ...]
    past: Situation | None
    renewed: frozenset[str]
    showing: Past | None
    stands: bool
    away: float = 0.0

    @property
    def waits(self) -> bool:
        """Whether the fault does not show, as was said, or as is likely since something was renewed:
        a new fuse that holds."""
        job = self.job
        fresh = job.failing == "unknown" and bool(job.repaired) and self.away > AWAY
        return job.failing in ("gone", "only when") or fresh

    @cached_property
    def suspected(self) -> tuple[tuple[Atom, float], ...]:
        """Atoms with a chance, and that chance, in their order."""
        return tuple((self.defects.atoms[n], float(self.atoms[n])) for n in suspected(self.atoms))

    def situation(
        self,
        key: Key,
        on: frozenset[str] = frozenset(),
        unplugged: frozenset[str] = frozenset(),
        pulled: frozenset[str] = frozenset(),
        *,
        battery_off: bool = False,
        fitted: tuple[Lead, ...] = (),
    ) -> Situation:
        """A situation that comes after all the machine went through."""
        return one_of(
            Situation(
                key=key,
                on=on,
                unplugged=unplugged,
                pulled=pulled,
                battery_off=battery_off,
                fitted=fitted,
                renewed=self.renewed,
                after=self.past,
                showing=self.showing,
            )
        )


def scene_of(layout: Layout, job: JobState, defects: Defects, belief: Belief) -> Scene:
    """The scene of a job as it is believed to stand."""
    atoms = atom_chances(defects, belief)
    groups = group_chances(defects, atoms)
    owners = _owners(defects, atoms, groups)
    before = history(layout, job)
    near = _near(layout, owners)
    return Scene(
        layout=layout,
        job=job,
        defects=defects,
        groups=groups,
        atoms=atoms,
        owners=owners,
        near=near,
        live=tuple(situation.coming_after(before) for situation in _live(layout, job, near)),
        stands=_stands(layout, job),
        past=before.after,
        renewed=before.renewed,
        showing=before.showing,
        away=_away(belief),
    )


def _away(belief: Belief) -> float:
    """Share of the chance of all defects that does not show."""
    inside = belief.atom > 0
    total = float(belief.chance[inside].sum())
    shows = float((belief.chance * belief.present)[inside].sum())
    return 1.0 - shows / total if total > 0.0 else 0.0


def opened_for(scene: Scene, group: RepairGroup) -> RepairGroup:
    """The group with the loom section to be opened for it: the one where most of its chance sits
    in this job. Groups that are got at elsewhere stay as they are."""
    sections = scene.layout.book.sections
    if not group.access or group.access[0] not in sections:
        return group
    weight: dict[str, float] = {}
    for atom, chance in scene.suspected:
        for place in atom.places if atom.group == group.key else ():
            if place.section in sections:
                weight[place.section] = weight.get(place.section, 0.0) + chance * place.share
    if not any(weight.values()):
        return group
    likeliest = max(weight, key=lambda section: (weight[section], section == group.access[0]))
    return replace(group, access=(likeliest, *group.access[1:]))


def history(layout: Layout, job: JobState) -> Situation:
    """A situation that comes after all that the machine lived through before this visit, and since a fuse
    was fitted new in it. What it blew stays blown."""
    cut = stretches(layout.book, job)
    if cut:
        return cut[-1].next
    past: Situation | None = None
    for situation in job.lived:
        past = one_of(replace(situation, after=past))
    return Situation(after=past)


def atom_chances(defects: Defects, belief: Belief) -> Floats:
    """(A,) chance of every atom, its stories summed."""
    inside = belief.atom >= 0
    total: Floats = np.zeros(len(defects.atoms))
    np.add.at(total, belief.atom[inside], belief.chance[inside])
    return total


def suspected(atoms: Floats, above: float = 0.0) -> list[int]:
    """Numbers of the atoms with a chance, in their order; the first, healthy, is none."""
    return [int(number) for number in np.flatnonzero(atoms > above) if number]


def group_chances(defects: Defects, atoms: Floats) -> dict[str, float]:
    """Chance by repair group, likeliest first, those worth a thought."""
    total: dict[str, float] = {}
    for number in suspected(atoms):
        group = defects.atoms[number].group
        total[group] = total.get(group, 0.0) + float(atoms[number])
    ranked = sorted(total.items(), key=lambda pair: (-pair[1], pair[0]))
    return {group: chance for group, chance in ranked[:GROUPS] if chance >= WORTH_A_THOUGHT}


def _owners(defects: Defects, atoms: Floats, groups: Mapping[str, float]) -> dict[str, float]:
    found: dict[str, float] = {}
    for number in suspected(atoms, 1e-4):
        atom = defects.atoms[number]
        if atom.group in groups:
            for owner in atom.owners:
                found[owner] = found.get(owner, 0.0) + float(atoms[number])
    return dict(sorted(found.items(), key=lambda pair: (-pair[1], pair[0])))


def _near(layout: Layout, owners: Mapping[str, float]) -> tuple[Touch, ...]:
    """Touches by how much suspicion lies within a few wires of them."""
    weight: dict[End, float] = {}
    for owner, chance in list(owners.items())[:60]:
        for end, far in layout.distance(layout.owner_ends(owner), REACH).items():
            weight[end] = weight.get(end, 0.0) + chance / (1.0 + far)
    ranked = sorted(weight, key=lambda end: (-weight[end], layout.order[end]))
    nodes: dict[str, Touch] = {}
    for end in ranked:
        touch = layout.ends[end]
        nodes.setdefault(touch.node, touch)
    return tuple(nodes.values())[:NODES]


def _live(layout: Layout, job: JobState, near: tuple[Touch, ...]) -> tuple[Situation, ...]:
    """Situations with the key on worth measuring in, the one the complaint shows in first."""
    no_start = _stands(layout, job)
    wanted: dict[Situation, None] = {}

    def want(situation: Situation) -> None:
        bare = replace(situation.bare(), fitted=(), battery_off=False, renewed=frozenset())
        if bare.key == "off" or (no_start and bare.key == "run") or bare.on & layout.moving:
            return
        if bare.unplugged and bare.key == "run":
            return
        wanted.setdefault(bare)

    if job.now.unplugged or job.now.pulled:
        want(job.now if job.now.key != "off" else replace(job.now, key="on"))
    for finding in reversed(job.findings):
        if _fails(finding):
            want(replace(finding.situation, unplugged=frozenset(), pulled=frozenset()))
            break
    want(Situation(key="on"))
    parts = {touch.part: number for number, touch in reversed(list(enumerate(near)))}
    functions = sorted(
        (min((parts[n] for n in (*f.needs, *f.commands) if n in parts), default=len(near)), f.name)
        for f in layout.book.functions.values()
        if not f.moves
    )
    for place, name in functions:
        function = layout.book.functions[name]
        if place < len(near):
            want(Situation(key=key_of(function), on=frozenset(function.commands)))
    if any((kind := layout.kind(part)) and "starter" in kind.name for part in parts) or no_start:
        want(Situation(key="crank"))
    want(Situation(key="run"))
    for part in parts:
        kind = layout.kind(part)
        if kind is not None and kind.operated and kind.load:
            want(Situation(key="on", on=frozenset({part})))
    return tuple(wanted)[:LIVE]


def _fails(finding: AnyFinding) -> bool:
    """Whether a finding shows the complaint: a code, or something that does not work."""
    if isinstance(finding, CodesFound):
        return bool(finding.active or finding.stored)
    return isinstance(finding, Works) and not finding.works


def _stands(layout: Layout, job: JobState) -> bool:
    """Whether the engine does not start: a function tried while cranking was found dead, and nothing
    since that needs as much, or a running engine, was found to work. That it cranks is no start."""
    dead: set[str] = set()
    for found in job.findings:
        if not isinstance(found, Works) or not found.trusted:
            continue
        function = layout.book.functions.get(found.target)
        if function is not None and function.key == "crank" and not found.works:
            dead.add(found.target)
        elif found.works and found.situation.key == "run":
            dead.clear()
        elif found.works and function is not None and function.key == "crank":
            dead -= {n for n in dead if set(layout.book.functions[n].needs) <= set(function.needs)}
    return bool(dead)


def key_of(function: Function) -> Key:
    """The key position a function is tried in."""
    return function.key if function.key in KEYS else "on"


def _key_of(layout: Layout, function: str) -> str:
    known = layout.book.functions.get(function)
    return known.key if known else ""
