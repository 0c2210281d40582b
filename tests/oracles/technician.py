"""A technician who follows the first proposal on a machine with a hidden defect.

He reads what the circuit really shows, with the noise of his meter, and sees damage as often as
it is visible. He knows nothing of chances. Who solves the machine is behind `Shows`: the engine
itself here, an independent way in oracles.solved_apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from backprobe.book.model import Book, CodeRule, Test
from backprobe.book.situations import Situation
from backprobe.checks.model import Check
from backprobe.checks.outcomes import FOUND, NOTHING, WORDS, named_in, places_of
from backprobe.defects.model import Atom, Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.model import AnyFinding, CodesFound, JobState
from backprobe.kinds import KINDS
from backprobe.shop.answer import Answer, answered
from backprobe.shop.job import Job

NOISE_V, NOISE_SHARE = 0.01, 0.005
BEEPS_BELOW = 30.0
LOOSE = ("plug off", "half mated")
BUS_OHM = (20.0, 200.0)
BUS_HELD_OHM, BUS_COMMON_V = 15.0, 7.0


class Shows(Protocol):
    """A machine with its defects, solved. `gone`: they are not showing."""

    def read(self, situation: Situation, probe: Probe, *, gone: bool) -> float:
        """SI, without noise. KeyError names an unknown place."""
        ...

    def word(self, situation: Situation, part: str, state: str, *, gone: bool) -> str:
        """The word of a part's state."""
        ...

    def renew(self, part: str) -> None:
        """A new fuse (or what else stays as it was left) is fitted."""
        ...


class Alone:
    """One hypothesis of a circuit, solved by the engine; situations bring their own history."""

    def __init__(self, circuit: Circuit, truth: int) -> None:
        self._circuit = circuit.within(np.array([0, truth], np.int64))

    def read(self, situation: Situation, probe: Probe, *, gone: bool) -> float:
        return float(self._circuit.seen(situation, [probe], gone=gone).mean[1, 0])

    def word(self, situation: Situation, part: str, state: str, *, gone: bool) -> str:
        number = self._circuit.state(situation, part, state, gone=gone)[1]
        net = self._circuit.net
        return net.states[net.state[(part, state)]].words[number]

    def renew(self, part: str) -> None:
        """Nothing: a situation says which fuses are new."""


HANDHELD: Mapping[str, tuple[float, float]] = {
    "volts": (NOISE_V, NOISE_SHARE),
    "ohms": (0.1, 0.01),
    "amps": (0.05, NOISE_SHARE),
    "millivolts": (1e-4, NOISE_SHARE),
}
"""Standard deviations of a good handheld meter, floor and share, by class of check. From memory."""


