"""Fills in what wires and parts still lack, and freezes the draft into a book."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from backprobe.base.copper import smallest_for
from backprobe.base.units import show
from backprobe.book.draft import UNITS, Draft, Hop
from backprobe.book.model import BODIES, Book, Part, Section, Wire
from backprobe.book.nets import FUSES, Nets, Node, conducts, node, plain_nets
from backprobe.book.places import CLOSE_S, OPEN_S, UNKNOWN_M, distance, place_of
from backprobe.kinds import KINDS
from backprobe.kinds.values import complete as with_defaults

FEEDS = "it feeds fuses"
SIGNAL_M2 = 0.75e-6
MAIN_M2 = 6e-6
STARTER_M2 = 25e-6
"""Sizes of wires no fuse speaks for. Starter cable: 25 mm2 up to 1.3 m of plus and minus
together (Volvo Penta D1/D2 installation manual); the others: common practice, no source."""


def complete(draft: Draft, digest: str) -> Book:
    """The finished book: ids, sizes, lengths and minutes filled in, assumptions listed."""
    _ids(draft)
    _sizes(draft)
    _lengths(draft)
    parts = {
        name: _minutes(draft, replace(part, pins=tuple(draft.pins_of(name))))
        for name, part in draft.parts.items()
    }
    sections = {name: _section(draft, section) for name, section in draft.sections.items()}
    return Book(
        machine=draft.machine,
        parts=MappingProxyType(parts),
        wires=MappingProxyType({hop.id: _wire(hop) for hop in draft.hops}),
        sections=MappingProxyType(sections),
        spots=MappingProxyType(draft.spots),
        roles=MappingProxyType(draft.roles),
        groups=MappingProxyType(draft.groups),
        codes=MappingProxyType(draft.codes),
        displays=MappingProxyType(draft.displays),
        functions=MappingProxyType(draft.functions),
        assumptions=tuple(draft.assumptions),
        extras=tuple(draft.extras),
        digest=digest,
    )


def _wire(hop: Hop) -> Wire:
    return Wire(
        id=hop.id,
        name=hop.name,
        a=hop.a,
        b=hop.b,
        area_m2=hop.area_m2 or SIGNAL_M2,
        length_m=hop.length_m or UNKNOWN_M,
        colour=hop.colour,
        stated=hop.stated,
        route=hop.route,
        assumed=hop.assumed,
        origin=hop.origin,
    )


# -- ids ----------------------------------------------------------------------------------


def _ids(draft: Draft) -> None:
    """A wire's id is its printed name; where that repeats or is missing, its ends."""
    names = Counter(hop.name for hop in draft.hops if hop.name)
    taken: Counter[str] = Counter()
    for hop in draft.hops:
        ends = f"{draft.words(hop.a)}-{draft.words(hop.b)}"
        if not hop.name:
            wanted = ends
        elif names[hop.name] == 1:
            wanted = hop.name
        else:
            wanted = f"{hop.name} {ends}"
        taken[wanted] += 1
        hop.id = wanted if taken[wanted] == 1 else f"{wanted} ({taken[wanted]})"
        while hop.id in taken and taken[hop.id] and hop.id != wanted:
            taken[wanted] += 1
            hop.id = f"{wanted} ({taken[wanted]})"


# -- sizes --------------------------------------------------------------------------------


def _sizes(draft: Draft) -> None:
    if all(hop.area_m2 is not None for hop in draft.hops):
        return
    nets = plain_nets((hop.a, hop.b) for hop in draft.hops)
    fused = _fused(draft, nets)
    heavy = _heavy(draft, nets)
    for hop in draft.hops:
        if hop.area_m2 is not None:
            continue
        net = nets.find(node(hop.a))
        if net in heavy:
            area, because = heavy[net]
        elif net in fused:
            fuse, amps = fused[net]
            area = max(SIGNAL_M2, smallest_for(amps))
            because = f"{fuse} is {show(amps, 'A')}"
        else:
            area, because = SIGNAL_M2, "the usual size of a signal wire"
        hop.area_m2 = area
        hop.assumed = (*hop.assumed, "size")
        draft.assume(f"wire {hop.id}", show(area, "m2"), because)


def fuse_amps(draft: Draft, part: str) -> float:
    """The rating of a fuse, typed or by default, in amperes."""
    found = draft.parts[part]
    attrs = with_defaults(KINDS[found.kind].attributes, found.attrs, volts=draft.machine.volts)
    return float(attrs["amps"])


