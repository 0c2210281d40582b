"""What a part hangs on: what must carry its current, by the wires alone; nothing is predicted."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from backprobe.book.model import BODIES, End, Part, Pin
from backprobe.checks.layout import Layout

FUSES: Final = ("fuse", "fusible link", "circuit breaker")
SERIES: Final = (*FUSES, "ground strap", "resistor", "diode")
"""Kinds that let current through from pin to pin, besides everything with a contact."""
PUTS_OUT: Final = (
    "5 V group",
    "low side driver",
    "high side driver",
    "switched output",
    "PWM driver",
)
FED: Final = ("supply", "ground")
END: Final = End("", "")
"""Where every current comes from and goes to: a battery, or a unit that switches or feeds."""


HUB: Final = "hub"
KNOTS: Final = ("splice", "ground stud")
"""Kinds that hold all wires that end there together."""


class _Step(NamedTuple):
    part: str
    to: End


class Hanging:
    """The wires of one book as ways from part to part."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._steps: dict[End, list[_Step]] = {}
        self._must: dict[End, frozenset[str]] = {}
        for wire in layout.book.wires.values():
            self._join("", self._tip(wire.a, wire.id), self._tip(wire.b, wire.id))
        for part in layout.book.parts.values():
            self._join_inside(part, layout.end_at.get(part.name, ()))

    def parts(self, names: Iterable[str]) -> frozenset[str]:
        """The parts without any one of which some parts do not work, themselves among them: their
        fuses, switches, plugs and grounds, and what the coils of their relays hang on."""
        found: set[str] = set()
        todo = [name for name in names if name in self._layout.book.parts]
        while todo:
            name = todo.pop()
            if name not in found:
                found.add(name)
                for start in self._starts(name):
                    todo += sorted(self._needed(start) - found)
        return frozenset(found)

    def at(self, pin: Pin) -> tuple[str, ...]:
        """Parts that plain copper joins to a unit's pin: what it senses or drives, and the unit."""
        layout = self._layout
        nets = {layout.net[e] for e in layout.end_at.get(pin.part, ()) if e.pin == pin.name}
        on = {end.part for net in nets for end in layout.members[net]}
        return tuple(sorted(on - set(BODIES)))

    def _join(self, part: str, a: End, b: End) -> None:
        self._steps.setdefault(a, []).append(_Step(part, b))
        self._steps.setdefault(b, []).append(_Step(part, a))

    def _tip(self, end: End, wire: str) -> End:
        """The end of a wire; at a splice or stud one that this must hold."""
        part = self._layout.book.parts.get(end.part)
        if part is None or part.kind not in KNOTS:
            return end
        tip = End(end.part, wire, HUB)
        self._join(part.name, tip, End(end.part, "", HUB))
        return tip

    def _join_inside(self, part: Part, ends: Iterable[End]) -> None:
        """What a part lets through: its contact, its copper, its plug; what is a source ends there."""
        kind, name = self._layout.kinds[part.kind], part.name
        pins = {end.pin for end in ends}
        if part.kind == "plug":
            for end in ends:
                self._join(name, end, End(name, end.pin, HUB))
        for branch in kind.branches:
            if branch.contact or part.kind in SERIES:
                self._join(name, self._end(part, branch.p), self._end(part, branch.n))
        for pin in pins:
            role = self._layout.book.roles.get(Pin(name, pin))
            if role and role.role == "ground":  # joined inside the unit, a sensor's return too
                self._join(name, End(name, pin), End(name, "", HUB))
            if part.kind == "battery" or (role and role.role in PUTS_OUT):
                self._join(name, End(name, pin), END)

    def _end(self, part: Part, pin: str) -> End:
        if pin == "@body":
            return End(part.body, "") if part.body in BODIES else End(part.name, pin)
        if pin == "@body2":
            return End(str(part.attrs.get("second body") or "engine"), "")
        if part.kind == "ground stud":
            return End(part.name, "", HUB)
        return End(part.name, pin)

    def _starts(self, name: str) -> list[End]:
        """The ends of a part that need a feed or a ground for it to work."""
        part = self._layout.book.parts[name]
        kind = self._layout.kinds[part.kind]
        pins = {end.pin: end for end in self._layout.end_at.get(name, ())}
        if name in self._layout.units:
            roles = self._layout.book.roles
            return [
                end
                for pin, end in pins.items()
                if Pin(name, pin) in roles and roles[Pin(name, pin)].role in FED
            ]
        coil = next((b for b in kind.branches if b.name == "coil"), None)
        if kind.operated == "coil" and coil is not None:
            return [pins[pin] for pin in (coil.p, coil.n) if pin in pins]
        if part.kind in (*SERIES, *KNOTS, "battery", "plug") or any(
            branch.contact and not kind.load for branch in kind.branches
        ):
            return []
        body = [End(part.body, "")] if part.body in BODIES else []
        return [*pins.values(), *body]

    def _needed(self, start: End) -> frozenset[str]:
        """Parts that every way from an end to a source leads through."""
        if start not in self._must:
            way = self._way(start, "")
            self._must[start] = frozenset(p for p in way if p and not self._way(start, p))
        return self._must[start]

    def _way(self, start: End, without: str) -> tuple[str, ...]:
        """The parts on a shortest way to a source, () where there is none."""
        came: dict[End, tuple[End, str]] = {start: (start, "")}
        todo = [start]
        for end in todo:
            if end == END:
                break
            for part, to in self._steps.get(end, ()):
                if to not in came and (part != without or not part):
                    came[to] = (end, part)
                    todo.append(to)
        if END not in came:
            return ()
        way, end = [], END
        while end != start:
            end, part = came[end]
            way.append(part)
        return tuple(dict.fromkeys(way))
