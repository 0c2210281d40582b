"""Chains of pins into wires."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Literal

from backprobe.base.units import parse_quantity
from backprobe.book.attributes import tell_unusual
from backprobe.book.draft import PLUG, UNITS, Draft, Hop
from backprobe.book.facts import Fact
from backprobe.book.lines import Bit, Line
from backprobe.book.model import BODIES, MINUS, End
from backprobe.book.nets import THROUGH
from backprobe.kinds import KINDS

Place = Literal["start", "arrive", "leave", "end"]
USUAL: Mapping[str, tuple[str, tuple[float, float]]] = {
    "m2": ("size of a wire", (0.2e-6, 120e-6)),
    "m": ("length of a wire", (0.01, 30.0)),
}
"""What a wire of a compact machine measures, by unit: common practice, no source."""
_SIDED = re.compile(r"^(.+)([ab])$")


def read_wires(draft: Draft, fact: Fact) -> None:
    """`PIN > PIN > ... [> PIN + PIN], attributes`: each `>` is one wire, each branch too."""
    line = fact.line
    pairs: list[tuple[End, End]] = []
    previous = find_end(draft, fact.head[0], line, "start")
    for bit in fact.head[1:]:
        arrive = find_end(draft, bit, line, "arrive")
        leave = find_end(draft, bit, line, "leave", quiet=True)
        if previous and arrive:
            pairs.append((previous, arrive))
        previous = leave
    for bit in fact.branches:
        last = find_end(draft, bit, line, "end")
        if previous and last:
            pairs.append((previous, last))
    common, names = read_wire_items(draft, fact.items, line)
    if len(names) > 1 and len(names) != len(pairs):
        draft.report.add("wire-names", line.spot(), names=str(len(names)), wires=str(len(pairs)))
    for number, (a, b) in enumerate(pairs):
        if a == b:
            draft.report.add("wire-to-itself", line.spot(), pin=f"{a.part}.{a.pin}")
            continue
        name = names[number] if number < len(names) else names[0] if len(names) == 1 else ""
        hop = Hop(a=a, b=b, name=name, origin=fact.origin, line=line)
        hop.area_m2, hop.length_m, hop.colour, hop.stated = common
        draft.hops.append(hop)


Common = tuple[float | None, float | None, str, tuple[str, ...]]


def read_wire_items(
    draft: Draft, items: tuple[Bit, ...], line: Line
) -> tuple[Common, tuple[str, ...]]:
    """Size, length, colour, sections and the names of a wire line."""
    area: float | None = None
    length: float | None = None
    colour = ""
    stated: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    for item in items:
        word, _, rest = item.text.partition(" ")
        rest = rest.strip()
        quantity = parse_quantity(item.text)
        if word.lower() in ("wire", "wires") and rest:
            names = tuple(" ".join(n.split()) for n in re.split(r"\s/\s", rest))
        elif word.lower() == "in" and rest:
            stated += tuple(" ".join(n.split()) for n in re.split(r"\s/\s", rest))
        elif quantity and quantity.unit in USUAL:
            what, usual = USUAL[quantity.unit]
            if not tell_unusual(
                draft.report, line.spot(item), what=what, value=quantity.value,
                unit=quantity.unit, usual=usual,
            ):  # fmt: skip
                continue
            if quantity.unit == "m2":
                area = quantity.value
            else:
                length = quantity.value
        elif quantity or item.text[0].isdigit():
            draft.report.add(
                "unreadable-number", line.spot(item), text=item.text,
                wanted="A wire takes its size (mm2 or AWG) and its length (m).",
            )  # fmt: skip
        elif re.fullmatch(r"[A-Za-z]{1,12}([-/ ][A-Za-z]{1,12}){0,3}", item.text):
            colour = item.text
        else:
            draft.report.add(
                "unknown-attribute", line.spot(item), word=item.text, owner="a wire",
                known="size, length, colour, wire NAME, in SECTION",
                near=draft.report.near(word, ("wire", "in")),
            )  # fmt: skip
    return (area, length, colour, stated), names


def find_end(
    draft: Draft, bit: Bit, line: Line, place: Place, *, quiet: bool = False
) -> End | None:
    """The end a bit of a chain names, or None (reported unless `quiet`: the twin of an end
    that was already looked up)."""
    text = " ".join(bit.text.split())
    if text.casefold() in BODIES:
        return End(text.casefold(), "")
    if text.casefold() == MINUS:
        return End(_battery(draft, line), "-")
    head, dot, pin = text.rpartition(".")
    if not dot:
        head, pin = text, ""
    if quiet and head not in draft.parts:
        return None
    part = draft.part_named(bit.part(0, bit.text.rindex(".") if dot else None), line)
    if part is None:
        return None
    if not dot:
        return _entrance(draft, part, bit, line, place, quiet=quiet)
    return _pin(draft, part, pin.strip(), bit, line, place, quiet=quiet)


def _battery(draft: Draft, line: Line) -> str:
    for name, part in draft.parts.items():
        if part.kind == "battery":
            return name
    name = draft.free_name("battery")
    draft.add_assumed(name, KINDS["battery"], "battery minus is named", line)
    return name


def _entrance(
    draft: Draft, part: str, bit: Bit, line: Line, place: Place, *, quiet: bool
) -> End | None:
    """The pin meant by a part's name alone."""
    kind = draft.kind(part)
    pins = list(draft.pins_of(part))
    leaving = place in ("start", "leave")
    if len(pins) == 1:
        return _side(draft, part, pins[0], "", place)
    if kind.pins == THROUGH:
        return End(part, kind.pins[1] if leaving else kind.pins[0])
    if kind.joint in ("stud", "crimp") and not kind.pins:
        draft.add_pin(part, "1")
        return End(part, "1")
    if not quiet:
        draft.report.add(
            "missing-pin", line.spot(bit), part=part, kind=kind.words[0],
            known=", ".join(pins[:24]) or "its numbered pins",
        )  # fmt: skip
    return None


