"""Typed values over the defaults of the kinds. SI."""

from __future__ import annotations

from collections.abc import Mapping

from backprobe.book.model import Book, Part, Pin
from backprobe.kinds import GROUP, KINDS, ROLES
from backprobe.kinds.values import complete


def attributes_of(book: Book, part: str) -> Mapping[str, float | str]:
    """Every attribute of a part: typed, else its kind's default for this machine's voltage.

    KeyError when there is no such part.
    """
    found = book.parts[part]
    return complete(KINDS[found.kind].attributes, found.attrs, volts=book.machine.volts)


def printed_pins(part: Part) -> Mapping[str, str]:
    """How the pins of a part's kind are printed on it: as its line says, else as the kind has them."""
    own = KINDS[part.kind].pins
    typed = str(part.attrs.get("pins", "")).split(" / ")
    return dict(zip(own, typed if len(typed) == len(own) else own, strict=True))


def pin_words(part: Part, pin: str) -> str:
    """A pin by its kind's name and, where the book prints another on it, by that: "1, printed A"."""
    name = printed_pins(part).get(pin, pin)
    return pin if name == pin else f"{pin}, printed {name}"


def role_attributes(book: Book, pin: Pin) -> Mapping[str, float | str]:
    """Every attribute of what stands behind a unit's pin. KeyError when nothing is known of it."""
    role = book.roles[pin]
    return complete(ROLES[role.role].attributes, role.attrs, volts=book.machine.volts)


def group_attributes(book: Book, unit: str, name: str) -> Mapping[str, float | str]:
    """Every attribute of a unit's 5 V group: "volts", "limit" (A), "latches" ("yes", "no").

    KeyError when the unit has no such group.
    """
    group = book.groups[(unit, name)]
    typed: dict[str, float | str] = {
        "volts": group.volts,
        "limit": group.limit_a,
        "latches": "yes" if group.latches else "no",
    }
    return complete(GROUP.attributes, typed)
