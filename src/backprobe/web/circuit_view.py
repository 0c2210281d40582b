"""The circuit of a job as a page: pictures, what to look at them with, and one pin in detail."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import isnan
from typing import Final
from urllib.parse import quote, urlencode

from backprobe.book.model import BODIES, MINUS
from backprobe.book.situations import KEYS, Key, Situation
from backprobe.checks.faces import faces_of
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.model import Check, Priced
from backprobe.checks.readings import reading
from backprobe.checks.safety import reachable
from backprobe.checks.steps import steps
from backprobe.checks.wording import colour_words, node_words, volts
from backprobe.defects.model import Probe
from backprobe.findings.model import JobState, Reading
from backprobe.kinds import KINDS
from backprobe.shop.job import Job
from backprobe.shop.outlook import Outlook, usual_life
from backprobe.shop.predicted import Leading, NodeVolts, leading, lived_through, node_volts
from backprobe.shop.workshop import JobCard
from backprobe.web.answers import Typed, number_of
from backprobe.web.check_view import careful, figure, foot_of, tight
from backprobe.web.contexts import AskNumber, Oops, Said
from backprobe.web.face_view import PlugsView, plugs_view
from backprobe.web.once import began_of
from backprobe.web.pictures.circuit import Strips, strips_of
from backprobe.web.pictures.circuit_svg import Shown, Value, badge_words, circuit_svg
from backprobe.web.pictures.nearby import Mark, Marks
from backprobe.web.pictures.strip import Run, Strip
from backprobe.web.pictures.suspected import MOST, marks_of
from backprobe.web.pictures.wiring import Wiring, wiring_of

KEY_WORDS: Final[Mapping[Key, str]] = {
    "off": "Key off",
    "on": "Key on",
    "crank": "Cranking",
    "run": "Running",
}
MOVED: Final = (0.1, 0.02)
"""Volts, and the share of a healthy reading, from which on another one is called moved: less is
lost in battery and meter. Judgement."""
METERS: Final = ("meter", "min-max")
IN_BRACKETS: Final = re.compile(r" \([^()]*\)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a circuit is looked at with: key and load, a suspect's group ("" = healthy), a pin
    ("" = none)."""

    key: Key
    on: frozenset[str] = frozenset()
    suspect: str = ""
    pin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """One way to look at it: where it leads, what it says, whether it is taken."""

    href: str
    words: str
    chosen: bool
    figure: str = ""
    number: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class WireRow:
    """A wire of the picture in words."""

    name: str
    looks: str
    ends: tuple[Said, Said]


@dataclass(frozen=True, slots=True, kw_only=True)
class PinView:
    """A pin: what it reads healthy and under every suspect, how to read it, and the form for what
    was read. `barred`: why it is not to be read here, "" = it may be."""

    node: str
    place: str
    situation: str
    key: str
    on: tuple[str, ...]
    reads: tuple[Said, ...]
    plugs: PlugsView
    steps: tuple[str, ...]
    careful: tuple[tuple[Said, ...], ...]
    foot: str
    number: AskNumber | None
    barred: str
    oops: Oops | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitPage:
    """The page. `working` True: the engine has not yet said what it could be; `desk` and `phone`
    are SVG; `began`: what tells the job from another of this number."""

    ident: str
    began: str
    machine: str
    once: str
    again: str
    working: bool
    keys: tuple[Pick, ...] = ()
    switches: tuple[Pick, ...] = ()
    suspects: tuple[Pick, ...] = ()
    situation: str = ""
    told: str = ""
    desk: str = ""
    phone: str = ""
    rows: tuple[WireRow, ...] = ()
    legend: tuple[Said, ...] = ()
    pin: PinView | None = None


def look_of(
    query: Mapping[str, str],
    on: Sequence[str],
    job: Job,
    state: JobState,
    offered: Sequence[Priced] = (),
) -> Look:
    """What a page is asked to show; what it does not know is left out. Where no key is asked for,
    that of the next check counts, of those `offered`."""
    key, suspect = query.get("key", ""), query.get("as", "")
    usual = _usual(state, offered)
    groups = {group.key for group in job.circuit.defects.groups}
    return Look(
        key=key if key in KEYS else usual.key,
        on=frozenset(job.book.parts).intersection(on) if key in KEYS else usual.on,
        suspect=suspect if suspect in groups else "",
        pin=query.get("pin", ""),
    )


