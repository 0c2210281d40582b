"""A book in the making: what was typed and resolved so far, by name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from backprobe.book.facts import Fact
from backprobe.book.guess import kind_from_name
from backprobe.book.lines import Bit, Line
from backprobe.book.model import (
    BODIES,
    MINUS,
    Assumption,
    CodeRule,
    DisplayValue,
    End,
    Function,
    Group,
    Machine,
    Origin,
    Part,
    Pin,
    PinRole,
    Section,
    WeakSpot,
)
from backprobe.book.report import Report
from backprobe.kinds import KINDS
from backprobe.kinds.records import Kind

UNIT = "control unit"
UNITS = frozenset(kind.name for kind in KINDS.values() if not kind.pins and kind.name != "plug")
"""Kinds whose pins have roles: control units and displays."""
PLUG = "plug"
FORBIDDEN = ',:><;#="?.'


@dataclass(slots=True, kw_only=True)
class Hop:
    """A wire in the making. None = not typed."""

    a: End
    b: End
    name: str = ""
    area_m2: float | None = None
    length_m: float | None = None
    colour: str = ""
    stated: tuple[str, ...] = ()
    route: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    id: str = ""
    origin: Origin = Origin()
    line: Line | None = None
    card: bool = False

    @property
    def is_assumed(self) -> bool:
        """True for a wire nobody typed."""
        return self.origin.assumed


@dataclass(slots=True, kw_only=True)
class Draft:
    """Everything resolved so far. Dictionaries keep the order of the text."""

    report: Report
    machine: Machine = field(default_factory=lambda: Machine(name="machine"))
    variant: str = ""
    parts: dict[str, Part] = field(default_factory=dict)
    hops: list[Hop] = field(default_factory=list)
    sections: dict[str, Section] = field(default_factory=dict)
    spots: dict[str, WeakSpot] = field(default_factory=dict)
    roles: dict[Pin, PinRole] = field(default_factory=dict)
    groups: dict[tuple[str, str], Group] = field(default_factory=dict)
    codes: dict[tuple[str, str], CodeRule] = field(default_factory=dict)
    displays: dict[tuple[str, str], DisplayValue] = field(default_factory=dict)
    functions: dict[str, Function] = field(default_factory=dict)
    assumptions: list[Assumption] = field(default_factory=list)
    extras: list[str] = field(default_factory=list)
    lines: dict[str, Line] = field(default_factory=dict)
    pins: dict[str, dict[str, None]] = field(default_factory=dict)
    unit_roles: dict[str, dict[str, PinRole]] = field(default_factory=dict)

    def assume(self, about: str, what: str, because: str) -> None:
        """Put something nobody typed on the list."""
        self.assumptions.append(Assumption(about=about, what=what, because=because))

    def kind(self, part: str) -> Kind:
        """The kind of a part that is there."""
        return KINDS[self.parts[part].kind]

    def is_unit(self, part: str) -> bool:
        """True for a control unit."""
        return part in self.parts and self.parts[part].kind in UNITS

    def units(self) -> Iterable[str]:
        """Names of the control units and displays."""
        return (name for name, part in self.parts.items() if part.kind in UNITS)

    def first(self, key: str, fact: Fact) -> bool:
        """True when nothing of this key ("part X14") came before; else reports it."""
        if key in self.lines:
            form, _, name = key.partition(" ")
            self.report.add(
                "duplicate-name",
                fact.line.spot(fact.head[0]),
                form=form.capitalize(),
                name=name,
                first=str(self.lines[key].number),
            )
            return False
        self.lines[key] = fact.line
        return True

    def name(self, bit: Bit, line: Line, *, body_ok: bool = False) -> str | None:
        """A checked name with single spaces, or None when it cannot be one (reported)."""
        name = " ".join(bit.text.split())
        reason = ""
        bad = next((sign for sign in FORBIDDEN if sign in name), "")
        if not name:
            reason = "it is empty"
        elif bad:
            reason = f"it has a {bad!r} in it" if bad != "." else "it has a dot in it"
        elif not body_ok and name.casefold() in (*BODIES, MINUS):
            reason = "that word is taken for the machine's own metal and battery post"
        elif len(name) > 80:
            reason = "it is longer than 80 letters"
        if reason:
            self.report.add("bad-name", line.spot(bit), name=name[:80], reason=reason)
            return None
        return name

    def part_named(self, bit: Bit, line: Line, *, quiet: bool = False) -> str | None:
        """The part a bit names. One that was not declared is made from its name: reported as
        a warning unless `quiet`, and listed. None when its kind cannot be told (reported)."""
        name = self.name(bit, line)
        if name is None:
            return None
        if name in self.parts:
            return name
        guess = kind_from_name(name)
        near = self.report.near(name, self.parts)
        if guess is None:
            self.report.add("unknown-part", line.spot(bit), name=name, near=near)
            return None
        kind, because = guess
        if not quiet:
            self.report.add(
                "undeclared-part", line.spot(bit), name=name, kind=kind.words[0],
                near=self.report.near(name, self.parts, cutoff=0.85),
            )  # fmt: skip
        self.add_assumed(name, kind, because, line)
        return name

    def add_assumed(
        self, name: str, kind: Kind, because: str, line: Line | None = None, body: str = ""
    ) -> Part:
        """A part nobody declared."""
        part = Part(
            name=name,
            kind=kind.name,
            pins=kind.pins,
            body=body,
            origin=Origin(assumed=True, at=line.spot() if line else None),
        )
        self.parts[name] = part
        if line:
            self.lines.setdefault(f"part {name}", line)
        self.assume(name, f"a {kind.words[0]}", because)
        return part

    def words(self, end: End) -> str:
        """An end as printed: "F12.2", "frame"; the one pin of a stud or splice is left out."""
        part = self.parts.get(end.part)
        if part is None or (KINDS[part.kind].joint in ("stud", "crimp") and len(part.pins) == 1):
            return end.part
        return f"{end.part}.{end.pin}"

    def free_name(self, wanted: str) -> str:
        """A name no part has yet."""
        name, count = wanted, 2
        while name in self.parts:
            name, count = f"{wanted} {count}", count + 1
        return name

    def add_pin(self, part: str, pin: str) -> None:
        """A pin of a unit, or of a plug whose ways nobody counted."""
        self.pins_of(part)[pin] = None

    def pins_of(self, part: str) -> dict[str, None]:
        """The pins of a part known so far, in order."""
        found = self.pins.get(part)
        if found is None:
            found = self.pins[part] = dict.fromkeys(self.parts[part].pins)
        return found

    def add_role(self, role: PinRole) -> None:
        """Note what stands behind a unit's pin."""
        self.add_pin(role.pin.part, role.pin.name)
        self.roles[role.pin] = role
        self.unit_roles.setdefault(role.pin.part, {})[role.pin.name] = role

    def roles_of(self, unit: str) -> dict[str, PinRole]:
        """What stands behind the pins of a unit, by pin."""
        return self.unit_roles.get(unit, {})

    def counted(self, part: str) -> bool:
        """True when the part's pins are known beforehand (its kind's, or so many ways)."""
        found = self.parts[part]
        return bool(KINDS[found.kind].pins) or "ways" in found.attrs or "pins" in found.attrs
