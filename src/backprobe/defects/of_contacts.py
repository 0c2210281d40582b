"""Defects of contacts: a pin gone bad, a plug off, half mated or wet, lugs of a stud."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import inf

from backprobe.book.model import BODIES, Book
from backprobe.book.values import pin_words
from backprobe.circuit.net import Net
from backprobe.defects.model import Atom, RepairGroup
from backprobe.defects.sketch import Severity, Sketch, bridge, series, single
from backprobe.kinds import KINDS, rates
from backprobe.kinds.records import CONTACT_CELLS, LUG_CELLS

CONTACT = "/contact"


def plug_group(book: Book, part: str) -> RepairGroup:
    """What is opened to mend a contact of a part: the plug, the part's plug, the stud."""
    words = joint_words(book, part)
    return RepairGroup(key=words, words=words, mend_s=rates.MEND_CONTACT_S, access=(part,))


def joint_words(book: Book, part: str) -> str:
    """How a technician names the joint at a part."""
    if part in BODIES:
        return f"lug on the {part}"
    kind = KINDS[book.parts[part].kind]
    if kind.name == "plug":
        return f"plug {part}"
    if kind.name in rates.SOCKETED:
        return f"socket of {part}"
    if kind.joint == "plug":
        return f"plug at {part}"
    return {"stud": f"lugs at {part}", "crimp": f"{kind.words[0]} {part}"}.get(kind.joint, part)


def contact_defects(book: Book, net: Net) -> Iterator[Sketch]:
    """Every contact alone, then the events that take a whole plug."""
    by_part: dict[str, list[tuple[str, str]]] = {}
    for element in net.elements:
        if element.name.endswith(CONTACT):
            place = element.name.removesuffix(CONTACT)
            if place in book.parts:
                continue  # a switch's or relay's own contact fails by its kind
            part = _owner(book, place)
            by_part.setdefault(part, []).append((place, element.name))
    for part, contacts in by_part.items():
        for place, branch in contacts:
            yield _contact(book, net, part, place, branch)
        plugged = part not in BODIES and KINDS[book.parts[part].kind].joint == "plug"
        if plugged and len(contacts) > 1:
            yield from _whole_plug(book, net, part, contacts)


def _owner(book: Book, place: str) -> str:
    """The part a contact belongs to, from its node name."""
    lug, _, _ = place.partition("<")
    name, _, _ = lug.partition(":")
    if name in book.parts or name in BODIES:
        return name
    return name.rpartition(".")[0]


def _pin_words(book: Book, part: str, place: str) -> str:
    if "<" in place:
        wire = book.wires[place.split("<")[1].rstrip(">")]
        return f"lug of wire {wire.name or wire.id} on {part}"
    pin = place.rpartition(".")[2]
    if part in book.parts and book.parts[part].kind == "plug":
        return f"{part} way {pin}"
    return f"{part} pin {pin_words(book.parts[part], pin) if part in book.parts else pin}"


def _contact(book: Book, net: Net, part: str, place: str, branch: str) -> Sketch:
    kind = KINDS[book.parts[part].kind] if part in book.parts else None
    rate = rates.contact_at(kind.name, kind.joint) if kind else rates.LUG
    group = plug_group(book, part)
    return Sketch(
        atom=_atom(
            f"contact {place}",
            f"bad contact at {_pin_words(book, part, place)} (corroded, loose or pushed out)",
            "bad contact",
            group,
            part,
            rate,
        ),
        group=group,
        severities=tuple(
            Severity(
                ports=(series(net, branch, cell.ohm),),
                ohm=cell.ohm,
                spread=cell.spread,
                weight=cell.weight,
            )
            for cell in (LUG_CELLS if kind and kind.joint == "stud" else CONTACT_CELLS)
        ),
    )


def _whole_plug(
    book: Book, net: Net, part: str, contacts: list[tuple[str, str]]
) -> Iterator[Sketch]:
    group = plug_group(book, part)
    kind = book.parts[part].kind

    def rate(event: rates.Rate) -> rates.Rate:
        return rates.whole_plug_at(event, kind)

    branches = [branch for _, branch in contacts]
    opened = single([series(net, branch, inf) for branch in branches])
    yield Sketch(
        atom=_atom(
            f"plug {part}/off",
            f"{group.words} is off",
            "plug off",
            group,
            part,
            rate(rates.PLUG_OFF),
        ),
        group=group,
        severities=opened,
    )
    yield Sketch(
        atom=_atom(
            f"plug {part}/half mated",
            f"{group.words} only half mated: all its contacts poor",
            "half mated",
            group,
            part,
            rate(rates.PLUG_HALF),
        ),
        group=group,
        severities=tuple(
            Severity(
                ports=tuple(series(net, branch, c.ohm) for branch in branches),
                ohm=c.ohm,
                spread=c.spread,
                weight=c.weight,
            )
            for c in rates.HALF_MATED_CELLS
        ),
    )
    # Neighbours on the face of the plug: ways in their own order, not that of the book's lines.
    faced = sorted(contacts, key=lambda contact: (len(contact[0]), contact[0]))
    nodes = [net.elements[net.branch[branch]].p for _, branch in faced]
    yield Sketch(
        atom=_atom(
            f"plug {part}/wet",
            f"water in {group.words}: its ways leak to each other",
            "wet plug",
            group,
            part,
            rate(rates.PLUG_WET),
        ),
        group=group,
        severities=tuple(
            Severity(
                ports=tuple(bridge(net, p, n, c.ohm) for p, n in pairwise(nodes) if p != n),
                ohm=c.ohm,
                spread=c.spread,
                weight=c.weight,
            )
            for c in rates.WET_CELLS
        ),
    )


def _atom(
    ident: str, words: str, kind: str, group: RepairGroup, part: str, rate: rates.Rate
) -> Atom:
    return Atom(
        id=ident,
        words=words,
        kind=kind,
        group=group.key,
        owners=(part,),
        rate=rate.value,
        source=rate.source,
        sometimes=rate.sometimes,
        wet=rate.wet,
        hot=rate.hot,
        moved=rate.moved,
        visible=rate.visible,
    )
