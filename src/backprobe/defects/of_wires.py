"""Defects of wires: broken, rubbed through to metal, to a feed, to a neighbour; a loom cut."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations
from math import inf

from backprobe.book.model import BODIES, Book, Wire
from backprobe.circuit.net import Net
from backprobe.circuit.ports import Port
from backprobe.defects.model import RUBBED, TO_GROUND, Atom, PlaceShare, RepairGroup
from backprobe.defects.places import (
    Stretch,
    body_near,
    fraction,
    likeliest,
    shares,
    spots_by_section,
    stretches,
    worst_exposure,
)
from backprobe.defects.sketch import Severity, Sketch, series, single, tapped
from backprobe.kinds import rates
from backprobe.kinds.records import Cell


def wire_words(wire: Wire) -> str:
    """A wire's name for a technician: its printed name and where it runs."""
    ends = f"{wire.a.part} to {wire.b.part}"
    return f"wire {wire.name} ({ends})" if wire.name else f"wire {ends}"


def wire_group(wire: Wire) -> RepairGroup:
    """What is opened to mend one wire."""
    access = tuple(wire.route) or tuple(p for p in (wire.a.part, wire.b.part) if p not in BODIES)
    words = wire_words(wire)
    return RepairGroup(key=words, words=words, mend_s=rates.MEND_WIRE_S, access=access[:1])


def rubbed_group(section: str) -> RepairGroup:
    """What is opened when two wires touch in a section: whichever two they are, the loom is
    opened along it and every bare place in it is seen."""
    key = f"rubbed wires in section {section}"
    return RepairGroup(key=key, words=key, mend_s=rates.MEND_RUBBED_S, access=(section,))


def wire_defects(book: Book, net: Net) -> Iterator[Sketch]:
    """Every defect of every wire, and of wires against each other in their sections."""
    spots = spots_by_section(book)
    inside: dict[str, list[tuple[Wire, Stretch]]] = {}
    for wire in book.wires.values():
        for stretch in stretches(book, wire, spots):
            yield from _alone(book, net, wire, stretch)
            if stretch.section:
                inside.setdefault(stretch.section, []).append((wire, stretch))
    for section, members in inside.items():
        crowd = max(1, len(members) - 1)
        for (one, first), (two, second) in combinations(members, 2):
            if not _joined(net, one, two):
                yield _touching(net, section, (one, first), (two, second), crowd)
        yield _cut(book, net, section, [wire for wire, _ in members])


def _alone(book: Book, net: Net, wire: Wire, stretch: Stretch) -> Iterator[Sketch]:
    exposure, places = shares(stretch)
    branch = f"wire {wire.id}"
    t = fraction(wire, stretch, places[0].at_m)
    named = wire_words(wire)
    where = likeliest(places)
    section = book.sections.get(stretch.section)
    body = body_near(book, section)

    def sketch(kind: str, words: str, rate: rates.Rate, severities: tuple[Severity, ...]) -> Sketch:
        return _sketch(wire, stretch, kind, words, rate, (exposure, places), severities)

    yield sketch(
        "open", f"{named} broken {where}", rates.WIRE_OPEN, single([series(net, branch, inf)])
    )
    yield sketch(
        "strands",
        f"{named} down to a few strands or green {where}",
        rates.WIRE_THIN,
        tuple(
            Severity(
                ports=(series(net, branch, c.ohm),), ohm=c.ohm, spread=c.spread, weight=c.weight
            )
            for c in rates.THIN_CELLS
        ),
    )
    if net.elements[net.branch[branch]].n != body and body in net.node:
        yield sketch(
            TO_GROUND,
            f"{named} rubbed through to ground {where}",
            rates.WIRE_TO_GROUND,
            _bare(rates.SHORT_CELLS, lambda ohm: tapped(net, branch, t, ohm, body=body)),
        )
    if not stretch.section:
        yield sketch(
            "to feed",
            f"{named} touching a live wire {where}",
            rates.WIRE_TO_FEED,
            _bare(rates.SHORT_CELLS, lambda ohm: tapped(net, branch, t, ohm, body=feed_node(net))),
        )


