"""The circuit nobody typed: feeds, grounds, battery and straps, each marked and listed.

What is assumed, in this order: 5 V groups, supply and ground of a control unit, the ground and
signal wires of sensors on a 5 V group, the ground of a load, the feed of a fuse, battery with main fuse and
minus cable, the metal a part is bolted to, straps between the metals. All of it common practice;
a line in the book always wins.
"""

from __future__ import annotations

import re
from dataclasses import replace

from backprobe.book.draft import PLUG, UNITS, Draft, Hop
from backprobe.book.feeds import GROUND, GROUP_ROLE, SUPPLY, add_group, add_role
from backprobe.book.model import BODIES, End, Origin, Pin
from backprobe.book.nets import FUSES, Nets, Node, conducts, is_through, node
from backprobe.book.wires import resolve_pin
from backprobe.kinds import KINDS
from backprobe.kinds.records import Kind

ON_ENGINE = ("starter", "alternator", "glow plug", "oil pressure switch")
LIVE_WITHOUT_KEY = re.compile(
    r"\b(horn|hazard|clock|radio|telematics|memory|battery|permanent|start(er)? relay|isolator)\b",
    re.IGNORECASE,
)
"""Fuses that say or feed one of these are taken as live without the key; all others as live with
the key on. Common practice, no source."""

INPUT_ROLE = "analogue input"


class _Circuit:
    """The draft with the pins that have a wire."""

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.wired: dict[Node, list[Hop]] = {}
        for hop in draft.hops:
            self._note(hop)

    def _note(self, hop: Hop) -> None:
        for end in (hop.a, hop.b):
            self.wired.setdefault(node(end), []).append(hop)

    def has(self, part: str, pin: str) -> bool:
        """Whether a pin has a wire."""
        return (part, pin) in self.wired

    def wire(self, a: End, b: End, because: str) -> None:
        """Add a wire nobody typed."""
        hop = Hop(a=a, b=b, origin=Origin(assumed=True), assumed=("wire",))
        self.draft.hops.append(hop)
        self._note(hop)
        self.draft.assume(f"{self.draft.words(a)} to {self.draft.words(b)}", "a wire", because)

    def nodes(self, start: Node) -> set[Node]:
        """Every pin joined to this one by plain wire, itself included; not through bodies."""
        seen, frontier = {start}, [start]
        while frontier:
            for hop in self.wired.get(frontier.pop(), ()):
                for there in (node(hop.a), node(hop.b)):
                    if there not in seen:
                        seen.add(there)
                        if there[0] not in BODIES:
                            frontier.append(there)
        return seen

    def net(self, start: Node) -> set[str]:
        """Every part joined to this pin by plain wire."""
        return {part for part, _ in self.nodes(start)}

    def part(self, wanted: str, words: str, because: str, body: str = "") -> str:
        """Add a part nobody typed; its name."""
        name = self.draft.free_name(wanted)
        self.draft.add_assumed(name, KINDS[words], because, body=body)
        return name

    def of_kind(self, kind: str) -> list[str]:
        """Names of the parts of a kind."""
        return [name for name, part in self.draft.parts.items() if part.kind == kind]

    def ground(self, part: str, pin: str, because: str) -> None:
        """A ground stud on the frame for one pin."""
        if self.has(part, pin):
            return
        stud = self.part(f"ground of {part}", "ground stud", because, body=BODIES[0])
        self.wire(End(part, pin), End(stud, "1"), because)


def assume(draft: Draft) -> None:
    """Complete the draft's circuit. Does nothing to a book without a single wire or unit."""
    _groups(draft)
    circuit = _Circuit(draft)
    _units(circuit)
    _sensors(circuit)
    _loads(circuit)
    if draft.hops:
        _fuses(circuit)
        _battery(circuit)
    _bodies(draft)
    if draft.hops:
        _straps(circuit)


def _groups(draft: Draft) -> None:
    """A 5 V group that a pin belongs to and that has no line of its own."""
    for pin, role in list(draft.roles.items()):
        if role.role == GROUP_ROLE and role.group and (pin.part, role.group) not in draft.groups:
            add_group(draft, pin.part, role.group, f"{pin} is in it")


