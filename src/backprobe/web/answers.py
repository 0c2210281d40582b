"""What can be answered to a check, and what was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Final

from backprobe.base.units import parse_quantity
from backprobe.book.model import Book
from backprobe.checks.answer import CANNOT, INSTRUMENTS
from backprobe.checks.model import Check, displayed
from backprobe.checks.outcomes import FOUND, NOTHING, WORDS, answers_of
from backprobe.findings.model import CodesFound
from backprobe.shop.displays import beyond_display, beyond_words
from backprobe.shop.meters import meter_problem, most_shown
from backprobe.web.codes import asked_code, in_one_line, listed, oops_of
from backprobe.web.contexts import AskNumber, Choice, Oops

UNITS: Final[Mapping[str, tuple[str, ...]]] = {
    "volts": ("V", "mV"),
    "drop": ("V", "mV"),
    "lamp": ("V", "mV"),
    "millivolts": ("mV", "V"),
    "ohms": ("ohm", "kohm", "Mohm"),
    "amps": ("A", "mA"),
}
"""Ranges of the meter by the sort of check, the usual one first."""
FACTORS: Final = {"V": 1.0, "mV": 1e-3, "ohm": 1.0, "kohm": 1e3, "Mohm": 1e6, "A": 1.0, "mA": 1e-3}
LABELS: Final = {
    "volts": "Volts on the meter",
    "drop": "Volts between the two leads",
    "lamp": "Volts with the lamp on",
    "millivolts": "Millivolts between the two leads",
    "ohms": "Ohms on the meter",
    "amps": "Amps on the clamp",
}
OVERLOAD: Final = ("ol", "0l", "o.l", "0.l", "open", "1.")
"""How a meter shows that there is more than its range holds, as people type it; "open" and "1." of an
ohmmeter alone."""
REPAIR: Final = (
    Choice(value="passes", words="The proof passes"),
    Choice(value="fails", words="Still there"),
    Choice(value="fails, was bad", words="Still there, but it was bad"),
    Choice(value="fails, nothing found", words="Still there, opened and nothing found"),
)
LIKE: Final = "Type what the meter shows, for instance 4,98 or 12.3."
MOST: Final = 1e9
LIST: Final = "list"
"""The button that notes a whole code list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """An answer form as it came in. `ticked` and `codes`: a whole code list, where one code was
    asked for; it counts when `word` is LIST."""

    value: str = ""
    to: str = ""
    unit: str = ""
    word: str = ""
    minus: bool = False
    doubt: bool = False
    ticked: tuple[str, ...] = ()
    codes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """An answer that can be used: `value` and `to` in SI (or the display's measure), or a word,
    with all the `codes` the unit shows when they were looked at."""

    value: float | None = None
    to: float | None = None
    word: str = ""
    codes: tuple[str, ...] | None = None


def words_of(check: Check) -> tuple[Choice, ...]:
    """The buttons of a check that is answered in words; none for a reading."""
    if check.does == "repair":
        return REPAIR
    if check.does in WORDS:
        return tuple(Choice(value=word, words=_sentence(word)) for word in WORDS[check.does])
    if check.does in FOUND:
        found, places = FOUND[check.does], answers_of(check)
        named = [f"{found} {place}" for place in places]
        return tuple(
            Choice(value=word, words=_sentence(word)) for word in (*named, NOTHING[check.does])
        )
    return ()


def number_of(check: Check, book: Book, typed: Typed | None = None) -> AskNumber | None:
    """The number field of a reading; None for a check that is answered in words."""
    if check.does == "display":
        units: tuple[str, ...] = (check.setting,)
        label = _sentence(f"{displayed(check)[1]} on the display")
    elif check.does in UNITS and check.probe is not None:
        units, label = UNITS[check.does], LABELS[check.does]
    else:
        return None
    was = typed or Typed()
    chosen = was.unit if was.unit in units else units[0]
    return AskNumber(
        label=label,
        units=tuple(Choice(value=u, words=u, chosen=u == chosen) for u in units),
        overload=check.does == "ohms",
        most=most_shown(book, INSTRUMENTS.get(check.does, "meter")) if check.does in UNITS else "",
        typed=was.value,
        typed_to=was.to,
        minus=was.minus,
    )