def feed_node(net: Net) -> str:
    """The battery's plus post."""
    return next(element.p for element in net.elements if element.battery)


def _bare(cells: tuple[Cell, ...], port: Callable[[float], Port]) -> tuple[Severity, ...]:
    return tuple(
        Severity(ports=(port(c.ohm),), ohm=c.ohm, spread=c.spread, weight=c.weight) for c in cells
    )


def _sketch(
    wire: Wire,
    stretch: Stretch,
    kind: str,
    words: str,
    rate: rates.Rate,
    exposed: tuple[float, tuple[PlaceShare, ...]],
    severities: tuple[Severity, ...],
) -> Sketch:
    group = wire_group(wire)
    owners = [f"wire {wire.id}", *([stretch.section] if stretch.section else [])]
    return Sketch(
        atom=Atom(
            id=f"wire {wire.id}/{kind}/{stretch.section or 'run'}",
            words=words,
            kind=kind,
            group=group.key,
            owners=tuple(owners),
            rate=rate.value * exposed[0],
            source=rate.source,
            sometimes=rate.sometimes,
            wet=rate.wet * worst_exposure(stretch, "wet"),
            hot=rate.hot * worst_exposure(stretch, "hot"),
            moved=rate.moved * worst_exposure(stretch, "moved"),
            visible=rate.visible,
            places=exposed[1],
        ),
        group=group,
        severities=severities,
    )


def _joined(net: Net, one: Wire, two: Wire) -> bool:
    """Two wires that meet at an end change nothing by touching."""
    ends = [net.elements[net.branch[f"wire {wire.id}"]] for wire in (one, two)]
    return bool({ends[0].p, ends[0].n} & {ends[1].p, ends[1].n})


def _touching(
    net: Net,
    section: str,
    one: tuple[Wire, Stretch],
    two: tuple[Wire, Stretch],
    crowd: int,
) -> Sketch:
    exposure, places = shares(one[1])
    t = tuple(fraction(wire, stretch, places[0].at_m) for wire, stretch in (one, two))
    names = [f"wire {wire.name or wire.id}" for wire, _ in (one, two)]
    words = f"{names[0]} and {names[1]} rubbed through to each other {likeliest(places)}"
    group = rubbed_group(section)
    rate = rates.WIRE_TO_WIRE
    return Sketch(
        atom=Atom(
            id=f"wire {one[0].id}/to wire {two[0].id}/{section}",
            words=words,
            kind=RUBBED,
            group=group.key,
            owners=(f"wire {one[0].id}", f"wire {two[0].id}", section),
            rate=rate.value * exposure * 2.0 / crowd,
            source=rate.source,
            sometimes=rate.sometimes,
            wet=rate.wet * worst_exposure(one[1], "wet"),
            hot=rate.hot * worst_exposure(one[1], "hot"),
            moved=rate.moved * worst_exposure(one[1], "moved"),
            visible=rate.visible,
            places=places,
        ),
        group=group,
        severities=_bare(
            rates.PAIR_CELLS,
            lambda ohm: tapped(
                net, f"wire {one[0].id}", t[0], ohm, other=(f"wire {two[0].id}", t[1])
            ),
        ),
    )


def _cut(book: Book, net: Net, section: str, wires: list[Wire]) -> Sketch:
    rate = rates.SECTION_CUT
    group = RepairGroup(
        key=f"loom section {section}",
        words=f"loom section {section}",
        mend_s=rates.MEND_LOOM_S,
        access=(section,),
    )
    ports = [series(net, f"wire {wire.id}", inf) for wire in wires]
    return Sketch(
        atom=Atom(
            id=f"section {section}/cut",
            words=f"loom section {section} cut or torn",
            kind="loom cut",
            group=group.key,
            owners=(section,),
            rate=rate.value * book.sections[section].length_m,
            source=rate.source,
            sometimes=rate.sometimes,
            wet=rate.wet,
            hot=rate.hot,
            moved=rate.moved,
            visible=rate.visible,
        ),
        group=group,
        severities=single(ports),
    )
