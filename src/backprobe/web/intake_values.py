"""Values on the machine's display, as the form that starts a job asks for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final, Literal

from backprobe.base.units import parse_quantity
from backprobe.book.model import Book, DisplayValue
from backprobe.shop.displays import beyond_display, beyond_words
from backprobe.web.codes import oops_of
from backprobe.web.contexts import Choice, Oops
from backprobe.web.start_contexts import ShownField

MOST: Final = 12
"""Values asked for: a form of more is not filled in."""
ENGINE: Final = (
    Choice(value="on", words="Stopped, key on"),
    Choice(value="run", words="Running"),
)


def fields(
    book: Book, typed: Mapping[str, str], wrong: Mapping[str, tuple[Oops, ...]]
) -> tuple[ShownField, ...]:
    """A field for each value, with what was typed."""
    return tuple(
        ShownField(
            field=field,
            name=one.name[:1].upper() + one.name[1:],
            measure=one.measure,
            typed=typed.get(field, ""),
            oops=next(iter(wrong.get(field, ())), None),
        )
        for field, one in _asked(book).items()
    )


def engine(typed: Mapping[str, str]) -> tuple[Choice, ...]:
    """How the machine stood while they were read."""
    key = key_of(typed)
    return tuple(replace(choice, chosen=choice.value == key) for choice in ENGINE)


def key_of(typed: Mapping[str, str]) -> Literal["on", "run"]:
    """The key position they were read in."""
    return "run" if typed.get("shown-key") == "run" else "on"


def read(
    book: Book, typed: Mapping[str, str]
) -> tuple[dict[tuple[str, str], float], dict[str, tuple[Oops, ...]]]:
    """The values by unit and name, and what is wrong by field."""
    found: dict[tuple[str, str], float] = {}
    wrong: dict[str, tuple[Oops, ...]] = {}
    for field, one in _asked(book).items():
        text = typed.get(field, "").strip()
        value = _value(book, one, text) if text else None
        if isinstance(value, Oops):
            wrong[field] = (value,)
        elif value is not None:
            found[one.unit, one.name] = value
    return found, wrong


def _asked(book: Book) -> dict[str, DisplayValue]:
    return {f"shown{k}": one for k, one in enumerate([*book.displays.values()][:MOST])}


def _value(book: Book, one: DisplayValue, text: str) -> float | Oops:
    bare = text.replace("\u2212", "-").casefold().removesuffix(one.measure.casefold()).strip()
    number = parse_quantity(bare)
    if number is None or number.unit != "1":
        return Oops(
            what=f"“{text[:40]}” is no value of {one.name}.",
            remedy=f"Type the number as the display shows it, in {one.measure}, or leave it empty.",
        )
    scale = beyond_display(book, one.unit, one.name, number.value)
    if scale:
        return oops_of(beyond_words(one.unit, one.name, number.value, scale))
    return number.value
