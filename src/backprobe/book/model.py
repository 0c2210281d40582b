"""The wiring book as frozen objects. SI inside: ohm, V, A, W, m, m2, s; ratios as 0..1.

Names are the printed ones. A pin is (part, pin); a wire hop joins two ends. An end at an inline
plug has a side: "a" where a chain arrives at the way, "b" where it leaves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from backprobe.base.problems import Spot

MINUS = "battery minus"
BODIES = ("frame", "engine", "cab")
"""Metal a part may be bolted to (`on frame`) or a chain may end at. Names a book may not reuse."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a fact comes from: `said` is the book's word (page, "seen on machine", "guessed")."""

    said: str = ""
    assumed: bool = False
    doubtful: bool = False
    at: Spot | None = None


class Pin(NamedTuple):
    """A pin of a part, as printed: str() gives "X14.3"."""

    part: str
    name: str

    def __str__(self) -> str:
        return f"{self.part}.{self.name}" if self.name else self.part


class End(NamedTuple):
    """Where a wire ends. `side` is "a" or "b" at an inline plug, "" elsewhere."""

    part: str
    pin: str
    side: str = ""


class Cavity(NamedTuple):
    """A place for a terminal in a plug: the name printed at it and the pin of the part it is. Both
    are "" at a blank place, `pin` where the part has no such pin."""

    label: str
    pin: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """How the pins of a plug lie: `rows` from above, from left to right, as seen looking into the
    open plug at the end of the loom (its mating side); the wire side is the mirror image. Rows of
    unequal length stand centred. `half`: of a plug in the loom, the section whose half this is,
    "" where the book does not say; the other half is the mirror image."""

    rows: tuple[tuple[Cavity, ...], ...]
    half: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part. `attrs` holds what was typed; Book.value() adds the kind's defaults. `face`: None
    where the book does not say how the pins of its plug lie."""

    name: str
    kind: str
    attrs: Mapping[str, float | str] = field(default_factory=dict)
    pins: tuple[str, ...] = ()
    where: str = ""
    body: str = ""
    open_s: float | None = None
    close_s: float | None = None
    backprobe: bool = True
    face: Face | None = None
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """One conductor between two ends. `id` is unique and stable, `name` is what is printed on it
    (may repeat along a circuit). `stated` are sections named in the book; `route` is the full
    list of (section, from_m, to_m) the wire passes, in order from `a` to `b`.
    """

    id: str
    name: str
    a: End
    b: End
    area_m2: float
    length_m: float
    colour: str = ""
    stated: tuple[str, ...] = ()
    route: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A physical piece of harness between two places (a part, or a named branch point)."""

    name: str
    a: str
    b: str
    length_m: float
    open_s: float | None = None
    close_s: float | None = None
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class WeakSpot:
    """A named place on a section where damage is likelier. `exposure`: edge, clip, hinge, hot,
    wet, splice, floor, "" ."""

    name: str
    section: str
    at_m: float
    exposure: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class PinRole:
    """What stands behind a pin of a control unit. `role` names a kinds.Role."""

    pin: Pin
    role: str
    attrs: Mapping[str, float | str] = field(default_factory=dict)
    group: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A 5 V supply of a unit; its pins are bussed inside. `latches`: off until the key cycles."""

    unit: str
    name: str
    volts: float
    limit_a: float
    latches: bool = False
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """One condition of a code rule.

    kind "volts": v(pin) - v(unit's own ground) is below `low` or above `high`;
    "amps": the magnitude of the current of that pin's driver, likewise;
    "hears": messages from `other` do not arrive on the CAN pins (other off, or bus broken);
    "rail": the 5 V group `other` is below `low` or above `high`;
    "supply": the unit's own supply, likewise. A bound that is None is not looked at.
    """

    __test__ = False
    kind: Literal["volts", "amps", "hears", "rail", "supply"]
    pin: Pin | None = None
    other: str = ""
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeRule:
    """When a unit sets a code. All `tests` must hold, in one of the key states `when` (and with
    every one of `commands` operated), for `for_s`. `hides`: codes of the unit it suppresses.
    `blinks`: the groups its lamp blinks it in, "3-2", "" where the book does not say.
    """

    unit: str
    code: str
    words: str
    tests: tuple[Test, ...]
    when: tuple[str, ...] = ("on", "crank", "run")
    commands: tuple[str, ...] = ()
    for_s: float = 2.0
    effect: str = ""
    hides: tuple[str, ...] = ()
    blinks: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class DisplayValue:
    """A value the display shows for a unit's pin, linear between two points of the pin's volts."""

    unit: str
    name: str
    pin: Pin
    low_v: float
    high_v: float
    low: float
    high: float
    measure: str
    origin: Origin = Origin()

    @property
    def per_volt(self) -> float:
        """What a volt more at the pin adds to the value."""
        return (self.high - self.low) / (self.high_v - self.low_v)


@dataclass(frozen=True, slots=True, kw_only=True)
class Function:
    """What the machine does for the driver. Needs: parts that must work, units that must be on,
    codes ("ECU 157/4") that must not be active. `moves`: it can move the machine.
    `key`: the key state in which it is tried.
    """

    name: str
    needs: tuple[str, ...]
    key: str = "on"
    commands: tuple[str, ...] = ()
    moves: bool = False
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """Something nobody typed that the tool filled in: about what, what, and on what ground."""

    about: str
    what: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The machine type the book is about."""

    name: str
    volts: float = 12.0
    serial: str = ""
    variants: tuple[str, ...] = ()
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """A checked and completed wiring book. Mappings keep the order of the text."""

    machine: Machine
    parts: Mapping[str, Part]
    wires: Mapping[str, Wire]
    sections: Mapping[str, Section] = field(default_factory=dict)
    spots: Mapping[str, WeakSpot] = field(default_factory=dict)
    roles: Mapping[Pin, PinRole] = field(default_factory=dict)
    groups: Mapping[tuple[str, str], Group] = field(default_factory=dict)
    codes: Mapping[tuple[str, str], CodeRule] = field(default_factory=dict)
    displays: Mapping[tuple[str, str], DisplayValue] = field(default_factory=dict)
    functions: Mapping[str, Function] = field(default_factory=dict)
    assumptions: tuple[Assumption, ...] = ()
    extras: tuple[str, ...] = ()
    digest: str = ""

    def value(self, part: str, attribute: str) -> float | str:
        """The typed value of a part's attribute, or the default of its kind (SI).

        KeyError when the part or the attribute does not exist.
        """
        from backprobe.book.values import attributes_of

        return attributes_of(self, part)[attribute]