def _usual(state: JobState, offered: Sequence[Priced]) -> Situation:
    best = next(iter(offered), None)
    if best is not None and best.check.situation.key != "off":
        return best.check.situation
    return state.now if state.now.key != "off" else replace(state.now, key="on")


def address(job: str, look: Look) -> str:
    """The circuit looked at in one way."""
    query = [("key", look.key), *(("on", name) for name in sorted(look.on))]
    query += [("as", look.suspect)] if look.suspect else []
    query += [("pin", look.pin)] if look.pin else []
    return f"/job/{quote(job)}/circuit?{urlencode(query)}{'#pin' if look.pin else ''}"


def key_picks(
    key: Key, on: frozenset[str], to: Callable[[Key, frozenset[str]], str]
) -> tuple[Pick, ...]:
    """The key positions; `to` makes the address of a key and what is switched on."""
    return tuple(
        Pick(href=to(one, on), words=words, chosen=one == key) for one, words in KEY_WORDS.items()
    )


def switch_picks(
    key: Key, on: frozenset[str], names: Iterable[str], to: Callable[[Key, frozenset[str]], str]
) -> tuple[Pick, ...]:
    """Switches to turn on or off, as key_picks()."""
    return tuple(
        Pick(href=to(key, on ^ {name}), words=f"{name} on", chosen=name in on) for name in names
    )


def situation_of(look: Look, state: JobState) -> Situation:
    """The key and load looked at, on the machine as it stands: what is off or out stays so."""
    return Situation(
        key=look.key,
        on=look.on,
        unplugged=state.now.unplugged,
        pulled=state.now.pulled,
        battery_off=state.now.battery_off,
    )


def volts_check(layout: Layout, state: JobState, look: Look) -> Check | None:
    """Reading a pin as a check; None when there is no such place."""
    if look.pin not in layout.touch and look.pin not in BODIES:
        return None
    probe = Probe(kind="volts", p=look.pin)
    return reading(layout, "volts", probe, situation_of(look, state))


def barred(layout: Layout, look: Look, state: JobState) -> str:
    """Why a pin is not to be read in this way, or ""."""
    moving = sorted(look.on & layout.moving)
    if moving:
        return f"{moving[0]} can move the machine: look at it here, do not measure so."
    situation = situation_of(look, state)
    if situation.unplugged and look.key == "run":
        return "A plug is off: put it back before the engine runs."
    if look.pin != MINUS and not reachable(layout, look.pin, situation):
        return "A probe does not reach this place without piercing a wire."
    return ""


def circuit_page(
    card: JobCard, outlook: Outlook, look: Look, *, once: str, typed: Typed | None = None,
    oops: Oops | None = None, draw: Callable[[Wiring, Marks, Iterable[str]], Strips] = strips_of,
) -> CircuitPage:  # fmt: skip
    """The circuit of a job. `typed` and `oops`: a reading of the pin that could not be used;
    `draw`: how much of the circuit there is room for."""
    job, state = card.job, outlook.state
    layout = layout_of(job.book, KINDS)
    if volts_check(layout, state, look) is None:
        look = replace(look, pin="")
    wiring = wiring_of(layout)
    suspects = leading(job)[:MOST]
    leads = _leads(outlook)
    strips = draw(wiring, marks_of(job.book, suspects), leads)
    nodes = tuple(dict.fromkeys([*probes_of(strips), *([look.pin] if look.pin else [])]))
    situation = situation_of(look, state)
    rows = (0, *(suspect.hypothesis for suspect in suspects))
    seen = node_volts(job, lived_through(layout, state, situation), rows, nodes)
    place = {suspect.group: number for number, suspect in enumerate(suspects, 1)}
    look = look if look.suspect in place else replace(look, suspect="")
    row = place.get(look.suspect, 0)
    values = _values(layout, state, situation, nodes, seen, row)
    ident = card.row.id
    shown = Shown(
        values=values,
        leads=leads,
        chosen=look.pin,
        off=situation.unplugged | situation.pulled,
        address=lambda probe: address(ident, replace(look, pin=probe)),
    )
    title = f"Circuit around the suspects, {situation.words()}"
    named = [s.words for s in suspects]
    showing = ", showing now" if state.failing in ("gone", "only when") else ""
    told = (
        f"as if it were {named[row - 1]} (suspect {row}){showing}"
        if row
        else "of a healthy machine"
    )

    def there(key: Key, on: frozenset[str]) -> str:
        return address(ident, replace(look, key=key, on=on))

    return CircuitPage(
        ident=ident,
        began=began_of(card.row),
        machine=card.row.machine,
        once=once,
        again=address(ident, replace(look, pin="")),
        working=False,
        keys=key_picks(look.key, look.on, there),
        switches=switch_picks(look.key, look.on, switches_of(layout, strips, look.on), there),
        suspects=_suspects(ident, suspects, look),
        situation=situation.words(),
        told=told,
        desk=circuit_svg(wiring, strips.desk, shown, key="desk", title=title),
        phone=circuit_svg(wiring, strips.phone, shown, key="phone", title=title),
        rows=wire_rows(layout, strips.desk, values),
        legend=(*_legend(values, shown, row, suspects), *turned(strips)),
        pin=_pin(layout, outlook, look, seen, values, suspects, (typed, oops)),
    )


