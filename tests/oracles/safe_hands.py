"""Whether a check can hurt somebody or something, judged without the rules that bar checks.

The book is followed wire by wire, and the circuit, with the check's leads fitted, is solved by the
one-at-a-time oracle: volts where an ohmmeter is held, amps in each lead, in the pins of control
units, in what moves the machine and in plugs about to be taken off. Limits are common practice and
judgement where no source stands beside them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from backprobe.book.model import Book, End, Pin
from backprobe.book.situations import Lead, Situation
from backprobe.checks.model import Check
from backprobe.circuit.net import Net
from backprobe.kinds import KINDS
from backprobe.kinds.records import Change
from oracles import nodal, one_at_a_time
from oracles.plain import Element, Plain

DEAD_V = 0.1
METER_V, METER_OHM = 5.0, 1000.0
"""An ohmmeter at its worst: 5 mA and 5 V (handheld meters' data sheets, from memory)."""
INTO_UNIT_V = 0.4
"""Less than any silicon junction conducts at."""
PIN_A = 0.02
"""What a lead may add to the current of a signal, 5 V, CAN or driver pin."""
ENERGISED_A = 0.1
JUMPER_A, CABLE_A, SLIP_A = 15.0, 600.0, 100.0
PLUG_A = 1.0
"""More than this breaks with an arc in a small plug."""
HARMLESS = ("supply", "ground")
MINUS = "battery minus"


@dataclass(slots=True)
class Judge:
    """Judges checks on one machine. `suspects`: physical changes of some defects, each of which
    must be safe too; the first is none."""

    book: Book
    net: Net
    suspects: Sequence[Sequence[Change | one_at_a_time.Tap]] = ((),)
    solved: int = 0
    _contacts: dict[str, list[str]] = field(default_factory=dict)
    _moved: dict[tuple[Situation, int], list[str]] = field(default_factory=dict)
    _slips: dict[str, bool] = field(default_factory=dict)
    _metered: dict[object, list[str]] = field(default_factory=dict)
    _ends: dict[tuple[Situation, int], one_at_a_time.End] = field(default_factory=dict)
    _copper: dict[str, frozenset[End]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for element in self.net.elements:
            if element.name.endswith("/contact"):  # "X10.3/contact", "starter:50<15>/contact"
                part = element.name.partition(":" if "<" in element.name else ".")[0]
                self._contacts.setdefault(part, []).append(element.name)

    def wrong(self, check: Check) -> list[str]:
        """Everything wrong with a check; [] when it is safe."""
        situation = replace(check.situation.bare(), renewed=frozenset())
        check = replace(check, situation=situation)
        return [
            *self._words_missing(check),
            *self._hands(check),
            *self._touched(check),
            *(
                words
                for number in range(len(self.suspects))
                for words in (*self._ohms(check, number), *self._leads(check, number))
            ),
            *(
                words
                for number in range(len(self.suspects))
                for words in self._moves(check, number)
            ),
        ]

    # -- the book alone -------------------------------------------------------------------
    def _words_missing(self, check: Check) -> Iterator[str]:
        situation, told = check.situation, set(check.hazards)
        wanted = {
            "unplug-live": bool(situation.unplugged),
            "crank-limit": situation.key == "crank",
            "moving-parts": situation.key == "run",
            "fumes": situation.key == "run",
            "ohms-live": check.does in ("ohms", "beep"),
            "fuse-rating": check.does in ("fuse", "new fuse"),
            "unit-lines": any(
                self._unit_pins(node, situation.unplugged)
                for node in self._held(check)
                if not self._inside(check, node)
            ),
            "short-circuit": not situation.battery_off
            and any(self._delivers(node) for node in self._held(check)),
        }
        for slug, needed in wanted.items():
            if needed and slug not in told:
                yield f"no word of {slug}"
        if situation.battery_off and not told & {"battery-gas", "battery-off-running"}:
            yield "no word of the battery"
        if situation.key == "crank" and check.people < 2:
            yield "one person alone cranks and reads"

    def _hands(self, check: Check) -> Iterator[str]:
        situation = check.situation
        if situation.unplugged and situation.key == "run":
            yield "a plug off while the engine runs"
        if situation.battery_off and situation.key != "off":
            yield "battery minus off with the key on"
        tried = {check.target, check.setting, *check.target.split(", ")}
        for function in self.book.functions.values():
            if function.moves and (function.name in tried or situation.on & {*function.commands}):
                yield f"{function.name} moves the machine"
        for part in sorted(situation.unplugged):
            amps = self._through(Situation(key="off"), part, 0)
            if amps > PLUG_A:
                yield f"{part} taken off while it carries {amps:.1f} A"

    def _touched(self, check: Check) -> Iterator[str]:
        situation = check.situation
        off = situation.unplugged | situation.pulled
        leads = [node for lead in situation.fitted for node in (lead.p, lead.n)]
        for node in (*self._held(check), *leads):
            part = self.book.parts.get(node.replace(":", ".").partition(".")[0])
            joint = KINDS[part.kind].joint if part is not None else "stud"
            if part is None or node == MINUS or part.name in off:
                continue
            if joint == "crimp":
                yield f"{node} has no bare metal"
            if joint == "plug" and not part.backprobe:
                yield f"{node} cannot be back-probed"

    def _held(self, check: Check) -> tuple[str, ...]:
        """Nodes a hand holds a probe on."""
        probe = check.probe
        if probe is None or probe.kind in ("inner", "amps", "share") or check.does == "amps":
            return ()
        more = check.target.split(", ") if check.does == "beep" else []
        return tuple(n for n in dict.fromkeys((probe.p, probe.n, *more)) if n and n != MINUS)

    def _inside(self, check: Check, node: str) -> bool:
        """Whether a node is the metal of an unplugged part, which hangs on nothing."""
        part, colon, _ = node.partition(":")
        return bool(colon) and part in check.situation.unplugged | check.situation.pulled

    def _unit_pins(self, node: str, off: frozenset[str]) -> list[Pin]:
        """Pins of units on the copper of a node that are more than feed and ground."""
        return [
            Pin(end.part, end.pin)
            for end in sorted(self._on_copper(node))
            if end.part not in off
            and (role := self.book.roles.get(Pin(end.part, end.pin)))
            and role.role not in HARMLESS
        ]

    def _on_copper(self, node: str) -> frozenset[End]:
        """Wire ends that a node is one piece of copper with, every plug on."""
        if node not in self._copper:
            part, _, pin = node.replace(":", ".").partition(".")
            sides = [(pin[:-1], pin[-1]), (pin, "")] if pin[-1:] in ("a", "b") else [(pin, "")]
            todo = {End(part, name, side) for name, side in sides}
            seen: set[End] = set()
            while todo:
                here = todo.pop()
                seen.add(here)
                known = self.book.parts.get(here.part)
                knot = known is not None and known.kind in ("splice", "ground stud")
                for wire in self.book.wires.values():
                    for one, other in ((wire.a, wire.b), (wire.b, wire.a)):
                        same = (one.part, one.pin) == (here.part, here.pin) or (
                            knot and one.part == here.part
                        )
                        if same:
                            todo |= {one, other} - seen
            self._copper[node] = frozenset(seen)
        return self._copper[node]

    # -- the circuit solved -----------------------------------------------------------------
    def _end(self, situation: Situation, number: int) -> one_at_a_time.End:
        key = (situation, number)
        if key not in self._ends:
            self.solved += 1
            self._ends[key] = one_at_a_time.lived(self.net, situation, self.suspects[number])
        return self._ends[key]

    def _volts(self, end: one_at_a_time.End, node: str) -> float | None:
        return end.volts.get(self.net.alias.get(node, node))

    def _ohms(self, check: Check, number: int) -> Iterator[str]:
        """The circuit is dead where an ohmmeter is held, and the meter drives no electronics."""
        probe, situation = check.probe, check.situation
        if probe is None or check.does not in ("ohms", "beep"):
            return
        if number and situation.battery_off:
            return  # nothing is live without the battery, whatever is broken
        held = [n for n in (probe.p, probe.n, probe.p2, probe.n2, *self._held(check)) if n]
        key = (situation, number, *held)
        if key not in self._metered:
            self._metered[key] = list(self._meter_on(situation, number, held))
        yield from self._metered[key]

    def _meter_on(self, situation: Situation, number: int, held: Sequence[str]) -> Iterator[str]:
        end = self._end(situation, number)
        plain = one_at_a_time.written_out(self.net, end.words, self.suspects[number])
        before = nodal.solve(plain).volts
        nodes = [self.net.alias.get(node, node) for node in dict.fromkeys(held)]
        if not set(nodes) <= set(before):
            yield f"an ohmmeter where nobody knows: {held}"
            return
        pairs = [(nodes[0], other) for other in nodes[1:]]
        if not situation.battery_off:
            pairs += [(node, self.net.nodes[0]) for node in nodes]
        for p, n in pairs:
            if abs(before[p] - before[n]) > DEAD_V:
                live = self._with_meter(plain, p, n, 0.0)
                if abs(live[p] - live[n]) > DEAD_V:
                    yield f"an ohmmeter across {abs(live[p] - live[n]):.2f} V"
        yield from self._driven(before, self._with_meter(plain, *pairs[0], METER_V))

    def _with_meter(self, plain: Plain, p: str, n: str, emf: float) -> Mapping[str, float]:
        """Volts with an ohmmeter held between two nodes."""
        self.solved += 1
        meter = Element(name="meter", p=p, n=n, ohm=METER_OHM, emf=emf)
        return nodal.solve(replace(plain, elements=(*plain.elements, meter))).volts

    def _driven(self, before: Mapping[str, float], after: Mapping[str, float]) -> Iterator[str]:
        """What the meter drives into electronics: a pin lifted above its unit's own supply feeds
        the unit through its protection. Feeds and drivers are made for battery volts."""
        for pin, role in self.book.roles.items():
            unit = pin.part
            inner, ground = f"{unit}:{pin.name}", f"{unit}:ground"
            if role.role in HARMLESS or "CAN" in role.role or "driver" in role.role:
                continue
            if inner in after:
                over = after[inner] - max(after.get(f"{unit}:supply", 0.0), after[ground])
                under = after[ground] - after[inner]
                lifted = abs(after[inner] - after[ground] - before[inner] + before[ground])
                if lifted > INTO_UNIT_V and max(over, under) > INTO_UNIT_V:
                    yield f"an ohmmeter puts {lifted:.1f} V on {inner}"

    def _leads(self, check: Check, number: int) -> Iterator[str]:
        """No fitted lead is overloaded, and none loads or feeds a unit's lines."""
        if not check.situation.fitted:
            return
        end = self._end(check.situation, number)
        bare = self._end(replace(check.situation, fitted=()), number)
        whole = self._end(Situation(key=check.situation.key, on=check.situation.on), number)
        for lead in check.situation.fitted:
            volts = [self._volts(end, node) for node in (lead.p, lead.n)]
            if volts[0] is None or volts[1] is None:
                if end.steady:
                    yield f"a {lead.kind} where nobody knows"
                continue
            across = abs(volts[0] - volts[1])
            amps = across / one_at_a_time.FITTED_OHM[lead.kind]
            rated = 24.0 if "24 V" in lead.kind else 12.0
            if lead.kind.startswith("lamp") and across > 1.3 * rated:
                yield f"a {lead.kind} on {across:.1f} V"
            if "jumper" in lead.kind and amps > JUMPER_A:
                yield f"{amps:.0f} A in a {lead.kind}"
            if lead.kind == "booster cable" and (amps > CABLE_A or MINUS not in (lead.p, lead.n)):
                yield f"{amps:.0f} A in a {lead.kind} from {lead.p} to {lead.n}"
            if lead.kind.startswith("resistor") and amps > PIN_A:
                yield f"{amps:.3f} A through a {lead.kind}"
        for shift in self.net.shifts if end.steady and bare.steady else ():
            state = self.net.states[shift.state]
            at = (state.owner, state.name)
            if shift.lasting and end.words[at] == shift.to != bare.words[at]:
                yield f"a lead blows {state.owner}"
        for pin, role in self.book.roles.items():
            if role.role in HARMLESS or not end.steady:
                continue
            now, *usual = (self._contact(e, pin.part, pin.name) for e in (end, bare, whole))
            more = now - max(usual)
            if more > PIN_A:
                yield f"{more:.2f} A more in {pin.part} pin {pin.name} ({role.role})"

    def _moves(self, check: Check, number: int) -> Iterator[str]:
        """What moves the machine gets no current it would not have with the key alone."""
        situation = check.situation
        key = (situation, number)
        if key not in self._moved:
            self._moved[key] = list(self._energised(situation, number))
        yield from self._moved[key]

    def _energised(self, situation: Situation, number: int) -> Iterator[str]:
        plain = Situation(key=situation.key)
        if situation == plain or situation.battery_off:
            return
        # A unit takes what the battery gives it; what it drives is named by itself.
        units = {pin.part for pin in self.book.roles}
        loads = {
            need
            for function in self.book.functions.values()
            if function.moves and (function.key, situation.key) != ("crank", "crank")  # is meant
            for need in function.needs
            if need in self.book.parts
            and need not in units
            and KINDS[self.book.parts[need].kind].load
        }
        for load in sorted(loads):
            amps, usual = (self._through(s, load, number) for s in (situation, plain))
            if amps > usual + ENERGISED_A:
                yield f"{load} gets {amps:.2f} A"

    def _through(self, situation: Situation, part: str, number: int) -> float:
        """Largest current in a contact of a part."""
        end = self._end(situation, number)
        own = self._contacts.get(part, [])
        return max((abs(end.amps.get(name, 0.0)) for name in own), default=0.0)

    def _contact(self, end: one_at_a_time.End, part: str, pin: str) -> float:
        return abs(end.amps.get(f"{part}.{pin}/contact", 0.0))

    def _delivers(self, node: str) -> bool:
        """Whether a probe that slips from a node to metal draws a current no fuse ends."""
        lead = Lead(kind="booster cable", p=node, n=MINUS)
        if self.net.alias.get(node, node) not in self.net.nodes:
            return False
        if node not in self._slips:
            self._slips[node] = self._slip(node, lead)
        return self._slips[node]

    def _slip(self, node: str, lead: Lead) -> bool:
        end = self._end(Situation(key="on", fitted=(lead,)), 0)
        volts = self._volts(end, node) if end.steady else None
        return volts is not None and abs(volts) / one_at_a_time.FITTED_OHM[lead.kind] > SLIP_A
