"""What each check would show, under every story: bins of a reading, or two words.

Chances come from the same models that weigh the findings afterwards, so a check promises what
its answer will be worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from backprobe.book.model import Book
from backprobe.checks.bins import binned
from backprobe.checks.both_ways import BothWays
from backprobe.checks.metered import metered, ohms_of, on_display, own_error
from backprobe.checks.model import Check
from backprobe.checks.same_pin import Coin, Lead, coin_of, lead_of, read_again
from backprobe.checks.stories import Stories
from backprobe.checks.trap import CAUGHT, FOR_NOTHING
from backprobe.defects.atoms import of_atoms
from backprobe.defects.model import TEMPERATURE_SD, Atom, Floats, Predictor, Probe
from backprobe.findings.model import FuseFound, JobState, Looked, Reading, Works
from backprobe.suspects.codes import RULE_WRONG, SHOWN, SHOWN_IF_WRONG, SPURIOUS, rule_chance
from backprobe.suspects.column import Column
from backprobe.suspects.factor import MISREAD, RHO, Factor
from backprobe.suspects.looks import (
    DRIFT,
    FAILING_TOLD,
    OTHER_DAMAGE,
    looked_factor,
    mends,
    share_at,
    sits_at,
)
from backprobe.suspects.meters import beeps
from backprobe.suspects.readings import beside
from backprobe.suspects.view import View
from backprobe.suspects.weigh import HEALTHY_SHARE
from backprobe.suspects.works import fuse_factor, situation_of, works_factor
from backprobe.suspects.worlds import BATTERY_SD, COARSE, CONTACTS_SD, worlds

NOTHING = {
    "look": "nothing to see",
    "provoke": "nothing",
    "sweep": "all work",
    "beep": "silent at all",
}
FOUND = {
    "look": "damage at",
    "provoke": "it shows at",
    "sweep": "does not work:",
    "beep": "beeps at",
}
UNITS = {"volts": "V", "drop": "V", "millivolts": "mV", "lamp": "V", "ohms": "ohm", "amps": "A"}
WORDS: dict[str, tuple[str, str]] = {
    "works": ("works", "does not work"),
    "codes": ("active", "not active"),
    "unplug": ("still active", "gone"),
    "fuse": ("blown", "good"),
    "new fuse": ("blows", "holds"),
    "swap": ("works now", "no change"),
    "prove": ("stays away", "shows again"),
    "trap": ("fails again", "stays away"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One check under every story. `chance` (O, K); readings have `edges` (O + 1,), `middle`
    (O, 2) what most of a bin reads from and to, `healthy` and `sigma` in `unit`, volts where that is
    mV; others have `words`, the healthy one's index in `usual`; `turns`: outcomes after which the
    fault shows."""

    chance: Floats
    unit: str = ""
    edges: Floats | None = None
    middle: Floats | None = None
    healthy: float | None = None
    sigma: float | None = None
    words: tuple[str, ...] = ()
    usual: int = 0
    turns: tuple[int, ...] = ()


