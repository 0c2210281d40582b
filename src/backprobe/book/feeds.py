"""The short forms of a fuse card: `F3 feeds a, b` and `group ECU A feeds x, y`."""

from __future__ import annotations

from backprobe.base.units import parse_quantity
from backprobe.book.control import default_limit, split_group, unit_named
from backprobe.book.draft import Draft, Hop
from backprobe.book.facts import Fact
from backprobe.book.lines import Bit, Line
from backprobe.book.model import End, Group, Origin, Pin, PinRole
from backprobe.book.wires import find_end, read_wire_items, resolve_pin
from backprobe.kinds import KINDS, ROLES

GROUP_ROLE = "5 V group"
SUPPLY = "supply"
GROUND = "ground"


def read_feeds(draft: Draft, fact: Fact) -> None:
    """One wire from the source to each target; with several targets through a splice nobody
    named, so that what they share can fail as one."""
    line, head = fact.line, fact.head[0]
    names = tuple(item for item in fact.items if not _is_wire_item(item))
    extra = tuple(item for item in fact.items if _is_wire_item(item))
    if head.text.split()[0].lower() == "group" and head.text.split()[0] not in draft.parts:
        source = _group_source(draft, head.part(len("group")), line)
    else:
        source = _fuse_source(draft, head, line)
    targets = [end for bit in names if (end := _target(draft, bit, line))]
    if source is None or not targets:
        return
    common, _ = read_wire_items(draft, extra, line)
    start = source
    if len(targets) > 1:
        kind = KINDS["splice"]
        splice = draft.free_name(f"{source.part} splice")
        draft.add_assumed(splice, kind, "one source feeds several parts; where it parts is unknown")
        start = End(splice, kind.pins[0])
        _wire(draft, fact, source, start, common)
    for target in targets:
        _wire(draft, fact, start, target, common)


Common = tuple[float | None, float | None, str, tuple[str, ...]]


def _wire(draft: Draft, fact: Fact, a: End, b: End, common: Common) -> None:
    hop = Hop(a=a, b=b, origin=fact.origin, line=fact.line, card=True)
    hop.area_m2, hop.length_m, hop.colour, hop.stated = common
    draft.hops.append(hop)


def _is_wire_item(item: Bit) -> bool:
    quantity = parse_quantity(item.text)
    first = item.text.split()[0].lower()
    return (quantity is not None and quantity.unit in ("m", "m2")) or first == "in"


def _fuse_source(draft: Draft, head: Bit, line: Line) -> End | None:
    if "." not in head.text and draft.part_named(head, line, quiet=True) is None:
        return None
    return find_end(draft, head, line, "start")


def _group_source(draft: Draft, head: Bit, line: Line) -> End | None:
    head, name = split_group(head)
    unit = unit_named(draft, head, line)
    if unit is None or not name.text:
        return None
    if (unit, name.text) not in draft.groups:
        add_group(draft, unit, name.text, "it feeds parts")
    for pin, role in draft.roles_of(unit).items():
        if role.group == name.text and role.role == GROUP_ROLE:
            return End(unit, pin)
    return End(unit, add_role(draft, unit, f"5V {name.text}", GROUP_ROLE, group=name.text).name)


def add_group(draft: Draft, unit: str, name: str, because: str) -> None:
    """A 5 V group nobody gave a line of its own."""
    draft.assume(f"group {unit} {name}", "5 V", because)
    draft.groups[(unit, name)] = Group(
        unit=unit,
        name=name,
        volts=5.0,
        limit_a=default_limit(draft, unit, name),
        origin=Origin(assumed=True),
    )


def add_role(draft: Draft, unit: str, pin: str, words: str, *, group: str = "") -> Pin:
    """A pin of a unit nobody typed, with what stands behind it."""
    role = ROLES[words]
    found = Pin(unit, pin)
    draft.add_role(PinRole(pin=found, role=role.name, group=group, origin=Origin(assumed=True)))
    draft.assume(str(found), role.words[0], "the unit needs one and no pin was typed")
    return found


def _target(draft: Draft, bit: Bit, line: Line) -> End | None:
    if "." in bit.text:
        return find_end(draft, bit, line, "end")
    name = draft.part_named(bit, line, quiet=True)
    if name is None:
        return None
    pin = feed_pin(draft, name)
    if pin is None:
        return find_end(draft, bit, line, "end")
    return End(name, pin)


def feed_pin(draft: Draft, part: str) -> str | None:
    """The pin a part is fed at, when only one can be meant."""
    kind = draft.kind(part)
    if draft.is_unit(part):
        for pin, role in draft.roles_of(part).items():
            if role.role == SUPPLY:
                return pin
        return add_role(draft, part, SUPPLY, SUPPLY).name
    for name in (SUPPLY, "30"):
        found = resolve_pin(draft, part, name) if kind.pins else None
        if found:
            return found[0]
    return kind.pins[0] if kind.pins else None
