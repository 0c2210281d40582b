"""Suspects as marks: which wires, parts and contacts of the picture they sit on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from backprobe.book.model import Book
from backprobe.defects.model import Atom
from backprobe.shop.predicted import Leading
from backprobe.web.pictures.nearby import Mark, Marks

MOST: Final = 9
"""Suspects that are marked; numbers of one digit."""
LEAST: Final = 0.01
CONTACT: Final = "contact "
BOTH: Final = " + "
"""What stands between the names of two faults; no name of a book holds it."""


def marks_of(book: Book, suspects: Sequence[Leading]) -> Marks:
    """Where the leading suspects sit. A place that two share belongs to the likelier one."""
    wires: dict[str, Mark] = {}
    parts: dict[str, Mark] = {}
    contacts: dict[tuple[str, str], Mark] = {}
    lugs: dict[tuple[str, str], Mark] = {}
    for number, suspect in enumerate(suspects[:MOST], 1):
        if suspect.chance < LEAST and number > 1:
            break
        mark = Mark(number=number, chance=suspect.chance)
        for atom, _ in suspect.faults:
            touched = _contacts(atom)
            for part, lug, wire in touched:
                if wire:
                    lugs.setdefault((part, wire), mark)
                else:
                    contacts.setdefault((part, lug), mark)
            others = set(atom.owners) - {part for part, _, _ in touched}
            named = [o.removeprefix("wire ") for o in atom.owners if o.startswith("wire ")]
            for wire in named:
                if wire in book.wires:
                    wires.setdefault(wire, mark)
            if not named:
                for owner in atom.owners:
                    if owner in book.parts and owner in others:
                        parts.setdefault(owner, mark)
    return Marks(wires=wires, parts=parts, contacts=contacts, lugs=lugs)


def _contacts(atom: Atom) -> list[tuple[str, str, str]]:
    """The contacts an atom sits on: part, pin, and the wire of a lug. Of two faults either may be one."""
    found = []
    for half in atom.id.split(BOTH) if atom.second else (atom.id,):
        if half.startswith(CONTACT):
            lug, _, wire = half.removeprefix(CONTACT).partition("<")
            part = max((o for o in atom.owners if lug.startswith(o)), key=len, default="")
            found.append((part, lug.removeprefix(part)[1:], wire.removesuffix(">")))
    return found
