"""Defects of parts, unit pins and 5 V groups: the failures their kinds list."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from backprobe.book.model import Book
from backprobe.book.values import attributes_of, group_attributes, role_attributes
from backprobe.circuit.naming import group_name, node_names
from backprobe.circuit.net import Net
from backprobe.defects.model import Atom, RepairGroup
from backprobe.defects.of_contacts import plug_group
from backprobe.defects.sketch import Severity, Sketch, port_of
from backprobe.kinds import GROUP, KINDS, ROLES
from backprobe.kinds.records import Attrs, Cell, Failure, Value
from backprobe.kinds.values import number

NO_DEGREES = (Cell(ohm=0.0, spread=1.0, weight=1.0),)


def part_defects(book: Book, net: Net) -> Iterator[Sketch]:
    """Every failure of every part, unit pin and 5 V group."""
    for part in book.parts.values():
        kind = KINDS[part.kind]
        attrs = attributes_of(book, part.name)
        nodes = node_names(book, part.name)
        for failure in kind.failures:
            sketch = _sketch(book, net, part.name, part.name, failure, attrs, nodes)
            if sketch:
                yield sketch
    for pin, role in book.roles.items():
        attrs = role_attributes(book, pin)
        nodes = node_names(book, pin.part, pin=pin.name, group=role.group)
        for failure in ROLES[role.role].failures:
            sketch = _sketch(book, net, pin.part, str(pin), failure, attrs, nodes)
            if sketch:
                yield sketch
    for unit, name in book.groups:
        attrs = group_attributes(book, unit, name)
        nodes = node_names(book, unit, group=name)
        for failure in GROUP.failures:
            sketch = _sketch(book, net, unit, group_name(unit, name), failure, attrs, nodes)
            if sketch:
                yield sketch


def _sketch(
    book: Book,
    net: Net,
    part: str,
    owner: str,
    failure: Failure,
    attrs: Attrs,
    nodes: Callable[[str], str],
) -> Sketch | None:
    severities = []
    for cell in failure.cells or NO_DEGREES:

        def at_cell(value: Value, cell: Cell = cell) -> float:
            return number(value, attrs, cell)

        try:
            ports = [
                port_of(net, change, lambda name: f"{owner}/{name}", nodes, at_cell)
                for change in failure.changes
            ]
        except KeyError:
            return None
        live = tuple(port for port in ports if port is not None)
        if not live:
            return None
        severities.append(
            Severity(ports=live, ohm=cell.ohm, spread=cell.spread, weight=cell.weight)
        )
    group = plug_group(book, part) if failure.opens == "plug" else part_group(part, failure)
    return Sketch(
        atom=Atom(
            id=f"{owner}/{failure.name}",
            words=f"{owner} {failure.words}",
            kind=failure.name,
            group=group.key,
            owners=(part,),
            rate=failure.rate,
            source=failure.source,
            sometimes=failure.sometimes,
            wet=failure.wet,
            hot=failure.hot,
            moved=failure.moved,
            visible=failure.visible,
        ),
        group=group,
        severities=tuple(severities),
    )


def part_group(part: str, failure: Failure) -> RepairGroup:
    """What is replaced: the part itself."""
    return RepairGroup(key=part, words=part, mend_s=failure.mend_s, access=(part,))
