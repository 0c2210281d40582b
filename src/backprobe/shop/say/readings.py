"""Sentences with a figure: volts, ohms, amps, millivolts, a value on the display."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import Final

from backprobe.base.units import unit_named
from backprobe.book.lines import Bit
from backprobe.book.model import MINUS, Book
from backprobe.book.situations import Situation
from backprobe.findings.model import AnyFinding, DisplayRead, Instrument, Reading
from backprobe.findings.sides import LOOM_SIDE, PART_SIDE, SIDES
from backprobe.kinds import KINDS
from backprobe.shop.displays import beyond_display
from backprobe.shop.meters import no_such_reading
from backprobe.shop.say.ear import Ear, Sentence
from backprobe.shop.say.names import find, near, squeezed
from backprobe.shop.say.numbers import VALUE, Value, heard
from backprobe.shop.say.situation import heard_place, stood

_TO = re.compile(r"\s+to\s+", re.IGNORECASE)
_WITH = re.compile(r"\s+with\s+(?P<what>\S.*)$", re.IGNORECASE)
_WITHS: Final[Mapping[str, Instrument]] = {
    "min-max": "min-max",
    "lamp": "lamp",
    "low impedance": "low-impedance meter",
    "diode test": "diode tester",
}
_OHMS_WITH: Final[Mapping[str, Instrument]] = {"milliohm meter": "milliohm meter"}
_SPELLINGS: Final = {
    "V": "V, mV",
    "A": "A, mA",
    "ohm": "ohm, kohm, Mohm, mohm",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A reading, the words before it and where it stands."""

    value: Value
    before: Bit
    at: Bit


def figure(ear: Ear, said: Sentence, rest: Bit, si: str, usual: str = "") -> Figure | None:
    """The reading a sentence ends in. `si`: the unit it must be of; `usual`: spelling that a bare
    number has."""
    match = VALUE.search(rest.text)
    if match is None:
        ear.doubt(
            "say-no-value", said.line, rest, words=squeezed(rest.text) or said.form.begins,
            pattern=said.form.whole,
        )  # fmt: skip
        return None
    unit = match["unit"] or ""
    known = unit_named(unit) if unit else None
    if unit and (known is None or known.si != si):
        ear.doubt(
            "say-unit", said.line, rest.part(match.start("unit"), match.end("unit")), unit=unit,
            begins=said.form.begins, known=_SPELLINGS[si],
        )  # fmt: skip
        return None
    value = heard(match["one"], match["to"], unit or usual)
    if value is None:
        return None
    at = rest.part(match.start("one"), match.end())
    return Figure(value=value, before=rest.part(0, match.start()), at=at)


def heard_live(
    ear: Ear, said: Sentence, start: Situation, *, key_needed: bool = True
) -> Situation | None:
    """The situation of a sentence that only makes sense with the battery on, and for which the
    key must be known when `key_needed`."""
    told = stood(ear, said.line, said.items, start)
    if told is None:
        return None
    if key_needed and not (told.key or ear.key_said):
        ear.doubt("say-which-key", said.line, said.line.body)
        return None
    if told.situation.battery_off and not told.battery:
        ear.doubt("say-battery-is-off", said.line, said.line.body)
        return None
    return told.situation


def _volts(ear: Ear, said: Sentence) -> AnyFinding | None:
    how = _with(ear, said, _WITHS, "meter")
    if how is None:
        return None
    rest, instrument = how
    dead = instrument == "diode tester"
    side, said = _side(said) if dead else ("", said)
    found = figure(ear, said, rest, "V")
    places = _places(ear, said, found, second="" if dead else MINUS)
    situation = _dead(ear, said) if dead else heard_live(ear, said, ear.now)
    if dead:
        places = _sided(ear, said, places, situation, side)
    if found is None or places is None or situation is None:
        return None
    return _possible(ear, said, found, _reading(found, places, situation, instrument))


def _possible(ear: Ear, said: Sentence, found: Figure, reading: Reading) -> Reading | None:
    """A reading, unless nothing on the machine could put it on the meter."""
    for value in (reading.value, *(() if reading.to is None else (reading.to,))):
        wrong = no_such_reading(ear.book, value, reading.instrument)
        if wrong is not None:
            ear.doubt(wrong[0], said.line, found.at, **wrong[1])
            return None
    for place in (reading.p, reading.n):
        part = place.rpartition(".")[0]
        if ear.asking or _said_on(said, part):
            continue
        if _shut(ear.book, part, reading.situation):
            ear.doubt("say-shut", said.line, found.before, part=part, place=place)
            return None
    return reading


def _shut(book: Book, part: str, there: Situation) -> bool:
    """Whether a plug is on and lets no probe in from behind."""
    known = book.parts.get(part)
    if known is None or known.backprobe or KINDS[known.kind].joint != "plug":
        return False
    return part not in there.unplugged | there.pulled


