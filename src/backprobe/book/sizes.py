"""Sizes of wires the book gives none for: by the fuse that protects them, else by what they carry."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterator, Mapping

from backprobe.base.copper import smallest_for
from backprobe.base.units import show
from backprobe.book.draft import PLUG, UNITS, Draft, Hop
from backprobe.book.model import BODIES, End
from backprobe.book.nets import FUSES, Nets, Node, conducts, node, plain_nets
from backprobe.kinds import KINDS
from backprobe.kinds.values import complete as with_defaults

FEEDS = "it feeds fuses"
STARTER = "it carries the starter's current"
SIGNAL = "the usual size of a signal wire"
SIGNAL_M2 = 0.75e-6
MAIN_M2 = 6e-6
STARTER_M2 = 25e-6
"""Sizes of wires no fuse speaks for. Starter cable: 25 mm2 up to 1.3 m of plus and minus
together (Volvo Penta D1/D2 installation manual); the others: common practice, no source."""
POSTS: Mapping[str, tuple[str, ...]] = {
    "battery": ("+", "-"),
    "starter": ("30",),
    "alternator": ("B+",),
    "ground strap": ("1", "2"),
}
"""Posts between which the current of starter and alternator flows; beside them the bodies."""

Size = tuple[float, str]


def size_wires(draft: Draft) -> None:
    """Give every wire without a size one, and say why."""
    if all(hop.area_m2 is not None for hop in draft.hops):
        return
    nets = plain_nets((hop.a, hop.b) for hop in draft.hops)
    fused = _fused(draft, nets)
    main = _main(draft, nets)
    grounds = {nets.find(at) for at in _grounds(draft)}
    back = _back(draft, nets, fused, grounds)
    cables = _cables(draft)
    for hop in draft.hops:
        if hop.area_m2 is not None:
            continue
        net = nets.find(node(hop.a))
        if hop.id in cables:
            area, because = STARTER_M2, STARTER
        elif net in grounds:
            area, because = back.get(node(hop.a)) or back.get(node(hop.b)) or (SIGNAL_M2, SIGNAL)
        elif net in main:
            area, because = main[net]
        elif net in fused:
            area, because = _by_fuse(*fused[net])
        else:
            area, because = SIGNAL_M2, SIGNAL
        hop.area_m2 = area
        hop.assumed = (*hop.assumed, "size")
        draft.assume(f"wire {hop.id}", show(area, "m2"), because)


def fuse_amps(draft: Draft, part: str) -> float:
    """The rating of a fuse, typed or by default, in amperes."""
    found = draft.parts[part]
    attrs = with_defaults(KINDS[found.kind].attributes, found.attrs, volts=draft.machine.volts)
    return float(attrs["amps"])


def _by_fuse(fuse: str, amps: float) -> Size:
    return max(SIGNAL_M2, smallest_for(amps)), f"{fuse} is {show(amps, 'A')}"


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


def _main(draft: Draft, nets: Nets) -> Mapping[Node, Size]:
    """Nets between the battery and the fuses."""
    main: dict[Node, Size] = {}
    for name, part in draft.parts.items():
        if part.kind == "battery":
            main.setdefault(nets.find((name, "+")), (MAIN_M2, "it starts at the battery"))
        elif part.kind in FUSES:
            net, area = nets.find((name, "1")), smallest_for(fuse_amps(draft, name))
            main[net] = (max(MAIN_M2, area, main.get(net, (0.0, ""))[0]), FEEDS)
    for name, part in draft.parts.items():
        # Behind a fuse the fuse speaks, even where the wire goes on to another fuse.
        if part.kind in FUSES and main.get(nets.find((name, "2")), (0.0, ""))[1] == FEEDS:
            amps = fuse_amps(draft, name)
            main[nets.find((name, "2"))] = (smallest_for(amps), f"{name} is {show(amps, 'A')}")
    return main


def _grounds(draft: Draft) -> Iterator[Node]:
    """Bodies, and what is bolted to them for ground."""
    yield from ((body, "") for body in BODIES)
    for name, part in draft.parts.items():
        if part.kind == "battery":
            yield (name, "-")
        elif part.kind in ("ground stud", "ground strap"):
            yield from ((name, pin) for pin in part.pins)


def _cables(draft: Draft) -> frozenset[str]:
    """Ids of the wires between battery, starter, alternator and the bodies: what is left when every branch
    that ends elsewhere is taken off. A ground wire of a lamp or sensor is such a branch."""
    posts = {(body, "") for body in BODIES}
    posts |= {(name, pin) for name, part in draft.parts.items() for pin in POSTS.get(part.kind, ())}
    inside: list[tuple[Node, Node]] = []
    for name, part in draft.parts.items():
        if part.kind == "isolator":
            inside.append(((name, "1"), (name, "2")))
        elif part.kind == "ground stud":
            inside.append(((name, part.pins[0]), (part.body or BODIES[0], "")))
    passed = {at for pair in inside for at in pair}

    def carries(at: Node) -> bool:
        part = draft.parts.get(at[0])
        return at in posts or at in passed or part is None or part.kind in (PLUG, "splice")

    left = {hop.id: hop for hop in draft.hops if carries(node(hop.a)) and carries(node(hop.b))}
    met = Counter(at for pair in inside for at in pair)
    at: dict[Node, list[Hop]] = {}
    for hop in left.values():
        for end in (node(hop.a), node(hop.b)):
            met[end] += 1
            at.setdefault(end, []).append(hop)
    loose = [end for end in at if met[end] < 2 and end not in posts]
    while loose:
        for hop in at[loose.pop()]:
            if left.pop(hop.id, None) is None:
                continue
            for end in (node(hop.a), node(hop.b)):
                met[end] -= 1
                if met[end] < 2 and end not in posts:
                    loose.append(end)
    return frozenset(left)


def _back(
    draft: Draft, nets: Nets, fused: Mapping[Node, tuple[str, float]], grounds: Container[Node]
) -> Mapping[Node, Size]:
    """Sizes of ground wires by their ends: on the way from a part to its stud or body as thick as what
    feeds the part."""
    onward, ways = conducts(draft.parts), Nets()
    for hop in draft.hops:
        if nets.find(node(hop.a)) in grounds and not _stud(draft, hop.a) | _stud(draft, hop.b):
            ways.join(node(hop.a), node(hop.b))
    ends = {node(end) for hop in draft.hops for end in (hop.a, hop.b)}
    most: dict[Node, tuple[str, float]] = {}
    for at in sorted(ends):
        if nets.find(at) not in grounds:
            continue
        for far in sorted(onward(at)):
            feed = fused.get(nets.find(far)) if nets.find(far) not in grounds else None
            if feed and feed[1] > most.get(ways.find(at), ("", 0.0))[1]:
                most[ways.find(at)] = feed
    return {at: _by_fuse(*most[ways.find(at)]) for at in ends if ways.find(at) in most}


def _stud(draft: Draft, end: End) -> bool:
    """Where grounds of parts that have nothing else in common meet."""
    part = draft.parts.get(end.part)
    return part is None or KINDS[part.kind].joint == "stud"
