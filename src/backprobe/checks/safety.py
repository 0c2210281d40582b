"""What is never proposed. Safety is a constraint, judged by where a lead goes, by the volts and
amps the circuit puts there under every defect, and by what a function can do; it is never
traded against minutes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from backprobe.book.model import BODIES, MINUS
from backprobe.book.situations import Lead, Situation
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check
from backprobe.circuit.fittings import FITTINGS, JUMPERS, RESISTOR
from backprobe.defects.model import Predictor, Probe

WIRE_ONLY = ("plug", "splice", "ground stud", "ground strap")
"""Kinds that are nothing but a joint of wires."""
DEAD_V = 0.05
"""More than this at the pins is not dead, V. Judgement."""
LAMP_NEEDS_V = 0.6
"""A lamp is a load for the machine's own voltage: at least this share of it. Judgement."""
KEPT = 10_000
"""Checks of one machine of which it is remembered whether they may be done."""
LOW_IMPEDANCE = "low-impedance meter"
MILLIOHM = "milliohm meter"


@dataclass(slots=True)
class Live:
    """Volts under every defect, asked once per situation and node. `highest` is inf for a node
    the circuit does not know: what cannot be judged is not safe."""

    predictor: Predictor
    sound: Predictor | None = None
    """The same for the healthy machine alone, where there is one: quicker to ask."""
    _known: dict[tuple[Situation, str, str, bool], tuple[float, float]] = field(
        default_factory=dict
    )

    def highest(self, situation: Situation, p: str, n: str = MINUS) -> float:
        """Largest |volts| between two nodes under any defect."""
        return self._seen(situation, p, n)[0]

    def healthy(self, situation: Situation, p: str, n: str = MINUS) -> float:
        """|volts| between two nodes when nothing is wrong, -inf for an unknown node."""
        if self.sound is None:
            return self._seen(situation, p, n)[1]
        return self._seen(situation, p, n, self.sound)[1]

    def _seen(
        self, situation: Situation, p: str, n: str, asked: Predictor | None = None
    ) -> tuple[float, float]:
        key = (situation, p, n, asked is None)
        if key not in self._known:
            try:
                seen = (asked or self.predictor).seen(situation, (Probe(kind="inner", p=p, n=n),))
                mean = np.abs(seen.mean[:, 0])
                self._known[key] = (float(mean.max()), float(mean[0]))
            except KeyError:
                self._known[key] = (np.inf, -np.inf)
        return self._known[key]


Rule = Callable[[Layout, Check, Live], str]
"""Why a check is barred, "" when it is not."""


def dead_for_ohms(_: Layout, check: Check, live: Live) -> str:
    """No ohmmeter on a live circuit."""
    probe = _ohmmeter(check)
    if probe is None or check.situation.battery_off:
        return ""
    nodes = [node for node in (probe.p, probe.n, probe.p2, probe.n2) if node]
    pairs = [(a, b) for a in nodes for b in (*nodes, MINUS) if a != b]
    worst = max((live.highest(check.situation, a, b) for a, b in pairs), default=np.inf)
    return "" if worst <= DEAD_V else f"an ohmmeter on a live circuit: up to {worst:.1f} V there"


def no_ohms_into_units(layout: Layout, check: Check, _: Live) -> str:
    """An ohmmeter drives current into electronics: the unit's plug is off first. The bus is
    measured at its socket with everything on, as its makers ask."""
    probe = _ohmmeter(check)
    if probe is None or probe.kind == "transfer":
        return ""
    for node in (probe.p, probe.n):
        for pin in layout.pins_on(layout.net_at(node)):
            role = layout.book.roles[pin].role
            harmless = role == "ground" or role.lower().startswith("can")
            if pin.part not in check.situation.unplugged and not harmless:
                return f"an ohmmeter into {pin.part} pin {pin.name}: unplug {pin.part} first"
    return ""


