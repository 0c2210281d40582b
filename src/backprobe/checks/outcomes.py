"""What each check would show, under every story: bins of a reading, or two words.

Chances come from the same models that weigh the findings afterwards, so a check promises what
its answer will be worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from backprobe.book.model import DisplayValue
from backprobe.checks.bins import binned
from backprobe.checks.model import Check
from backprobe.checks.stories import Stories
from backprobe.checks.trap import CAUGHT, FOR_NOTHING
from backprobe.defects.model import Floats, Probe
from backprobe.findings.model import FuseFound, Instrument, Looked, Works
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
from backprobe.suspects.meters import INSULATION_OHM, METERS, OVERLOAD_OHM, beeps
from backprobe.suspects.readings import DISPLAY_SD
from backprobe.suspects.view import View
from backprobe.suspects.weigh import HEALTHY_SHARE
from backprobe.suspects.works import fuse_factor, situation_of, works_factor
from backprobe.suspects.worlds import BATTERY_SD, CONTACTS_SD, TEMPERATURE_SD

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
OHMMETER = METERS["ohmmeter"]
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
        self, view: View, stories: Stories, conditions: frozenset[str] = frozenset()
    ) -> None:
        """`view` looks at the stories' hypotheses only, in the order of `stories.rows`;
        `conditions`: those the complaint was tied to."""
        self._told_conditions = conditions - {""}
        self._view = view
        self._stories = stories
        volts = view.book.machine.volts
        self._left = np.array([BATTERY_SD * volts, CONTACTS_SD, TEMPERATURE_SD]) ** 2
        self._told = stories.mass > 1e-5

    def of(self, checks: Sequence[Check]) -> tuple[Shown | None, ...]:
        """What every check would show; None for what the circuit cannot tell."""
        for check in checks:
            self._one(check)
        self._view.fetch()
        return tuple(self._one(check) for check in checks)

    def _one(self, check: Check) -> Shown | None:
        if check.does in WORDS:
            return self._words(check)
        if check.does in FOUND:
            return self._places(check)
        return self._reading(check) if check.probe is not None else None

    # -- readings -------------------------------------------------------------------------
    def _reading(self, check: Check) -> Shown | None:
        probe = check.probe
        if probe is None:
            return None
        present = self._view.column(check.situation, probe, gone=False)
        gone = self._view.column(check.situation, probe, gone=True)
        if present is None or gone is None or self._view.asking:
            return None
        value = np.concatenate([present.mean, gone.mean])
        blur = np.concatenate([self._blur(present), self._blur(gone)])
        unit = UNITS.get(check.does, "")
        display = self._display(check)
        if display is not None:
            value, variance = _shown_on(display, value, blur)
            unit = display.measure
        else:
            value, variance = _metered(check, value, blur)
        return self._binned(value, np.sqrt(variance), unit, ohms=check.does == "ohms")

    def _blur(self, column: Column) -> Floats:
        blur: Floats = self._left @ column.slope**2 + column.width**2 / 12.0
        return np.where(np.isfinite(blur), blur, 0.0)

    def _display(self, check: Check) -> DisplayValue | None:
        if check.does != "display":
            return None
        return next(
            (d for d in self._view.book.displays.values() if f"{d.unit} {d.name}" == check.target),
            None,
        )

    def _binned(self, value: Floats, sigma: Floats, unit: str, *, ohms: bool) -> Shown | None:
        stories = self._stories
        healthy = value[0]
        if not np.isfinite(healthy):
            return None
        steady = np.isfinite(value)
        weight = np.where(steady & self._told[:-1], stories.mass[:-1], 0.0)
        weight[0] = max(weight[0], 1e-4)
        y = np.where(steady, value, healthy)
        edges, chance, middle = binned(y, sigma, weight, steady)
        bins = len(chance)
        chance = (1.0 - MISREAD) * chance + MISREAD / bins
        outside = HEALTHY_SHARE * chance[:, 0] + (1.0 - HEALTHY_SHARE) / bins
        turn = _ohms_of if ohms else np.asarray
        spread = float(sigma[0])
        if ohms:
            spread *= float(np.hypot(OHMMETER.floor, OHMMETER.share * _ohms_of(healthy)))
        return Shown(
            chance=np.concatenate([chance, outside[:, None]], axis=1),
            unit=unit,
            edges=turn(edges),
            middle=turn(middle),
            healthy=float(turn(healthy)),
            sigma=spread,
        )

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
            atoms = self._view.defects.atoms
            inside = np.array([mends(atom, check.target) for atom in atoms])
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
            for place in places:
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
        if self._view.asking:
            return np.full(1, other)
        atoms = self._view.defects.atoms
        own = [share_at(a, place) * a.visible if a.group == group else 0.0 for a in atoms]
        found = (other + (1.0 - other) * np.array(own))[self._view.defects.atom_of]
        return np.concatenate([found, found, [other]])

    def _provoked(self, check: Check, place: str, places: int) -> Floats | None:
        """(K,) chance that the fault shows while a place is moved, wetted or warmed."""
        yes, no = (told / places for told in FAILING_TOLD["yes"])
        defects = self._view.defects
        which, at = np.unique(defects.atom_of, return_inverse=True)
        atoms = [defects.atoms[number] for number in which]
        here = np.array([sits_at(atom, place) for atom in atoms])
        factor = np.array([float(getattr(a, check.condition, 1.0)) for a in atoms])
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


def named_in(check: Check) -> tuple[str, ...]:
    """The wires a look along a stretch of loom asks for by name."""
    return tuple(check.setting.split(", ")) if check.does == "look" and check.setting else ()


def answers_of(check: Check) -> tuple[str, ...]:
    """What may be named in the answer to a walk: the wires of a stretch first, then the places."""
    return (*named_in(check), *places_of(check))


def places_of(check: Check) -> tuple[str, ...]:
    """The places of a look or provocation, the functions of a sweep, in the order they are gone through."""
    return tuple(check.target.split(", "))


def _metered(check: Check, value: Floats, blur: Floats) -> tuple[Floats, Floats]:
    """Reading and variance as an instrument shows it; ohms, up to OL, in steps of their own error: even
    ones where the meter's floor decides, then those of a logarithm."""
    names: dict[str, Instrument] = {"ohms": "ohmmeter", "amps": "clamp", "millivolts": "millivolts"}
    meter = METERS[names.get(check.does, "min-max" if check.instrument == "min-max" else "meter")]
    if check.does == "amps":
        value = np.abs(value)
    if check.does == "ohms":
        size = np.nan_to_num(np.abs(value), nan=0.0, posinf=1e12)
        path = size < INSULATION_OHM
        size = np.where(path, size, 2.0 * OVERLOAD_OHM)
        own = meter.floor**2 + (meter.share * size) ** 2
        steps = np.arcsinh(meter.share * size / meter.floor) / meter.share
        around = np.minimum(1.0 + np.where(path, blur, 0.0) / own, (2.0 / meter.share) ** 2)
        return np.where(np.isnan(value), np.nan, steps), around
    return value, meter.floor**2 + (meter.share * np.nan_to_num(np.abs(value))) ** 2 + blur


def _ohms_of(steps: Floats) -> Floats:
    """Ohms from steps of an ohmmeter's error, see _metered()."""
    ohms = np.sinh(OHMMETER.share * np.asarray(steps)) * OHMMETER.floor / OHMMETER.share
    result: Floats = np.maximum(ohms, 0.0)
    return result


def _shown_on(display: DisplayValue, value: Floats, blur: Floats) -> tuple[Floats, Floats]:
    scale = (display.high - display.low) / (display.high_v - display.low_v)
    shown = display.low + (value - display.low_v) * scale
    return shown, blur * scale**2 + (DISPLAY_SD * (display.high - display.low)) ** 2