def _pin(circuit: _Circuit, part: str, name: str) -> str:
    found = resolve_pin(circuit.draft, part, name)
    return found[0] if found else ""


def _sensors(circuit: _Circuit) -> None:
    """Ground and signal of a sensor whose supply hangs on a unit's 5 V group."""
    draft = circuit.draft
    for name, part in list(draft.parts.items()):
        kind = KINDS[part.kind]
        if part.kind in UNITS or not {"supply", "signal", "ground"} <= set(kind.aliases):
            continue
        supply, signal, ground = (_pin(circuit, name, w) for w in ("supply", "signal", "ground"))
        unit = _group_unit(circuit, (name, supply))
        if not unit:
            continue
        if not circuit.has(name, ground):
            pin = _sensor_ground(circuit, unit)
            circuit.wire(
                End(name, ground), End(unit, pin), "a sensor on a 5 V group is grounded at its unit"
            )
        if not circuit.has(name, signal):
            pin = add_role(draft, unit, f"{name} signal", INPUT_ROLE).name
            circuit.wire(
                End(name, signal), End(unit, pin), "a sensor on a 5 V group reports to its unit"
            )


def _sensor_ground(circuit: _Circuit, unit: str) -> str:
    """The ground pin sensors return to: one that nothing else uses, else one of their own."""
    grounds = [pin for pin, role in circuit.draft.roles_of(unit).items() if role.role == GROUND]
    own = "sensor ground"
    returns = [pin for pin in grounds if _returns(circuit, unit, pin) or pin == own]
    free = [pin for pin in grounds if not circuit.has(unit, pin)]
    found = [*returns, *free[-1:]]
    return found[0] if found else add_role(circuit.draft, unit, own, GROUND).name


def _returns(circuit: _Circuit, unit: str, pin: str) -> bool:
    """Whether a unit's ground pin is wired to sensors and to nothing that grounds it."""
    draft = circuit.draft
    near = circuit.net((unit, pin)) - {unit}
    kinds = {draft.parts[name].kind for name in near if name in draft.parts}
    sensors = any(KINDS[kind].letter == "B" for kind in kinds)
    return sensors and not (
        set(near) & set(BODIES) or kinds & {"ground stud", "ground strap", "battery", "isolator"}
    )


def _group_unit(circuit: _Circuit, start: Node) -> str:
    """The unit whose 5 V group feeds a pin through plain wire, or ""."""
    draft = circuit.draft
    for at in circuit.nodes(start):
        role = draft.roles.get(Pin(*at))
        if role is not None and role.role == GROUP_ROLE:
            return at[0]
    return ""


def _unit_pin(circuit: _Circuit, unit: str, role: str, pin: str) -> str:
    """A pin of a unit with this role: one typed, else one assumed."""
    draft = circuit.draft
    for found, known in draft.roles_of(unit).items():
        if known.role == role:
            return found
    return add_role(draft, unit, pin, role).name


def _units(circuit: _Circuit) -> None:
    """Supply and ground of every control unit."""
    draft = circuit.draft
    for unit in list(draft.units()):
        because = "a control unit works only with supply and ground"
        pins = {role: _unit_pin(circuit, unit, role, role) for role in (SUPPLY, GROUND)}
        grounds = [pin for pin, r in draft.roles_of(unit).items() if r.role == GROUND]
        wired = [pin for pin in grounds if circuit.has(unit, pin)]
        if all(_returns(circuit, unit, pin) for pin in wired):
            free = [pin for pin in grounds if pin not in wired]
            pin = free[0] if free else _free_pin(draft, unit, GROUND)
            if not free:
                add_role(draft, unit, pin, GROUND)
            circuit.ground(unit, pin, because)
        if not any(
            circuit.has(unit, pin) for pin, r in draft.roles_of(unit).items() if r.role == SUPPLY
        ):
            fuse = circuit.part(f"fuse of {unit}", "fuse", because)
            circuit.wire(End(fuse, "2"), End(unit, pins[SUPPLY]), because)