def no_leads_on_electronics(layout: Layout, check: Check, live: Live) -> str:
    """No lamp or jumper on 5 V, signal, CAN or driver lines, nor where there is no supply."""
    for lead in check.situation.fitted:
        if lead.kind == RESISTOR:
            continue  # 12 mA at 12 V hurts no input
        for node in (lead.p, lead.n):
            line = layout.sensitive(node)
            if line:
                return f"a {lead.kind} on {line}"
        lamp = FITTINGS.get(lead.kind)
        if lamp is not None and lamp.watts:
            volts = layout.book.machine.volts
            if not 0.7 < volts / lamp.volts < 1.4:
                return f"a {lead.kind} on a machine of {volts:g} V: it is made for {lamp.volts:g} V"
            bare = _without(check.situation, lead)
            supply = live.healthy(bare, lead.p, lead.n)
            if supply < LAMP_NEEDS_V * layout.book.machine.volts:
                return f"a {lead.kind} across {max(supply, 0.0):.1f} V: that line is no feed"
    return ""


def no_low_impedance_on_electronics(layout: Layout, check: Check, _: Live) -> str:
    """A low-impedance voltmeter loads what it reads, 4 mA at 12 V: no 5 V, signal, CAN or driver
    line, whose reading it would change."""
    if check.instrument != LOW_IMPEDANCE or check.probe is None:
        return ""
    for node in (check.probe.p, check.probe.n):
        line = layout.sensitive(node)
        if line:
            return f"a {LOW_IMPEDANCE} on {line}"
    return ""


def milliohms_on_plain_wire(layout: Layout, check: Check, _: Live) -> str:
    """A milliohm meter sends up to an ampere: only through wire that is proven to be nothing else,
    every part on it unplugged."""
    if check.instrument != MILLIOHM or check.probe is None:
        return ""
    gone = check.situation.unplugged | check.situation.pulled
    for node in (check.probe.p, check.probe.n):
        for end in layout.members.get(layout.net_at(node), ()):
            part = layout.book.parts.get(end.part)
            if part is None or part.kind in WIRE_ONLY or end.part in gone:
                continue
            return f"a {MILLIOHM} through {end.part}: unplug {end.part} first"
    return ""


def no_thin_jumper_while_cranking(_: Layout, check: Check, __: Live) -> str:
    """Starter current finds its way through any jumper."""
    jumper = any(lead.kind in JUMPERS for lead in check.situation.fitted)
    return "cranking through a thin jumper" if jumper and check.situation.key == "crank" else ""


def nothing_that_moves(layout: Layout, check: Check, _: Live) -> str:
    """Nothing that moves the machine or its arms, nor a lead on the circuits that do it."""
    moving = layout.moving
    commanded = (check.situation.on & moving) or (
        {check.target} & moving if check.does == "works" else frozenset()
    )
    if commanded:
        return f"{min(commanded)} can move the machine"
    for lead in check.situation.fitted:
        for node in (lead.p, lead.n):
            net = layout.members.get(layout.net_at(node), ())
            hit = sorted({end.part for end in net} & moving)
            if hit:
                return f"a {lead.kind} on the circuit of {hit[0]}, which can move the machine"
    return ""


def no_piercing(layout: Layout, check: Check, _: Live) -> str:
    """Probes go where copper is bare or a backprobe pin fits, never through insulation."""
    probe = check.probe
    if probe is None or probe.kind not in ("volts", "ohms") or _read_elsewhere(check):
        return ""
    leads = [node for lead in check.situation.fitted for node in (lead.p, lead.n)]
    for node in (probe.p, probe.n, *leads):
        if not reachable(layout, node, check.situation):
            return f"{node} cannot be reached without piercing a wire"
    return ""


def no_starter_bridge(layout: Layout, check: Check, _: Live) -> str:
    """Nothing bridges the starter, its solenoid or the interlocks before it."""
    for lead in check.situation.fitted:
        if lead.kind.startswith("lamp") or (
            lead.kind == "booster cable" and MINUS in (lead.p, lead.n)
        ):
            continue
        for node in (lead.p, lead.n):
            for end in layout.members.get(layout.net_at(node), ()):
                part = layout.book.parts.get(end.part)
                if part is not None and "starter" in part.kind:
                    return f"a {lead.kind} on the starter circuit"
    return ""