def turned(strips: Strips) -> tuple[Said, ...]:
    """What the letters of a folded drawing mean."""
    some = strips.desk.turns or strips.phone.turns
    return (Said(name="Letter in a ring", words="goes on at the same letter"),) if some else ()


def _leads(outlook: Outlook) -> dict[str, str]:
    """Where the leads of the next check go."""
    best = next(iter(outlook.proposal.next), None)
    probe = best.check.probe if best else None
    if best is None or probe is None or best.check.does not in ("volts", "drop", "lamp", "millivolts", "ohms"):  # fmt: skip
        return {}
    return {probe.n: "black", probe.p: "red"}


def probes_of(strips: Strips) -> list[str]:
    """Places for a probe in the drawings, some more than once."""
    return [
        tip.probe
        for strip in (strips.desk, strips.phone)
        for run in strip.runs
        for tip in (run.link.a, run.link.b)
        if tip.probe
    ]


def _values(
    layout: Layout,
    state: JobState,
    situation: Situation,
    nodes: Sequence[str],
    seen: NodeVolts,
    row: int,
) -> dict[str, Value]:
    """What stands at every place: what was read there, else what the circuit says."""
    read = _read(layout, state, situation)
    found: dict[str, Value] = {}
    for number, node in enumerate(nodes):
        now = volts_words(seen, row, number)
        name = place_words(layout, node)
        found[node] = (
            Value(words=read[node], read=True, name=name)
            if node in read
            else Value(words=now, moved=moved(seen, row, number), name=name)
        )
    return found


def moved(seen: NodeVolts, row: int, column: int) -> bool:
    """Whether a place reads otherwise than on a healthy machine, by more than a meter is off."""
    healthy, now = float(seen.volts[0, column]), float(seen.volts[row, column])
    steady = bool(seen.steady[row]) == bool(seen.steady[0])
    return not steady or abs(now - healthy) > MOVED[0] + MOVED[1] * abs(healthy)


def volts_words(seen: NodeVolts, row: int, column: int) -> str:
    """What a meter shows at a place, in words."""
    value = float(seen.volts[row, column])
    if isnan(value):
        return "?"
    return volts(value) if bool(seen.steady[row]) else "jumps"


def _read(layout: Layout, state: JobState, situation: Situation) -> dict[str, str]:
    """Readings to battery minus in this very situation, the last at each place."""
    found: dict[str, str] = {}
    for one in state.findings:
        if not isinstance(one, Reading) or one.instrument not in METERS or not one.trusted:
            continue
        if one.n == MINUS and replace(one.situation.bare(), renewed=frozenset()) == situation:
            node = one.p if one.p in layout.touch or one.p in BODIES else f"{one.p}a"
            found[node] = volts(one.value) if one.to is None else "jumps"
    return found


def place_words(layout: Layout, node: str) -> str:
    """A place without the wire that ends there."""
    return IN_BRACKETS.sub("", node_words(layout, node))