def _free_pin(draft: Draft, unit: str, wanted: str) -> str:
    name, count = wanted, 2
    while name in draft.pins_of(unit):
        name, count = f"{wanted} {count}", count + 1
    return name


def _loads(circuit: _Circuit) -> None:
    """The ground of a load that is fed but has no way back."""
    for name, part in list(circuit.draft.parts.items()):
        kind = KINDS[part.kind]
        feed, back = _feed_and_back(kind)
        if not back or not circuit.has(name, feed) or circuit.has(name, back):
            continue
        if not _comes_from_ground(circuit, (name, feed)):
            circuit.ground(name, back, f"a fed {kind.words[0]} needs a way back to ground")


def _feed_and_back(kind: Kind) -> tuple[str, str]:
    """Pins of a load: fed at the first, grounded at the second. ("", "") for what is no load."""
    if kind.letter == "K" and "86" in kind.pins:
        return "86", "85"
    if {"supply", "ground"} <= set(kind.aliases):
        return kind.aliases["supply"], kind.aliases["ground"]
    if kind.load and kind.pins == ("1", "2"):
        return "1", "2"
    return "", ""


def _comes_from_ground(circuit: _Circuit, start: Node) -> bool:
    """True when a pin hangs on a ground stud or a body: the load is wired the other way round."""
    for hop in circuit.wired.get(start, ()):
        for end in (hop.a, hop.b):
            if end.part in BODIES or (
                end.part in circuit.draft.parts
                and circuit.draft.parts[end.part].kind == "ground stud"
            ):
                return True
    return False


def _fuses(circuit: _Circuit) -> None:
    """A feed for every fuse that has none: from the key switch, or straight from the battery."""
    draft = circuit.draft
    waiting: dict[str, list[str]] = {"key": [], "battery": []}
    for name, part in draft.parts.items():
        if part.kind in FUSES and circuit.has(name, "2") and not circuit.has(name, "1"):
            live = _live_without_key(circuit, name)
            waiting["battery" if live else "key"].append(name)
    switches = circuit.of_kind("key switch")
    if waiting["key"]:
        switch = switches[0] if switches else circuit.part(
            "key switch", "key switch", "a fuse is live with the key on"
        )  # fmt: skip
        _share(circuit, End(switch, "15"), waiting["key"], "key feed",
               "no feed was typed; most fuses are live with the key on")  # fmt: skip
        switches = [switch]
    for switch in switches:
        if not circuit.has(switch, "30"):
            waiting["battery"].append(switch)
    if waiting["battery"]:
        source = _main_feed(circuit)
        _share(circuit, source, waiting["battery"], "main feed",
               "no feed was typed; it is live without the key")  # fmt: skip


def _share(circuit: _Circuit, source: End, names: list[str], bus: str, because: str) -> None:
    start = source
    if len(names) > 1:
        splice = circuit.part(bus, "splice", "one feed serves several")
        circuit.wire(source, End(splice, "1"), because)
        start = End(splice, "1")
    for name in names:
        pin = "30" if circuit.draft.parts[name].kind == "key switch" else "1"
        circuit.wire(start, End(name, pin), because)


def _live_without_key(circuit: _Circuit, fuse: str) -> bool:
    """Whether what a fuse says or feeds is live without the key."""
    draft = circuit.draft
    part = draft.parts[fuse]
    if LIVE_WITHOUT_KEY.search(f"{part.name} {part.where}") or part.kind != "fuse":
        return True
    onward = conducts(draft.parts)
    seen: set[Node] = {(fuse, "2")}
    frontier = [(fuse, "2")]
    while frontier:
        at = frontier.pop()
        for hop in circuit.wired.get(at, ()):
            for end in (hop.a, hop.b):
                if node(end) in seen or end.part in BODIES:
                    continue
                seen.add(node(end))
                found = draft.parts[end.part]
                if found.kind == "key switch" or LIVE_WITHOUT_KEY.search(end.part):
                    return True
                frontier.append(node(end))
                if found.kind in ("splice", PLUG):
                    continue
                if is_through(found) and not KINDS[found.kind].load:
                    frontier += [there for there in onward(node(end)) if there not in seen]
    return False