class Forecast:
    """Asks the circuit once per situation for everything a list of checks needs."""

    def __init__(
        self,
        book: Book,
        predictor: Predictor,
        stories: Stories,
        conditions: frozenset[str] = frozenset(),
        job: JobState | None = None,
    ) -> None:
        """`predictor`: of the stories' hypotheses only, in the order of `stories.rows`;
        `conditions`: those the complaint was tied to; `job`: what was read already."""
        self._job = job
        self._again: dict[Lead, tuple[Reading, ...]] = {}
        self._coins: dict[Lead, Coin | None] = {}
        self._told_conditions = conditions - {""}
        self._predictor = predictor
        self._view = View(book, predictor)
        self._stories = stories
        volts = book.machine.volts
        self._left = np.array([BATTERY_SD * volts, CONTACTS_SD, TEMPERATURE_SD]) ** 2
        self._told = stories.mass > 1e-5

    def of(self, checks: Sequence[Check]) -> tuple[Shown | None, ...]:
        """What every check would show; None for what the circuit cannot tell."""
        if self._job is not None:
            self._again = read_again(self._job, [c for c in checks if self._is_reading(c)])
        read = [n for n, check in enumerate(checks) if self._is_reading(check)]
        readings = [checks[n] for n in read]
        for check in checks:
            self._one(check)
            self._beside(check)
        both = BothWays(self._predictor, readings, self._view.ladder, self._left)
        self._view.fetch()
        self._view.worlds = worlds(
            self._view.book.machine.volts,
            *(
                many if any(felt) else 1
                for many, *felt in zip(COARSE, self._view.felt, both.felt, strict=True)
            ),
        )
        shown = dict(zip(read, self._readings(readings, both), strict=True))
        return tuple(shown[n] if n in shown else self._one(check) for n, check in enumerate(checks))

    def _one(self, check: Check) -> Shown | None:
        if check.does in WORDS:
            return self._words(check)
        if check.does in FOUND:
            return self._places(check)
        return None

    # -- readings -------------------------------------------------------------------------
    @staticmethod
    def _is_reading(check: Check) -> bool:
        return not (check.does in WORDS or check.does in FOUND) and check.probe is not None

    def _columns(self, check: Check) -> tuple[Column | None, Column | None]:
        """What a check reads while the defect shows, and while it does not."""
        probe = check.probe
        if probe is None:
            return None, None
        present = self._view.column(check.situation, probe, gone=False)
        return present, self._view.column(check.situation, probe, gone=True)

    def _beside(self, check: Check) -> None:
        """Asks for what is needed where a pin is read again."""
        readings = self._again.get(lead_of(check), ()) if self._is_reading(check) else ()
        if readings:
            coin_of(self._view, readings, check.situation)
            for place in beside(self._view.book, readings[0].p):
                self._columns(_at(check, place))

    def _coin(self, check: Check) -> Coin | None:
        """What earlier readings with the same lead say of it."""
        lead = lead_of(check)
        readings = self._again.get(lead, ())
        if lead not in self._coins:
            after = check.situation
            self._coins[lead] = coin_of(self._view, readings, after) if readings else None
        return self._coins[lead]

    def _slipped(self, check: Check, coin: Coin, edges: Floats, right: Floats) -> Floats:
        """(O, 2 L) chances `right` of what a pin shows, where one beside it may be read again."""
        straight = 1.0 - coin.wrong.sum(axis=0) - coin.astray
        mixed: Floats = straight * right + coin.astray / len(right)
        for place, chance in zip(coin.beside, coin.wrong, strict=True):
            there = _at(check, place)
            sides = [side for side in self._columns(there) if side is not None]
            if len(sides) < 2:
                mixed += chance * right
                continue
            value = np.concatenate([side.mean for side in sides])
            blur = np.nan_to_num(np.concatenate([self._blur(side) for side in sides]))
            shown, variance = metered([there], value[None], blur[None])
            upto = ndtr((edges[:, None] - shown) / np.sqrt(variance))
            steady = np.isfinite(shown[0])
            mixed += chance * np.where(steady, np.diff(upto, axis=0), 1.0 / len(right))
        return mixed

    def _readings(self, checks: Sequence[Check], both: BothWays) -> list[Shown | None]:
        """All that are read on a meter or a display, side by side."""
        blur = np.where(np.isfinite(both.blur), both.blur, 0.0)
        units, value, variance = self._metered(checks, both.value, blur)
        known = np.flatnonzero(np.isfinite(value[:, 0]))
        numbers, sigma = known.tolist(), np.sqrt(variance[known])
        some = [checks[n] for n in numbers]
        shown = self._binned(some, value[known], sigma, [units[n] for n in numbers])
        found = dict(zip(numbers, shown, strict=True))
        return [found.get(n) for n in range(len(checks))]

    def _blur(self, column: Column) -> Floats:
        blur: Floats = self._left @ column.slope**2 + column.width**2 / 12.0
        return blur

    def _metered(
        self, checks: Sequence[Check], value: Floats, blur: Floats
    ) -> tuple[list[str], Floats, Floats]:
        """Units, readings and variances (c, n) as instruments and displays show them."""
        displays = {f"{d.unit} {d.name}": d for d in self._view.book.displays.values()}
        units = [UNITS.get(check.does, "") for check in checks]
        shown, variance = metered(checks, value, blur)
        for n, check in enumerate(checks):
            display = displays.get(check.target) if check.does == "display" else None
            if display is not None:
                shown[n], variance[n] = on_display(display, value[n], blur[n])
                units[n] = display.measure
        return units, shown, variance

    def _binned(
        self, checks: Sequence[Check], value: Floats, sigma: Floats, units: Sequence[str]
    ) -> list[Shown]:
        stories = self._stories
        steady = np.isfinite(value)
        weight = np.where(steady & self._told[:-1], stories.mass[:-1], 0.0)
        weight[:, 0] = np.maximum(weight[:, 0], 1e-4)
        y = np.where(steady, value, value[:, :1])
        bins, edges, chance, middle = binned(y, sigma, weight, steady)
        for n, check in enumerate(checks):
            coin = self._coin(check)
            if coin is not None:
                some = slice(0, bins[n])
                upto = edges[n, : bins[n] + 1]
                chance[n, some] = self._slipped(check, coin, upto, chance[n, some])
        even = 1.0 / bins[:, None]
        chance = (1.0 - MISREAD) * chance + MISREAD * even[..., None]
        outside = HEALTHY_SHARE * chance[..., 0] + (1.0 - HEALTHY_SHARE) * even
        chance = np.concatenate([chance, outside[..., None]], axis=2)
        found = []
        for n, check in enumerate(checks):
            many = bins[n]
            ohms = check.does == "ohms"
            turn = ohms_of if ohms else np.asarray
            healthy = float(turn(value[n, 0]))
            found.append(
                Shown(
                    chance=chance[n, :many],
                    unit=units[n],
                    edges=turn(edges[n, : many + 1]),
                    middle=turn(middle[n, :many]),
                    healthy=healthy,
                    sigma=float(sigma[n, 0] * (own_error(healthy) if ohms else 1.0)),
                )
            )
        return found

    # -- words ----------------------------------------------------------------------------
    def _words(self, check: Check) -> Shown | None:
        pair = self._yes(check)
        if pair is None or self._view.asking:
            return None
        yes = np.concatenate(pair)
        outside = HEALTHY_SHARE * yes[0] + (1.0 - HEALTHY_SHARE) * 0.5
        yes = np.append(yes, outside).clip(1e-4, 1.0 - 1e-4)
        usual = 0 if check.does in ("works", "swap") else 1
        return Shown(
            chance=np.stack([yes, 1.0 - yes]),
            words=WORDS[check.does],
            usual=usual,
            turns=(0,) if check.does == "trap" else (),
        )

    def _yes(self, check: Check) -> tuple[Floats, Floats] | None:
        """(L,) chance of the first word while the defect shows, and while it does not."""
        view, situation = self._view, check.situation
        if check.does == "works":
            works = works_factor(view, Works(target=check.target, works=True), situation)
            return self._halves(works)
        if check.does == "fuse":
            fuse = fuse_factor(view, FuseFound(fuse=check.target, state="blown"), situation)
            return self._halves(fuse)
        if check.does == "new fuse":
            blew = fuse_factor(view, FuseFound(fuse=check.target, state="blew"), situation)
            return self._halves(blew)
        if check.does in ("codes", "unplug"):
            return self._code(check)
        return self._caught() if check.does == "trap" else self._swap(check)

    def _halves(self, factor: Factor | None) -> tuple[Floats, Floats] | None:
        """Chances of "yes" from ratios to one half."""
        if factor is None:
            return None
        return self._flat(factor.present) / 2.0, self._flat(factor.gone) / 2.0

    def _flat(self, chance: Floats) -> Floats:
        """(L,) from (L or 1, W): averaged over the worlds, one row for all."""
        weight = self._view.worlds.weight
        mean = chance @ weight if chance.shape[1] == weight.size else chance.mean(axis=1)
        full: Floats = np.broadcast_to(mean, (self._view.count,)).copy()
        return full

    def _code(self, check: Check) -> tuple[Floats, Floats] | None:
        named = check.setting if check.does == "unplug" else check.target
        unit, _, code = named.rpartition(" ")
        rule = self._view.book.codes.get((unit, code))
        if rule is None:
            return None
        sides = []
        for gone in (False, True):
            holds = rule_chance(self._view, rule, (check.situation,), gone=gone)
            if holds is None:
                return None
            shown = SHOWN * self._flat(holds) + SPURIOUS
            sides.append((1.0 - RULE_WRONG) * shown + RULE_WRONG * SHOWN_IF_WRONG)
        return sides[0], sides[1]

    def _caught(self) -> tuple[Floats, Floats]:
        """A fault that is there is called for; one that comes and goes not always in time."""
        yes = np.array([np.full(self._view.count, FAILING_TOLD["yes"][0])] * 2)
        yes[1], yes[:, 0] = CAUGHT, FOR_NOTHING
        return yes[0], yes[1]

    def _swap(self, check: Check) -> tuple[Floats, Floats] | None:
        works = Works(target=check.setting, works=True)
        pair = self._halves(works_factor(self._view, works, check.situation))
        if pair is None:
            return None
        present, gone = pair
        if not self._view.asking:
            inside = of_atoms(self._view.defects, mends, check.target).copy()
            inside[0] = False
            present = np.where(inside[self._view.defects.atom_of], present[0], present)
        return present, gone

    # -- places ---------------------------------------------------------------------------
    def _places(self, check: Check) -> Shown | None:
        """One outcome per place of a walk, the first that shows something, and "nothing"; so too
        for the functions of a sweep."""
        places = answers_of(check)
        look = {
            "look": self._looked,
            "provoke": self._provoked,
            "beep": self._beeped,
            "sweep": self._failed,
        }[check.does]
        if self._view.asking:
            for place in places if check.does in ("beep", "sweep") else ():
                look(check, place, len(places))
            return None
        count = self._stories.mass.size
        nothing_yet = np.ones(count)
        rows: list[Floats] = []
        for place in places:
            found = look(check, place, len(places))
            if found is None:
                return None
            rows.append(nothing_yet * found)
            nothing_yet = nothing_yet * (1.0 - found)
        words = [f"{FOUND[check.does]} {place}" for place in places]
        return Shown(
            chance=np.stack([*rows, nothing_yet]),
            words=(*words, NOTHING[check.does]),
            usual=len(places),
            turns=tuple(range(len(places))) if check.does == "provoke" else (),
        )

    def _failed(self, check: Check, function: str, count: int) -> Floats | None:
        """(K,) chance that a function does not work."""
        works = Works(target=function, works=True)
        situation = situation_of(self._view, works.target, check.situation)
        pair = self._halves(works_factor(self._view, works, situation))
        if pair is None:
            return None
        fails = 1.0 - np.concatenate(pair)
        outside = HEALTHY_SHARE * fails[0] + (1.0 - HEALTHY_SHARE) * 0.5 / count
        return np.append(fails, outside)

    def _beeped(self, check: Check, place: str, count: int) -> Floats | None:
        """(K,) chance that the beeper sounds from the check's fixed lead to a place."""
        if check.probe is None:
            return None
        probe = Probe(kind="ohms", p=check.probe.p, n=place)
        sides = [self._view.column(check.situation, probe, gone=gone) for gone in (False, True)]
        if sides[0] is None or sides[1] is None or self._view.asking:
            return None
        sound = np.concatenate([beeps(side.mean) for side in sides if side is not None])
        outside = HEALTHY_SHARE * sound[0] + (1.0 - HEALTHY_SHARE) * 0.5 / count
        return np.append(sound, outside).clip(MISREAD / count, 1.0 - MISREAD)

    def _looked(self, check: Check, place: str, _: int) -> Floats | None:
        """(K,) chance that a close look at a place finds damage."""
        named = named_in(check)
        if place in named:
            return self._seen_on(place, check.target, OTHER_DAMAGE / (len(named) + 1))
        seen = Looked(target=place, damage=True)
        factor = looked_factor(self._view, seen, {*places_of(check), *named})
        found = self._flat(factor.present) * OTHER_DAMAGE
        return np.concatenate([found, found, [OTHER_DAMAGE]])

    def _seen_on(self, group: str, place: str, other: float) -> Floats:
        """(K,) chance that damage is seen on one wire where a stretch of loom is looked at; `other`:
        damage that is not the defect."""
        own = of_atoms(self._view.defects, _bared, group, place)
        found = (other + (1.0 - other) * own)[self._view.defects.atom_of]
        return np.concatenate([found, found, [other]])

    def _provoked(self, check: Check, place: str, places: int) -> Floats | None:
        """(K,) chance that the fault shows while a place is moved, wetted or warmed."""
        yes, no = (told / places for told in FAILING_TOLD["yes"])
        defects = self._view.defects
        which, at = np.unique(defects.atom_of, return_inverse=True)
        here = of_atoms(defects, sits_at, place)[which]
        factor = of_atoms(defects, getattr, check.condition, 1.0)[which]
        rho = np.array(RHO)[:, None]
        odds = rho / (1.0 - rho) * factor
        level = self._levels(check.condition)[:, None]
        back: Floats = np.where(here, (odds / (1.0 + odds) * level).sum(axis=0), DRIFT / places)
        back[which == 0] = 0.0
        shows = back[at]
        present = np.full(shows.size, yes)
        present[0] = no
        gone = shows * FAILING_TOLD["yes"][0] + (1.0 - shows) * no
        return np.concatenate([present, gone, [0.5 * (yes + no)]])

    def _levels(self, condition: str) -> Floats:
        """Weights of RHO for a condition: likelier high when the complaint was tied to it,
        likelier low when it was tied to another one only."""
        rho: Floats = np.array(RHO)
        if condition in self._told_conditions:
            weight = rho
        elif self._told_conditions:
            weight = 1.0 - rho
        else:
            weight = np.ones_like(rho)
        share: Floats = weight / weight.sum()
        return share


def _at(check: Check, place: str) -> Check:
    """The same reading, the red lead on another place."""
    probe = check.probe
    return check if probe is None else replace(check, probe=replace(probe, p=place))


def _bared(atom: Atom, group: str, place: str) -> float:
    """How likely the damage of a defect of a group is seen on one wire of it."""
    return share_at(atom, place) * atom.visible if atom.group == group else 0.0


def named_in(check: Check) -> tuple[str, ...]:
    """The wires a look along a stretch of loom asks for by name."""
    return tuple(check.setting.split(", ")) if check.does == "look" and check.setting else ()


def running_in(check: Check) -> tuple[str, ...]:
    """The functions of a sweep that are tried with the engine running, the last ones."""
    return tuple(check.setting.split(", ")) if check.does == "sweep" and check.setting else ()


def answers_of(check: Check) -> tuple[str, ...]:
    """What may be named in the answer to a walk: the wires of a stretch first, then the places."""
    return (*named_in(check), *places_of(check))


def places_of(check: Check) -> tuple[str, ...]:
    """The places of a look or provocation, the functions of a sweep, in the order they are gone through."""
    return tuple(check.target.split(", "))
