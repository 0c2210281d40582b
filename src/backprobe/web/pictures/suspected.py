"""Suspects as marks: which wires, parts and contacts of the picture they sit on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from backprobe.book.model import Book
from backprobe.shop.predicted import Leading
from backprobe.web.pictures.nearby import Mark, Marks

MOST: Final = 9
"""Suspects that are marked; numbers of one digit."""
LEAST: Final = 0.01
CONTACT: Final = "contact "


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
            if atom.id.startswith(CONTACT):
                place = atom.id.removeprefix(CONTACT)
                lug, wire = place.partition("<")[::2]
                part = atom.owners[0]
                if wire:
                    lugs.setdefault((part, wire.removesuffix(">")), mark)
                else:
                    contacts.setdefault((part, lug.removeprefix(part)[1:]), mark)
                continue
            named = [o.removeprefix("wire ") for o in atom.owners if o.startswith("wire ")]
            for wire in named:
                if wire in book.wires:
                    wires.setdefault(wire, mark)
            if not named:
                for owner in atom.owners:
                    if owner in book.parts:
                        parts.setdefault(owner, mark)
    return Marks(wires=wires, parts=parts, contacts=contacts, lugs=lugs)