def _main_feed(circuit: _Circuit) -> End:
    """The load side of the main fuse; one is assumed at the battery when there is none."""
    links = [name for name in circuit.of_kind("fusible link") if circuit.has(name, "1")]
    if links:
        return End(links[0], "2")
    battery = _any_battery(circuit)
    link = circuit.part("main fuse", "fusible link", "everything but the starter hangs behind one")
    circuit.wire(End(battery, "+"), End(link, "1"), "the main fuse sits at the battery")
    return End(link, "2")


def _any_battery(circuit: _Circuit) -> str:
    batteries = circuit.of_kind("battery")
    return batteries[0] if batteries else circuit.part(
        "battery", "battery", "something on the machine needs power"
    )  # fmt: skip


def _battery(circuit: _Circuit) -> None:
    """Minus cable to the frame, and starter cables where a starter has none."""
    battery = _any_battery(circuit)
    for starter in circuit.of_kind("starter"):
        if circuit.has(starter, "50") and not circuit.has(starter, "30"):
            circuit.wire(
                End(battery, "+"), End(starter, "30"), "the starter hangs straight on the battery"
            )
    if not any(circuit.has(name, "-") for name in circuit.of_kind("battery")):
        circuit.wire(End(battery, "-"), End(BODIES[0], ""), "the minus cable goes to the frame")


def _bodies(draft: Draft) -> None:
    """The metal of parts that use it and do not say which."""
    for name, part in draft.parts.items():
        kind = KINDS[part.kind]
        uses = any("@body" in (branch.p, branch.n) for branch in kind.branches)
        if uses and not part.body:
            body = "engine" if part.kind in ON_ENGINE else BODIES[0]
            draft.parts[name] = replace(part, body=body)
            draft.assume(name, f"on {body}", f"where a {kind.words[0]} usually sits")


def _straps(circuit: _Circuit) -> None:
    """A strap to every metal in use that has no way to battery minus."""
    draft = circuit.draft
    nets = Nets()
    used: dict[str, None] = {}
    for hop in draft.hops:
        ends = [_metal(draft, end) for end in (hop.a, hop.b)]
        used |= {end.part: None for end in (hop.a, hop.b) if end.part in BODIES}
        if all(ends):
            nets.join((ends[0], ""), (ends[1], ""))
    for part in draft.parts.values():
        if part.body:
            used[part.body] = None
        if part.kind == "ground strap":
            second = str(part.attrs.get("second body", "engine"))
            nets.join((part.body or BODIES[0], ""), (second, ""))
            used[second] = None
        elif part.kind == "ground stud" and part.body:
            nets.join((part.name, ""), (part.body, ""))
    minus = {nets.find((name, "")) for name in circuit.of_kind("battery")}
    for body in BODIES:
        if body not in used or nets.find((body, "")) in minus:
            continue
        home = next((b for b in BODIES if nets.find((b, "")) in minus), "")
        if not home or home == body:
            continue
        name = draft.free_name(f"{body} strap")
        strap = draft.add_assumed(
            name, KINDS["ground strap"], f"the {body} needs a way to battery minus", body=home
        )
        draft.parts[name] = replace(strap, attrs={"second body": body})
        nets.join((home, ""), (body, ""))
        minus = {nets.find(m) for m in minus}


def _metal(draft: Draft, end: End) -> str:
    """The piece of ground metal an end belongs to ("" when none): body, stud, strap, minus."""
    if end.part in BODIES:
        return end.part
    part = draft.parts[end.part]
    if part.kind == "battery":
        return end.part if end.pin == "-" else ""
    if part.kind == "ground strap":
        return str(part.attrs.get("second body", "engine")) if end.pin == "2" else part.body
    if part.kind in ("ground stud", "isolator"):
        return end.part
    return ""
