"""A check as steps for a man with dirty gloves: hands, key, meter, what to expect, what to put
back; and the cautions that belong to it."""

from __future__ import annotations

from backprobe.book.model import BODIES, MINUS
from backprobe.book.situations import Lead, Situation
from backprobe.checks.cost import at_hand
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check, displayed
from backprobe.checks.outcomes import UNITS, places_of, running_in
from backprobe.checks.trap import steps_of as trap_steps
from backprobe.checks.wording import blinking, listed, node_words, reading, wire_words
from backprobe.findings.model import JobState
from backprobe.kinds.hazards import DEFER, HAZARDS

KEY_WORDS = {
    "off": "Key off.",
    "on": "Key on, engine stopped.",
    "crank": "A second person cranks for a few seconds.",
    "run": "Start the engine, let it idle.",
}
ALONE = (
    "A second person cranks for a few seconds (alone: set the meter to min/max hold, then crank)."
)
EACH = "note the first that does not work"
NEW_FUSES = "Before the proof: new fuses of the printed rating where any is blown, never larger."
WINDOW = "on the test window on the back of"
OFF_AND_WAIT = "Key off, wait 30 seconds."
STAYS_OUT = "stays out until its line is mended or a check asks for it."
STAYS_OFF = "Key stays off."
LIFTED_FIRST = (
    "Lift the battery minus cable first, keep it away from the post; back on before the proof."
)
OFF = (OFF_AND_WAIT, STAYS_OFF, KEY_WORDS["off"])
TURNED = ("crank", "run")
"""Keys with which the engine turns: leads are placed before."""


def steps(
    layout: Layout, job: JobState, check: Check, healthy: str = "", more: str = ""
) -> tuple[str, ...]:
    """What to do, in order. `healthy` completes the reading step; `more` is said
    before all is put back."""
    then = check.situation
    hands, do = _hands(layout, job.now, then), _do(layout, check, healthy)
    metered = check.does in UNITS and check.probe is not None
    key = _key(layout, job.now, then, moved=bool({OFF_AND_WAIT, STAYS_OFF} & {*hands}))
    if metered:
        key = [ALONE if step == KEY_WORDS["crank"] else step for step in key]
    found = _reach(layout, job, check)
    if check.does == "repair":
        off = [step for step in (*hands, *key) if step in OFF]
        lifted = [LIFTED_FIRST] if "short-circuit" in check.hazards else []
        found += [*off, *lifted, *do, *(step for step in hands if step not in off), NEW_FUSES]
    elif then.key in TURNED and metered:
        found += [*hands, *do, *key]
    else:
        found += [*hands, *key, *do]
    if more:
        found.append(more)
    return (*found, *_back(layout, check.situation))


def cautions(check: Check) -> tuple[tuple[str, str], ...]:
    """Words and authority of every hazard of a check, and whose word comes first."""
    named = [
        (HAZARDS[slug].words, HAZARDS[slug].authority) for slug in check.hazards if slug in HAZARDS
    ]
    return (*named, (DEFER, "")) if named else ()


def _reach(layout: Layout, job: JobState, check: Check) -> list[str]:
    been = {layout.place(name) for name in job.opened | at_hand(layout, job)}
    new = [name for name in check.opens if layout.place(name) not in been]
    places: dict[str, list[str]] = {}
    for name in new:
        places.setdefault(layout.place(name), []).append(name)
    if len(places) == 1:
        place, names = next(iter(places.items()))
        return [f"Get to {listed(names)}" + (f": {place}." if place not in names else ".")]
    told = [
        listed(names) + (f" ({place})" if place not in names else "")
        for place, names in places.items()
    ]
    return [f"Get to {listed(told)}."] if told else []