def heard(check: Check, typed: Typed, book: Book) -> Heard | Oops:
    """What an answer form says, or what is wrong with it."""
    choices = [choice.value for choice in words_of(check)]
    if typed.word == CANNOT:
        return Heard(word=CANNOT)
    if typed.word == LIST and asked_code(check)[0]:
        return _code_list(check, typed, book)
    if choices:
        if typed.word in choices:
            return Heard(word=typed.word)
        return Oops(what="No answer was chosen.", remedy="Press one of the buttons.")
    if number_of(check, book) is None:
        return Oops(
            what="This step asks for no reading.",
            remedy="Enter what you found in the line under “Found so far”.",
        )
    if typed.word == "OL" and check.does == "ohms":
        return Heard(value=inf)
    value = _number(check, typed.value, typed.unit)
    if isinstance(value, Oops):
        return value
    value = -value if typed.minus else value
    if check.does == "display":
        unit, name = displayed(check)
        scale = beyond_display(book, unit, name, value)
        if scale:
            return oops_of(beyond_words(unit, name, value, scale))
    if not typed.to.strip():
        return _possible(check, Heard(value=value), book)
    to = _number(check, typed.to, typed.unit)
    return to if isinstance(to, Oops) else _possible(check, Heard(value=value, to=to), book)


def _possible(check: Check, read: Heard, book: Book) -> Heard | Oops:
    """A reading, unless nothing on the machine could put it on the meter."""
    if check.does not in UNITS:
        return read
    for value in (read.value, read.to):
        instrument = INSTRUMENTS.get(check.does, "meter")
        problem = None if value is None else meter_problem(book, value, instrument)
        if problem is not None:
            return oops_of(problem)
    return read


def _code_list(check: Check, typed: Typed, book: Book) -> Heard | Oops:
    """All active codes of a unit: those ticked and those typed; none is an answer too."""
    unit, code = asked_code(check)
    others = in_one_line(typed.codes)
    more: tuple[str, ...] = ()
    if others and others.casefold() != "none":
        found = listed(book, unit, others, whole=True)
        if not isinstance(found, CodesFound):
            return found[0]
        more = found.active
    codes = tuple(dict.fromkeys((*typed.ticked, *more)))
    active, not_active = WORDS[check.does]
    return Heard(word=active if code in codes else not_active, codes=codes)


def _number(check: Check, text: str, unit: str) -> float | Oops:
    text = text.strip().replace("\u2212", "-")
    if not text:
        return Oops(what="The reading is missing.", remedy=LIKE)
    if check.does in UNITS and text.casefold() in OVERLOAD[: None if check.does == "ohms" else 4]:
        return inf
    found = parse_quantity(text)
    if found is None or abs(found.value) > MOST:
        return Oops(what=f"“{text[:40]}” is not a reading.", remedy=LIKE)
    if check.does == "display":
        return _on_display(check, text, found.value, found.unit)
    usual = UNITS[check.does]
    if found.unit == "1":
        return found.value * FACTORS[unit if unit in usual else usual[0]]
    if found.unit != usual[0].removeprefix("m"):
        return Oops(
            what=f"“{text[:40]}” is in {found.unit}, and this check reads {usual[0]}.",
            remedy="Is the meter in the right position? Read again, or type the number alone.",
        )
    return found.value


def _on_display(check: Check, text: str, value: float, unit: str) -> float | Oops:
    """A display value stays in the display's own measure, which may stand behind the number."""
    if unit == "1":
        return value
    bare = text.replace(" ", "").casefold().removesuffix(check.setting.replace(" ", "").casefold())
    again = parse_quantity(bare)
    if again is not None and again.unit == "1":
        return again.value
    return Oops(
        what=f"“{text[:40]}” is not in {check.setting}.",
        remedy=f"Type the number as the display shows it, in {check.setting}.",
    )


def _sentence(words: str) -> str:
    return words[0].upper() + words[1:]
