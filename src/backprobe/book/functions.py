"""What the machine does for the driver: function lines into a draft."""

from __future__ import annotations

import re

from backprobe.book.control import read_keys, split_unit
from backprobe.book.draft import Draft
from backprobe.book.facts import Fact
from backprobe.book.lines import Bit
from backprobe.book.model import Function

LISTS = ("needs", "with", "without")


def read_function(draft: Draft, fact: Fact) -> None:
    """`function NAME: needs PART, UNIT, key crank, with S7, without ECU 636/8, moves the machine`.

    Items that start with no word of the format go on with the list before them.
    """
    report, line = draft.report, fact.line
    name = draft.name(fact.head[0], line)
    if name is None or not draft.first(f"function {name}", fact):
        return
    lists: dict[str, list[Bit]] = {word: [] for word in LISTS}
    key, moves, listing = "on", False, ""
    for item in fact.items:
        word, _, rest = item.text.partition(" ")
        lowered = word.lower()
        if lowered in LISTS and rest:
            listing = lowered
            lists[listing] += _names(item.part(len(word)))
        elif lowered == "key" and rest:
            keys = read_keys(draft, line, item, rest)
            key = keys[0] if keys else key
            listing = ""
        elif lowered == "moves":
            moves = True
            listing = ""
        elif listing:
            lists[listing] += _names(item)
        else:
            report.add(
                "unknown-attribute", line.spot(item), word=item.text, owner="a function",
                known="needs, key, with, without, moves the machine",
                near=report.near(word, (*LISTS, "key", "moves")),
            )  # fmt: skip
    needs = [bit for bit in lists["needs"] if _known_part(draft, fact, bit)]
    codes = [_code(draft, bit) for bit in lists["without"]]
    if not needs and not codes:
        report.add("function-without-needs", line.spot(fact.head[0]), name=name)
    draft.functions[name] = Function(
        name=name,
        needs=(*(" ".join(bit.text.split()) for bit in needs), *codes),
        key=key,
        commands=tuple(" ".join(bit.text.split()) for bit in lists["with"]),
        moves=moves,
        origin=fact.origin,
    )


def _names(bit: Bit) -> list[Bit]:
    names, start = [], 0
    for match in re.finditer(r"\s/\s", bit.text):
        names.append(bit.part(start, match.start()))
        start = match.end()
    return [name for name in (*names, bit.part(start)) if name.text]


def _known_part(draft: Draft, fact: Fact, bit: Bit) -> bool:
    """Whether what a function needs is a part; reported when not."""
    return draft.part_named(bit, fact.line) is not None


def _code(draft: Draft, bit: Bit) -> str:
    unit, name = split_unit(draft, bit)
    return f"{' '.join(unit.text.split())} {' '.join(name.text.split())}"