def _said_on(said: Sentence, part: str) -> bool:
    """Whether the sentence itself says that a plug was on: who says so has read it all the same."""
    words = (squeezed(item.text).casefold() for item in said.items)
    return any(one.endswith(f"{part.casefold()} plugged") for one in words)


def _with(
    ear: Ear, said: Sentence, known: Mapping[str, Instrument], usual: Instrument
) -> tuple[Bit, Instrument] | None:
    """What is left of a sentence before "with ...", and the instrument that names."""
    how = _WITH.search(said.rest.text)
    if how is None:
        return said.rest, usual
    word = squeezed(how["what"]).casefold()
    if word not in known:
        ear.doubt(
            "say-unknown-answer", said.line, said.rest.part(how.start("what")), words=how["what"],
            question="how was it read", known=", ".join(f"with {w}" for w in known),
            near=near(word, known),
        )  # fmt: skip
        return None
    return said.rest.part(0, how.start()), known[word]


def _dead(ear: Ear, said: Sentence) -> Situation | None:
    """The situation of a reading that needs the key off."""
    told = stood(ear, said.line, said.items, replace(ear.now, key="off", on=frozenset()))
    if told is None:
        return None
    if told.situation.key != "off":
        key = told.situation.words().partition(",")[0]
        ear.doubt("say-ohms-live", said.line, said.line.body, key=key)
        return None
    return told.situation


def _side(said: Sentence) -> tuple[str, Sentence]:
    """Which side of an open plug a reading was taken on, where that is said; and the sentence
    without it."""
    sides = [squeezed(item.text).casefold() for item in said.items]
    kept = tuple(item for item, word in zip(said.items, sides) if word not in SIDES)
    return next((word for word in sides if word in SIDES), ""), replace(said, items=kept)


def _sided(
    ear: Ear, said: Sentence, places: tuple[str, str] | None, there: Situation | None, side: str
) -> tuple[str, str] | None:
    """The places on the side that is meant. From pin to pin of one part that is off it is the part
    itself, unless the loom side is said."""
    if places is None or there is None or side == LOOM_SIDE:
        return places
    own = ear.names.own_pins
    if side == PART_SIDE:
        if not any(place in own for place in places):
            ear.doubt("say-no-part-side", said.line, said.line.body, places=" and ".join(places))
            return None
        return own.get(places[0], places[0]), own.get(places[1], places[1])
    parts = {own[place].partition(":")[0] if place in own else "" for place in places}
    if len(parts) == 1 and parts & (there.unplugged | there.pulled):
        return own[places[0]], own[places[1]]
    return places


def _millivolts(ear: Ear, said: Sentence) -> AnyFinding | None:
    found = figure(ear, said, said.rest, "V", "mV")
    places = None
    if found is not None:
        fuse = find(found.before.text, ear.names.parts)
        pins = ear.names.pins.get(fuse, ()) if fuse else ()
        if fuse and len(pins) == 2:
            ends = ear.book.parts[fuse].pins or pins
            places = (f"{fuse}.{ends[0]}", f"{fuse}.{ends[-1]}")
        else:
            places = _places(ear, said, found, second="")
    situation = heard_live(ear, said, ear.now)
    if found is None or places is None or situation is None:
        return None
    return _possible(ear, said, found, _reading(found, places, situation, "millivolts"))


def _ohms(ear: Ear, said: Sentence) -> AnyFinding | None:
    how = _with(ear, said, _OHMS_WITH, "ohmmeter")
    if how is None:
        return None
    rest, instrument = how
    side, said = _side(said)
    found = figure(ear, said, rest, "ohm")
    situation = _dead(ear, said)
    places = _sided(ear, said, _places(ear, said, found, second=""), situation, side)
    if found is None or places is None or situation is None:
        return None
    return _possible(ear, said, found, _reading(found, places, situation, instrument))


def _beeps(ear: Ear, said: Sentence) -> AnyFinding | None:
    """What a beeper did between two places; there is no figure."""
    whole = Figure(before=said.rest, value=Value(value=0.0, to=None, cell=0.0), at=said.rest)
    side, said = _side(said)
    situation = _dead(ear, said)
    places = _sided(ear, said, _places(ear, said, whole, second=""), situation, side)
    if places is None or situation is None:
        return None
    silent = said.form.begins == "silent"
    return Reading(
        situation=situation,
        instrument="beeper",
        p=places[0],
        n=places[1],
        value=inf if silent else 0.0,
    )