def switches_of(layout: Layout, strips: Strips, on: frozenset[str]) -> tuple[str, ...]:
    """Switches of the picture, and whatever is on."""
    life = usual_life(layout.book)
    by_hand = life[3].on if len(life) > 3 else frozenset()
    drawn = {box.piece.part for box in strips.desk.boxes}
    return tuple(
        name for name in layout.book.parts if name in on or (name in by_hand and name in drawn)
    )


def _suspects(job: str, suspects: Sequence[Leading], look: Look) -> tuple[Pick, ...]:
    healthy = Pick(
        href=address(job, replace(look, suspect="")), words="Healthy", chosen=not look.suspect
    )
    return (
        healthy,
        *(
            Pick(
                href=address(job, replace(look, suspect=suspect.group)),
                words=suspect.words,
                chosen=suspect.group == look.suspect,
                figure=figure(suspect.chance),
                number=number,
            )
            for number, suspect in enumerate(suspects, 1)
        ),
    )


def wire_row(layout: Layout, run: Run, values: Mapping[str, Value]) -> WireRow:
    """A wire of a picture in words, with the volts at its ends."""
    wire = run.link.wire
    if wire is None:
        raise ValueError(f"{run.link.ident} is no wire")
    looks = [colour_words(wire.colour)] if wire.colour else []
    looks.append(f"{wire.area_m2 * 1e6:.3g} mm\u00b2")
    high = run.link.a if run.link.a.node == run.high else run.link.b
    low = run.link.b if high is run.link.a else run.link.a
    ends = [
        Said(name=place_words(layout, tip.probe), words=values[tip.probe].words)
        for tip in (high, low)
    ]
    return WireRow(name=wire.name or wire.id, looks=", ".join(looks), ends=(ends[0], ends[1]))


def wire_rows(layout: Layout, strip: Strip, values: Mapping[str, Value]) -> tuple[WireRow, ...]:
    """The wires of a drawing as they stand in it: from left to right, each way from above."""
    runs = sorted(strip.runs, key=lambda run: (run.x, run.y0))
    return tuple(wire_row(layout, run, values) for run in runs if run.link.wire)


def _legend(
    values: Mapping[str, Value], shown: Shown, row: int, suspects: Sequence[Leading]
) -> tuple[Said, ...]:
    found = [
        Said(name=badge_words(Mark(number=1, chance=one.chance)), words="suspect and chance")
        for one in suspects[:1]
    ]
    if row and any(value.moved for value in values.values()):
        found.append(Said(name="underlined", words="not as on a healthy machine"))
    if any(value.read for value in values.values()):
        found.append(Said(name="boxed", words="read with the meter"))
    if shown.off:
        found.append(Said(name="dashed", words="unplugged or pulled"))
    if shown.leads:
        found.append(Said(name="R, B", words="red and black lead of the next check"))
    return tuple(found)


def _pin(
    layout: Layout,
    outlook: Outlook,
    look: Look,
    seen: NodeVolts,
    values: Mapping[str, Value],
    suspects: Sequence[Leading],
    wrong: tuple[Typed | None, Oops | None],
) -> PinView | None:
    check = volts_check(layout, outlook.state, look)
    if check is None or look.pin not in values:
        return None
    column = list(values).index(look.pin)
    reads = [Said(name="Healthy", words=volts_words(seen, 0, column))]
    if values[look.pin].read:
        reads.append(Said(name="Read with the meter", words=values[look.pin].words))
    reads += [
        Said(name=f"{number} {suspect.words}", words=volts_words(seen, number, column))
        for number, suspect in enumerate(suspects, 1)
    ]
    no = barred(layout, look, outlook.state)
    todo = () if no else tuple(tight(one) for one in steps(layout, outlook.state, check))
    return PinView(
        node=look.pin,
        place=node_words(layout, look.pin),
        situation=check.situation.words(),
        key=look.key,
        on=tuple(sorted(look.on)),
        reads=tuple(reads),
        plugs=plugs_view(faces_of(layout, check)),
        steps=todo,
        careful=careful(check.hazards, todo),
        foot="" if no else foot_of(check.hazards),
        number=None if no else number_of(check, layout.book, wrong[0]),
        barred=no,
        oops=wrong[1],
    )  # fmt: skip