def _pin(
    draft: Draft, part: str, pin: str, bit: Bit, line: Line, place: Place, *, quiet: bool
) -> End | None:
    found = resolve_pin(draft, part, pin)
    if found is not None:
        return _side(draft, part, found[0], found[1], place)
    if not quiet:
        known = known_pins(draft, part)
        draft.report.add(
            "unknown-pin", line.spot(bit), part=part, pin=pin or "without a name",
            kind=draft.kind(part).words[0], known=", ".join(known[:24]),
            near=draft.report.near(pin, known),
        )  # fmt: skip
    return None


def known_pins(draft: Draft, part: str) -> list[str]:
    """Pins of a part and their other names."""
    return [*draft.pins_of(part), *draft.kind(part).aliases]


def resolve_pin(draft: Draft, part: str, pin: str) -> tuple[str, str] | None:
    """(pin, side) for a printed pin name; None when the part has no such pin."""
    found = draft.parts[part]
    kind = KINDS[found.kind]
    if not pin:
        return None
    printed = str(found.attrs.get("pins", "")).split(" / ")
    if kind.pins and pin in printed and printed.index(pin) < len(kind.pins):
        return kind.pins[printed.index(pin)], ""
    pins = draft.pins_of(part)
    if pin in pins:
        return pin, ""
    if pin in kind.aliases:
        return kind.aliases[pin], ""
    if draft.counted(part):
        blind = {name.casefold(): name for name in (*pins, *kind.aliases)}
        if pin.casefold() in blind:
            name = blind[pin.casefold()]
            return kind.aliases.get(name, name), ""
    sided = _SIDED.match(pin) if found.kind == PLUG else None
    if sided and (sided[1] in pins or not draft.counted(part)):
        if not draft.counted(part):
            draft.add_pin(part, sided[1])
        return sided[1], sided[2]
    if not draft.counted(part) and (found.kind == PLUG or found.kind in UNITS):
        draft.add_pin(part, pin)
        return pin, ""
    return None


def _side(draft: Draft, part: str, pin: str, side: str, place: Place) -> End:
    if draft.parts[part].kind != PLUG:
        return End(part, pin)
    return End(part, pin, side or ("a" if place in ("arrive", "end") else "b"))


def settle_sides(draft: Draft) -> None:
    """Put the second wire that meets a plug way from the same direction on the free side."""
    taken: set[End] = set()
    for hop in draft.hops:
        ends = []
        for end in (hop.a, hop.b):
            other = end._replace(side="b" if end.side == "a" else "a")
            swap = bool(end.side) and end in taken and other not in taken
            ends.append(other if swap else end)
            taken.add(ends[-1])
        hop.a, hop.b = ends