def _amps(ear: Ear, said: Sentence) -> AnyFinding | None:
    found = figure(ear, said, said.rest, "A")
    wire = _wire(ear, said, found.before) if found else None
    situation = heard_live(ear, said, ear.now)
    if found is None or wire is None or situation is None:
        return None
    return _possible(ear, said, found, _reading(found, (wire, MINUS), situation, "clamp"))


def _display(ear: Ear, said: Sentence) -> AnyFinding | None:
    match = VALUE.search(said.rest.text)
    if match is None or match["to"] or match["one"].lower() == "ol":
        ear.doubt(
            "say-no-value", said.line, said.rest, words=squeezed(said.rest.text) or "display",
            pattern=said.form.whole,
        )  # fmt: skip
        return None
    name = said.rest.part(0, match.start())
    known = {spelling: spelling for spelling in ear.names.displays}
    spelling = find(name.text, known)
    start = replace(ear.now, key="on") if ear.now.key == "off" else ear.now
    situation = heard_live(ear, said, start, key_needed=False)
    if spelling is None:
        ear.doubt(
            "say-unknown-name", said.line, name, sort="display value", name=squeezed(name.text),
            near=near(squeezed(name.text), known),
        )  # fmt: skip
        return None
    keys = ear.names.displays[spelling]
    if len(keys) > 1:
        listed = ", ".join(f"{unit} {shown}" for unit, shown in keys)
        ear.doubt("say-which-display", said.line, name, name=spelling, known=listed)
        return None
    measure = ear.book.displays[keys[0]].measure
    if match["unit"] and match["unit"].casefold() != measure.casefold():
        ear.doubt(
            "say-unit", said.line, said.rest.part(match.start("unit")), unit=match["unit"],
            begins=f"display {spelling}", known=measure,
        )  # fmt: skip
        return None
    if situation is None:
        return None
    value = float(match["one"].replace(",", "."))
    scale = beyond_display(ear.book, *keys[0], value)
    if scale:
        ear.doubt(
            "say-beyond-display", said.line, said.rest.part(match.start("one")),
            value=f"{value:g} {measure}", name=keys[0][1], unit=keys[0][0], scale=scale,
        )  # fmt: skip
        return None
    return DisplayRead(situation=situation, unit=keys[0][0], name=keys[0][1], value=value)


def _reading(
    found: Figure, places: tuple[str, str], situation: Situation, instrument: Instrument
) -> Reading:
    return Reading(
        situation=situation,
        instrument=instrument,
        p=places[0],
        n=places[1],
        value=found.value.value,
        to=found.value.to,
        cell=found.value.cell,
    )


def _places(
    ear: Ear, said: Sentence, found: Figure | None, *, second: str
) -> tuple[str, str] | None:
    """The two places of a reading; `second` is the usual one of the black lead, "" = must be said.

    A name may itself hold the word "to"; the whole is tried first, then every cut.
    """
    if found is None:
        return None
    bit = found.before
    cuts = list(_TO.finditer(bit.text))
    if not bit.text:
        ear.doubt(
            "say-incomplete", said.line, said.line.body, begins=said.form.begins,
            missing="the place", pattern=said.form.whole,
        )  # fmt: skip
        return None
    if second and (not cuts or ear.names.place(bit.text)):
        place = heard_place(ear, said.line, bit)
        return (place, second) if place else None
    if not cuts:
        ear.doubt(
            "say-incomplete", said.line, bit, begins=said.form.begins,
            missing="the second place", pattern=said.form.whole,
        )  # fmt: skip
        return None
    for cut in cuts:
        ends = (ear.names.place(bit.text[: cut.start()]), ear.names.place(bit.text[cut.end() :]))
        if ends[0] and ends[1]:
            return ends[0], ends[1]
    cut = cuts[0]
    p = heard_place(ear, said.line, bit.part(0, cut.start()))
    n = heard_place(ear, said.line, bit.part(cut.end()))
    return (p, n) if p and n else None


def _wire(ear: Ear, said: Sentence, bit: Bit) -> str | None:
    word = squeezed(bit.text)
    name = squeezed(word[4:]) if word[:5].casefold() == "wire " else word
    exact = find(name, ear.names.wires)
    if exact is not None:
        return exact
    printed = ear.names.wires_printed(name)
    if len(printed) == 1:
        return printed[0]
    if printed:
        ear.doubt("say-which-wire", said.line, bit, name=name, known=", ".join(printed))
    else:
        ear.doubt(
            "say-unknown-name", said.line, bit, sort="wire", name=name,
            near=near(name, ear.names.wires),
        )  # fmt: skip
    return None


LISTENERS: Final[Mapping[str, Callable[[Ear, Sentence], AnyFinding | None]]] = {
    "volts": _volts,
    "millivolts": _millivolts,
    "ohms": _ohms,
    "beeps": _beeps,
    "silent": _beeps,
    "amps": _amps,
    "display": _display,
}