@dataclass(slots=True)
class Hidden:
    """A machine with defects in it. `gone`: they are not showing, unless provoked at `places`
    in `condition`; `meters`: how his meters err, as HANDHELD."""

    book: Book
    atoms: tuple[Atom, ...]
    shows: Shows
    gone: bool = False
    places: tuple[str, ...] = ()
    condition: str = ""
    seed: int = 0
    meters: Mapping[str, tuple[float, float]] = field(default_factory=lambda: HANDHELD)
    _rng: np.random.Generator = field(init=False)
    _seen_damage: dict[str, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._rng = np.random.default_rng(self.seed)

    @property
    def group(self) -> str:
        return self.atoms[0].group

    def mended_by(self, target: str) -> bool:
        """Whether opening this mends it. Two wires rubbed against each other are found by whoever
        mends either of them; and a wire rubbed bare by whoever opens its section because wires
        are rubbed there."""
        return any(mends(target, atom) for atom in self.atoms)

    def read(self, situation: Situation, probe: Probe) -> float:
        return self.shows.read(situation, probe, gone=self.gone)

    def word(self, situation: Situation, part: str, state: str) -> str:
        return self.shows.word(situation, part, state, gone=self.gone)

    def powered(self, unit: str, situation: Situation) -> bool:
        return self.word(situation, unit, "power") == "on"

    def active(self, rule: CodeRule, situation: Situation) -> bool:
        if situation.key not in rule.when or not set(rule.commands) <= situation.on:
            return False
        if not self.powered(rule.unit, situation):
            return False
        return all(self._holds(rule.unit, test, situation) for test in rule.tests)

    def codes(self, situation: Situation) -> dict[str, tuple[str, ...]]:
        found: dict[str, list[str]] = {}
        for rule in self.book.codes.values():
            found.setdefault(rule.unit, [])
            if self.active(rule, situation):
                found[rule.unit].append(rule.code)
        return {unit: tuple(codes) for unit, codes in found.items()}

    def _holds(self, unit: str, test: Test, situation: Situation) -> bool:
        if test.kind == "hears":
            return not self._hears(unit, test.other, situation)
        probe = {
            "amps": lambda: Probe(kind="amps", p=f"{test.pin}/drive", n=""),
            "volts": lambda: Probe(kind="inner", p=f"{unit}:{test.pin.name}", n=f"{unit}:ground"),
            "rail": lambda: Probe(kind="inner", p=f"{unit}:group {test.other}", n=f"{unit}:ground"),
            "supply": lambda: Probe(kind="inner", p=f"{unit}:supply", n=f"{unit}:ground"),
        }[test.kind]()
        amount = self.read(situation, probe)
        amount = abs(amount) if test.kind == "amps" else amount
        return (test.low is not None and amount < test.low) or (
            test.high is not None and amount > test.high
        )

    def _hears(self, unit: str, other: str, situation: Situation) -> bool:
        if not (self.powered(unit, situation) and self.powered(other, situation)):
            return False
        pair = {}
        for name in (unit, other):
            for pin, role in self.book.roles.items():
                if pin.part == name and role.role in ("CAN high", "CAN low"):
                    pair[(name, role.role)] = f"{name}:{pin.name}"
        ohm = self.read(
            situation,
            Probe(
                kind="transfer",
                p=pair[(unit, "CAN high")],
                n=pair[(unit, "CAN low")],
                p2=pair[(other, "CAN high")],
                n2=pair[(other, "CAN low")],
            ),
        )
        high, ground = pair[(other, "CAN high")], f"{other}:ground"
        driven = self.read(situation, Probe(kind="ohms", p=high, n=ground)) > BUS_HELD_OHM
        common = self.read(situation, Probe(kind="inner", p=high, n=ground)) < BUS_COMMON_V
        return BUS_OHM[0] < ohm < BUS_OHM[1] and driven and common

    def works(self, target: str, situation: Situation) -> bool:
        function = self.book.functions.get(target)
        if function is not None:
            return all(self._need(need, situation) for need in function.needs)
        return self._need(target, situation)

    def _need(self, need: str, situation: Situation) -> bool:
        unit, _, code = need.rpartition(" ")
        if (unit, code) in self.book.codes:
            return not self.active(self.book.codes[(unit, code)], situation)
        kind = KINDS[self.book.parts[need].kind]
        if any(state.name == "power" for state in kind.states):
            return self.powered(need, situation)
        return self.read(situation, Probe(kind="share", p=need)) ** 2 > 0.5

    def looks_damaged(self, place: str) -> bool:
        return any(self._damaged(atom, place) for atom in self.atoms)

    def remarked(self, check: Check) -> tuple[str, ...]:
        """Groups of the plugs a check has unplugged that were seen to be off or not home: nobody
        pulls a plug without noticing, as often as a look would show it."""
        return tuple(
            atom.group
            for atom in self.atoms
            if atom.kind in LOOSE
            and set(atom.owners) & check.situation.unplugged
            and self._damaged(atom, atom.group)
        )

    def _damaged(self, atom: Atom, place: str) -> bool:
        here = place in (*atom.owners, atom.group) or (self.places and place in self.places)
        here = here or (
            not self.places and any(place in (p.section, p.words) for p in atom.places[:1])
        )
        if not here:
            return False
        if atom.id not in self._seen_damage:
            self._seen_damage[atom.id] = bool(self._rng.random() < atom.visible)
        return self._seen_damage[atom.id]

    def answer(self, check: Check) -> Answer:
        if check.does in FOUND:
            return Answer(word=self._walk(check))
        if check.does == "repair":
            return Answer(word="passes" if self.mended_by(check.target) else "fails")
        if check.does == "display":
            return Answer(value=self._display(check))
        if check.does in WORDS:
            yes, no = WORDS[check.does]
            return Answer(word=yes if self._yes(check) else no, codes=self._all_codes(check))
        value = self.read(check.situation, check.probe)
        floor, share = self.meters.get(check.does, self.meters["volts"])
        if check.does == "ohms":
            noisy = abs(value) * (1.0 + share * self._rng.normal())
            noisy += floor * abs(self._rng.normal())
            return Answer(value=np.inf if noisy > 3e7 else noisy)
        noise = floor + share * abs(value)
        return Answer(value=value + noise * float(self._rng.normal()))

    def _walk(self, check: Check) -> str:
        for place in places_of(check):
            if check.does == "sweep":
                shows = not self.works(place, _tried(self.book, place))
            elif check.does == "look":
                shows = self.looks_damaged(place)
            elif check.does == "beep":
                assert check.probe is not None
                probe = Probe(kind="ohms", p=check.probe.p, n=place)
                shows = abs(self.read(check.situation, probe)) < BEEPS_BELOW
            else:
                shows = place in self._sits() and check.condition in ("moved", self.condition)
                shows = shows and self.gone and bool(self.condition)
                shows = shows and (check.condition == self.condition or self._rng.random() < 0.5)
            if shows:
                self.gone = self.gone and check.does != "provoke"  # wet, it goes on showing
                whose = next((name for name in named_in(check) if self._is(name, place)), place)
                return f"{FOUND[check.does]} {whose}"
        return NOTHING[check.does]

    def _is(self, group: str, place: str) -> bool:
        """Whether it is this wire that is seen to be damaged at a place."""
        return any(mends(group, atom) and self._damaged(atom, place) for atom in self.atoms)

    def _sits(self) -> set[str]:
        return set(self.places) or {
            name for a in self.atoms for name in (*a.owners, *(p.section for p in a.places))
        }

    def _display(self, check: Check) -> float:
        value = next(d for d in self.book.displays.values() if f"{d.unit} {d.name}" == check.target)
        volts = self.read(check.situation, check.probe) + NOISE_V * float(self._rng.normal())
        return value.low + (volts - value.low_v) / (value.high_v - value.low_v) * (
            value.high - value.low
        )

    def _all_codes(self, check: Check) -> tuple[str, ...] | None:
        """Who looks for one code sees the whole list, where the unit answers at all."""
        if check.does not in ("codes", "unplug"):
            return None
        unit = (check.setting if check.does == "unplug" else check.target).rpartition(" ")[0]
        return self.codes(check.situation)[unit] if self.powered(unit, check.situation) else None

    def _yes(self, check: Check) -> bool:
        situation = check.situation
        if check.does == "works":
            return self.works(check.target, situation)
        if check.does == "fuse":
            worn = any(a.owners == (check.target,) and a.kind == "open" for a in self.atoms)
            return worn or self.word(situation, check.target, "element") != "good"
        if check.does == "new fuse":
            self.shows.renew(check.target)
            return self.word(situation.bare(), check.target, "element") != "good"
        if check.does in ("codes", "unplug"):
            named = check.setting if check.does == "unplug" else check.target
            unit, _, code = named.rpartition(" ")
            return self.active(self.book.codes[(unit, code)], situation)
        assert check.does == "swap", check.does
        return self.mended_by(check.target) or self.works(check.setting, situation)


class Machine(Hidden):
    """A machine with one hypothesis true, solved by the engine."""

    def __init__(
        self,
        circuit: Circuit,
        truth: int,
        *,
        gone: bool = False,
        places: tuple[str, ...] = (),
        condition: str = "",
        seed: int = 0,
    ) -> None:
        super().__init__(
            book=circuit.book,
            atoms=(circuit.defects.atoms[circuit.defects.atom_of[truth]],),
            shows=Alone(circuit, truth),
            gone=gone,
            places=places,
            condition=condition,
            seed=seed,
        )


def mends(target: str, atom: Atom) -> bool:
    """Whether opening a group mends a defect (see Hidden.mended_by). A wire is known by its printed
    name, wherever a wrong book says it runs. Whoever replaces a part pulls its plug and pushes it
    home, which mends one that is off or half mated and leaves bad pins and water as they were."""
    either = atom.kind == "wire to wire" and any(
        target.startswith(f"{owner} (") for owner in atom.owners
    )
    bare = atom.kind == "to ground" and target == f"rubbed wires in section {atom.owners[-1]}"
    name = target.partition(" (")[0]
    same = name.startswith("wire ") and name == atom.group.partition(" (")[0]
    return target == atom.group or same or either or bare or pushed_home(target, atom)


def pushed_home(target: str, atom: Atom) -> bool:
    """Whether a defect ends only because the plug is pushed home with a new part behind it."""
    return atom.kind in LOOSE and atom.owners == (target,) and target != atom.group


def _tried(book: Book, name: str) -> Situation:
    """The situation a function is tried in."""
    function = book.functions[name]
    return Situation(key=function.key, on=frozenset(function.commands))


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked:
    """One job followed to its end: checks done, seconds of the tool's clock, whether the right
    thing was mended or led when the checks ran out, parts mended in vain, what was done, and the
    leading groups at the end."""

    steps: int
    seconds: float
    right: bool
    in_vain: int
    done: tuple[str, ...]
    leading: tuple[tuple[str, float], ...]


def follow(job: Job, machine: Hidden, *, most: int = 8, repairs: int = 3) -> Walked:
    """Follow the first proposal until the right thing is mended, the end of the search is
    proposed, `repairs` wrong repairs are done, or a check is proposed after `most` of them."""
    seconds, done, vain, right = 0.0, [], 0, False
    while vain < repairs:
        first = job.proposal.next[0] if job.proposal.next else None
        if first is None or first.check.does == "stop":
            break
        if first.check.does != "repair" and len(done) - vain >= most:
            break
        if first.check.does == "repair" and machine.mended_by(first.check.target):
            right = True
            break
        reply = machine.answer(first.check)
        seconds += first.seconds
        vain += first.check.does == "repair"
        done.append(f"{first.check.words} -> {reply}")
        job = job.note(*answered(first.check, reply, job.state))
        assert not job.problems, job.problems
    leading = tuple((s.group, s.chance) for s in job.suspects[:3])
    right = right or (bool(leading) and machine.mended_by(leading[0][0]))
    return Walked(
        steps=len(done) - vain,
        seconds=seconds,
        right=right,
        in_vain=vain,
        done=tuple(done),
        leading=leading,
    )


def arrival(
    machine: Hidden, situations: tuple[Situation, ...], state: JobState | None = None
) -> list[AnyFinding]:
    """The code lists a display shows in each situation."""
    findings: list[AnyFinding] = []
    for situation in situations:
        for unit, codes in machine.codes(situation).items():
            if machine.powered(unit, situation):
                findings.append(
                    CodesFound(unit=unit, active=codes, complete=True, situation=situation)
                )
    return findings