def _hands(layout: Layout, now: Situation, then: Situation) -> list[str]:
    off, on = then.unplugged - now.unplugged, now.unplugged - then.unplugged
    out, back = then.pulled - now.pulled, now.pulled - then.pulled
    fitted = [lead for lead in then.fitted if lead not in now.fitted]
    over = [lead for lead in now.fitted if lead not in then.fitted]
    lift = then.battery_off and not now.battery_off
    found: list[str] = []
    new = sorted(then.renewed - now.renewed)
    dead = bool(off or on or out or back or fitted or over or lift or new)
    if dead and (now.key != "off" or then.key != "off"):
        found.append(OFF_AND_WAIT)
    elif dead:
        found.append(STAYS_OFF)
    if lift:
        found.append("Lift the battery minus cable and keep it away from the post.")
    found += [f"Take the {lead_words(lead)} off again." for lead in over]
    moves = (("unplug {}", off), ("plug {} back", on), ("pull {}", out), ("put {} back", back))
    told = listed([words.format(listed(sorted(names))) for words, names in moves if names])
    if told:
        found.append(f"{told[:1].upper()}{told[1:]}.")
    found += _stays(now, then)
    if new:
        found.append(f"Fit a new {listed(new)} of the printed rating, never larger.")
    found += [
        f"Fit a {lead_words(lead)} between {node_words(layout, lead.p)} and {node_words(layout, lead.n)}."
        for lead in fitted
    ]
    if now.battery_off and not then.battery_off:
        found.append("Battery minus back on, wait 30 seconds.")
    return found


def _key(layout: Layout, now: Situation, then: Situation, *, moved: bool) -> list[str]:
    """The key, and what is switched on. `moved`: the key was turned off before, for the hands."""
    found: list[str] = []
    if then.key != "off":
        found.append(KEY_WORDS[then.key])
    elif now.key != "off" and not moved:
        found.append(KEY_WORDS["off"])
    if then.on:
        found.append(f"Switch on {listed([_switch(layout, name) for name in sorted(then.on)])}.")
    return found


def _stays(now: Situation, then: Situation) -> list[str]:
    """What is off already and is wanted off."""
    stays = [f"{name} unplugged" for name in sorted(now.unplugged & then.unplugged)]
    stays += [f"{name} out" for name in sorted(now.pulled & then.pulled)]
    if now.battery_off and then.battery_off:
        stays.append("battery minus off")
    stays += [f"the {lead_words(lead)} fitted" for lead in then.fitted if lead in now.fitted]
    return [f"Leave {listed(stays)}."] if stays else []


def _switch(layout: Layout, name: str) -> str:
    """A switch with what it is for, when one function alone is worked by it: "S2 (work lights)"."""
    served = [f.name for f in layout.book.functions.values() if name in f.commands]
    return f"{name} ({served[0]})" if len(served) == 1 else name


def _do(layout: Layout, check: Check, healthy: str) -> list[str]:
    tail = f" {healthy}" if healthy else ""
    probe = check.probe
    if check.does == "amps" and probe is not None:
        wire = wire_words(layout, probe.p) or probe.p
        return [f"Clamp on A DC, zeroed, around {wire} alone.{tail}"]
    if check.does == "display":
        name = displayed(check)[1]
        return [f"Read {name} on the display.{tail}"]
    if check.does == "beep" and probe is not None:
        ways = listed([node_words(layout, node) for node in places_of(check)])
        lead = f"One lead stays on {node_words(layout, probe.p)}; go with the other along {ways}."
        return [
            "Meter on continuity; touch the leads together first: it must beep.",
            f"{lead} Note the first that beeps.{tail}",
        ]
    if check.does == "sweep":
        return _sweep(check, tail)
    if check.does == "trap":
        return [*trap_steps(check)]
    if check.does in UNITS and probe is not None:
        return [_leads(layout, check, probe.p, probe.n) + tail]
    if check.does == "repair":
        kind = layout.kind(check.target)
        more = f" {kind.mend}" if kind and kind.mend else ""
        return [f"{check.words.removesuffix(' and prove it')}.{more}"]
    if check.does == "new fuse":
        return [f"Watch the fuse and the load: does {check.target} blow?{tail}"]
    return [
        f"{check.words.split(', key', maxsplit=1)[0].rstrip('.?')}." + tail
        if check.does in ("look", "provoke", "fuse", "stop")
        else f"{_question(layout, check)}{tail}"
    ]


def _sweep(check: Check, tail: str) -> list[str]:
    """What is tried with the engine stopped, then what needs it running."""
    running = running_in(check)
    still = [name for name in places_of(check) if name not in running]
    tried = f"Try each, {EACH}: {', '.join(still or running)}."
    if not running:
        return [tried + tail]
    if not still:
        return [f"{KEY_WORDS['run']} {tried}{tail}"]
    return [
        tried,
        f"{KEY_WORDS['run']} If all of that works, go on and {EACH}: {', '.join(running)}.{tail}",
    ]