def _fused(draft: Draft, nets: Nets) -> Mapping[Node, tuple[str, float]]:
    """For each net the fuse nearest to it on the way from the feed, and its rating."""
    onward = conducts(draft.parts)
    members = nets.members()
    fused: dict[Node, tuple[str, float]] = {}
    frontier: list[Node] = []
    for name, part in draft.parts.items():
        if part.kind in FUSES:
            net = nets.find((name, "2"))
            if net in members and net not in fused:
                fused[net] = (name, fuse_amps(draft, name))
                frontier.append(net)
    for net in frontier:
        for at in members[net]:
            found = draft.parts.get(at[0])
            if found is None or found.kind in (*FUSES, *UNITS, "battery"):
                continue
            for there in onward(at):
                other = nets.find(there)
                if there[0] not in BODIES and other in members and other not in fused:
                    fused[other] = fused[net]
                    frontier.append(other)
    return fused


def _heavy(draft: Draft, nets: Nets) -> Mapping[Node, tuple[float, str]]:
    """Nets of starter cables and main feeds."""
    heavy: dict[Node, tuple[float, str]] = {}
    posts = {"battery": ("-",), "starter": ("30",), "ground strap": ("1", "2")}
    for name, part in draft.parts.items():
        if part.kind == "battery":
            heavy.setdefault(nets.find((name, "+")), (MAIN_M2, "it starts at the battery"))
        elif part.kind in FUSES:
            net, area = nets.find((name, "1")), smallest_for(fuse_amps(draft, name))
            area = max(MAIN_M2, area, heavy.get(net, (0.0, ""))[0])
            heavy[net] = (area, FEEDS)
    for name, part in draft.parts.items():
        for pin in posts.get(part.kind, ()):
            heavy[nets.find((name, pin))] = (STARTER_M2, "it carries the starter's current")
    for name, part in draft.parts.items():
        # Behind a fuse the fuse speaks, even where the wire goes on to another fuse.
        if part.kind in FUSES and heavy.get(nets.find((name, "2")), (0.0, ""))[1] == FEEDS:
            amps = fuse_amps(draft, name)
            heavy[nets.find((name, "2"))] = (
                smallest_for(amps),
                f"{name} is {show(amps, 'A')}",
            )
    return heavy


# -- lengths and minutes ------------------------------------------------------------------


def _lengths(draft: Draft) -> None:
    for hop in draft.hops:
        if hop.length_m is not None:
            continue
        if hop.route:
            hop.length_m = sum(draft.sections[name].length_m for name in hop.route)
            continue
        places = [
            draft.parts[end.part].where if end.part in draft.parts else "" for end in (hop.a, hop.b)
        ]
        hop.length_m, because = distance(*places)
        hop.assumed = (*hop.assumed, "length")
        draft.assume(f"wire {hop.id}", show(hop.length_m, "m"), because)


def _minutes(draft: Draft, part: Part) -> Part:
    if part.open_s is not None and part.close_s is not None:
        return part
    found = place_of(part.where)
    if part.open_s is not None:
        open_s, close_s = part.open_s, _rounded(part.open_s * 0.75)
        because = "a place is closed a little faster than it is opened"
    elif found:
        open_s, close_s = found[0].open_s, found[0].close_s
        because = f'its place says "{found[1]}"'
    else:
        open_s, close_s, because = OPEN_S, CLOSE_S, "nothing is known of its place"
    if part.close_s is not None:
        close_s = part.close_s
    if part.kind != "splice":
        draft.assume(part.name, f"open {show(open_s, 's')}, close {show(close_s, 's')}", because)
    return replace(part, open_s=open_s, close_s=close_s)


def _section(draft: Draft, section: Section) -> Section:
    if section.open_s is not None and section.close_s is not None:
        return section
    open_s = 300.0 if section.open_s is None else section.open_s
    close_s = _rounded(open_s * 0.75) if section.close_s is None else section.close_s
    draft.assume(
        f"section {section.name}", f"open {show(open_s, 's')}, close {show(close_s, 's')}",
        "the time to bare it was not typed",
    )  # fmt: skip
    return replace(section, open_s=open_s, close_s=close_s)


def _rounded(seconds: float) -> float:
    return max(30.0, round(seconds / 30.0) * 30.0)