def no_bridged_fuse(layout: Layout, check: Check, _: Live) -> str:
    """A fuse is replaced by its own rating, never bridged and never by a larger one."""
    for lead in check.situation.fitted:
        if lead.kind.startswith("lamp"):
            continue
        parts = {touch.part for node in (lead.p, lead.n) if (touch := layout.touch.get(node))}
        for name in sorted(parts):
            known = layout.book.parts.get(name)
            if known is not None and ("fuse" in known.kind or "breaker" in known.kind):
                return f"a {lead.kind} across {name}"
    return ""


def no_unplugging_live(_: Layout, check: Check, __: Live) -> str:
    """Plugs come off with the key off; none is off while the engine runs, for injectors are
    driven with tens of volts."""
    situation = check.situation
    if situation.unplugged and situation.key == "run":
        return "a plug off while the engine runs"
    if situation.battery_off and situation.key != "off":
        return "battery minus off with the key on"
    return ""


def no_boosting(_: Layout, check: Check, __: Live) -> str:
    """The booster cable tests the strap, from bare metal to battery minus; it feeds nothing."""
    for lead in check.situation.fitted:
        if lead.kind == "booster cable" and MINUS not in (lead.p, lead.n):
            return "a booster cable that is not on battery minus"
    return ""


def no_ammeter_in_line(_: Layout, check: Check, __: Live) -> str:
    """Current is read with a clamp around the wire."""
    if check.does == "amps" and check.instrument not in ("", "clamp"):
        return "an ammeter in line"
    return ""


RULES: tuple[Rule, ...] = (
    dead_for_ohms,
    no_ohms_into_units,
    no_leads_on_electronics,
    no_low_impedance_on_electronics,
    milliohms_on_plain_wire,
    no_thin_jumper_while_cranking,
    nothing_that_moves,
    no_piercing,
    no_starter_bridge,
    no_bridged_fuse,
    no_unplugging_live,
    no_boosting,
    no_ammeter_in_line,
)

BY_VOLTS: tuple[Rule, ...] = (dead_for_ohms, no_leads_on_electronics)
"""Those that ask the circuit."""


def barred(layout: Layout, check: Check, live: Live) -> tuple[str, ...]:
    """Every reason why a check must not be proposed; () when it may."""
    return tuple(why for rule in RULES if (why := rule(layout, check, live)))


def allowed(layout: Layout, checks: Iterable[Check], live: Live) -> tuple[Check, ...]:
    """The checks no rule bars, in their order. What most rules say is the same from round to round."""
    return tuple(
        check
        for check in checks
        if _harmless(layout, check, live)
        and not any(rule(layout, check, live) for rule in BY_VOLTS)
    )


def _harmless(layout: Layout, check: Check, live: Live) -> bool:
    """Whether no rule bars a check that does not ask for volts."""
    known = layout.harmless.get(check)
    if known is None:
        if len(layout.harmless) >= KEPT:
            layout.harmless.clear()
        known = not any(rule(layout, check, live) for rule in RULES if rule not in BY_VOLTS)
        layout.harmless[check] = known
    return known


def reachable(layout: Layout, node: str, situation: Situation) -> bool:
    """Whether a probe gets to a node without harm: a post, stud or bare metal, a plug way that
    may be backprobed, or a pin whose plug is off."""
    if node == MINUS or node in BODIES:
        return True
    touch = layout.touch.get(node)
    if touch is None:
        part = node.partition(":")[0]
        return part in situation.unplugged or part in situation.pulled
    known = layout.book.parts.get(touch.part)
    if known is None:
        return True
    joint = layout.joint(touch.part)
    if joint == "crimp":
        return False
    if joint == "plug":
        return known.backprobe or touch.part in situation.unplugged | situation.pulled
    return True


def _ohmmeter(check: Check) -> Probe | None:
    """Where an ohmmeter is held, if one is."""
    probe = check.probe
    if probe is not None and (
        check.does in ("ohms", "beep") or probe.kind in ("ohms", "transfer", "diode")
    ):
        return probe
    return None


def _read_elsewhere(check: Check) -> bool:
    """True when nobody holds a probe: the display or the machine itself shows it."""
    return check.does in (
        "display",
        "works",
        "codes",
        "swap",
        "look",
        "fuse",
        "new fuse",
        "repair",
        "stop",
    )


def _without(situation: Situation, lead: Lead) -> Situation:
    rest = tuple(other for other in situation.fitted if other != lead)
    return replace(situation, fitted=rest)