def _question(layout: Layout, check: Check) -> str:
    if check.does == "works":
        return f"Try it: {check.target}. Does it work?"
    if check.does == "codes":
        return f"Read the codes: is {blinking(layout.book, check.target)} active?"
    if check.does == "unplug":
        return f"Read the codes: is {blinking(layout.book, check.setting)} still active?"
    return f"Try it: {check.setting}. Does it work now?"


def _leads(layout: Layout, check: Check, p: str, n: str) -> str:
    red = f"red lead {_touched(layout, check, p)} {node_words(layout, p)}"
    if check.does == "ohms":
        return (
            f"Meter on ohm, touch the leads together first and note what they read; "
            f"one lead on {node_words(layout, p)}, the other on {node_words(layout, n)}."
        )
    return (
        f"Meter on {check.setting or 'V DC'}, black lead {_touched(layout, check, n)} "
        f"{node_words(layout, n)}, {red}.{_held(layout, check, p)}"
    )


def _touched(layout: Layout, check: Check, node: str) -> str:
    """How a lead touches a place. A blade fuse is read while it is in, through the window over each blade
    (common practice, no source)."""
    touch = layout.touch.get(node)
    known = layout.book.parts.get(touch.part) if touch and node != MINUS else None
    if touch and known and known.kind == "fuse" and known.name not in check.situation.pulled:
        side = "is fed" if touch.pin == layout.kinds["fuse"].pins[0] else "feeds the load"
        return f"{WINDOW} {known.name}, the side that {side}:"
    return "on" if node == MINUS or _bare(layout, check, node) else "back-probed at"


def _held(layout: Layout, check: Check, node: str) -> str:
    """Which end of a min/max hold counts: what a feed sinks to while cranking; what comes only while
    cranking, is lost on the way or lifts a ground rises to (common practice, no source)."""
    if "min/max" not in check.setting:
        return ""
    net = layout.net_at(node)
    ground = node in BODIES or net == layout.net_at(MINUS)
    if check.does == "drop" or net in layout.cranked or ground:
        return " Take the highest it showed."
    return "" if layout.sensitive(node) else " Take the lowest it showed."


def _bare(layout: Layout, check: Check, node: str) -> bool:
    touch = layout.touch.get(node)
    return (
        touch is None
        or layout.joint(touch.part) != "plug"
        or (touch.part in check.situation.unplugged)
    )


def lead_words(lead: Lead) -> str:
    """A lead as one says it: "55 W lamp", "booster cable"."""
    what, _, size = lead.kind.partition(" ")
    return f"{size} {what}" if what in ("lamp", "resistor") else lead.kind


def _back(layout: Layout, then: Situation) -> list[str]:
    """What is undone at the end. A fuse that a lamp stood in for waits: its line may be shorted."""
    lamps = [lead for lead in then.fitted if lead.kind.startswith("lamp")]
    stood_for = {
        layout.touch[lead.p].part for lead in lamps if lead.p in layout.touch
    } & then.pulled
    undo = [
        *(["take the lead off"] if then.fitted else []),
        *(f"plug {name} back" for name in sorted(then.unplugged)),
        *(f"put {name} back" for name in sorted(then.pulled - stood_for)),
    ]
    if then.battery_off:
        undo.append("battery minus back on")
    waits = f" {listed(sorted(stood_for))} {STAYS_OUT}" if stood_for else ""
    return [f"When done: key off, wait, {listed(undo)}.{waits}"] if undo else []


def healthy_words(value: float, sigma: float, unit: str) -> str:
    """What a healthy machine reads: "Healthy 12.3 V ± 0.3 V." for a reading; the tolerance is two
    sigmas, and volts have the digits it leaves them."""
    shown = reading(value, unit)
    if shown == "OL":
        return "Healthy: OL."
    give = 2.0 * sigma
    if unit == "V":
        give = float(f"{max(give, 0.01):.1g}")
        places = 0 if give >= 1.0 else 1 if give >= 0.1 else 2
        rounded = round(value, places)
        return f"Healthy {f'{rounded:.{places}f}' if rounded else '0'} V ± {give:g} V."
    if unit == "mV":
        give = float(f"{max(1e3 * give, 0.1):.1g}")
        return f"Healthy {1e3 * value:.{0 if give >= 1.0 else 1}f} mV ± {give:g} mV."
    if unit == "ohm" and give > 0.5 * value:
        return f"Healthy under {reading(value + give, unit)}."
    return f"Healthy {shown} ± {reading(give, unit)}."
