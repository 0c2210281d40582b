"""What a complaint and codes point at, before anything is weighed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence, Set
from typing import Final

from backprobe.book.model import Book, CodeRule, Function
from backprobe.checks.hanging import Hanging
from backprobe.checks.layout import Layout
from backprobe.checks.telling import telling
from backprobe.findings.model import CodesFound

MOST_NAMED: Final = 4
SHORT: Final = 4
"""Words up to this length must be the same; of longer ones the ends may differ: crank, cranks."""
_LITTLE: Final = (
    "after again all and any are before but can does each every for from has have its just like "
    "more not now off once one only our out own run running runs since sometimes still than that "
    "the then there they this was when which while will with work working works"
)
SAYS_LITTLE: Final = frozenset(_LITTLE.split())


def worth_asking(
    layout: Layout, complaint: str, codes: Iterable[CodesFound]
) -> tuple[Function, ...]:
    """Functions to ask about, most telling first for what the driver says and the codes so far."""
    book, hanging = layout.book, Hanging(layout)
    words = _words(complaint)
    named = _named(book, words)
    parts = [name for name in book.parts if _words(name) and _all_said(_words(name), words)]
    for name in named:
        parts += [*book.functions[name].needs, *book.functions[name].commands]
    pointed: Counter[str] = Counter()
    for found in codes:
        for code in (*found.active, *found.stored):
            if (found.unit, code) in book.codes:
                looked_at = _looked_at(book, hanging, book.codes[found.unit, code])
                parts += looked_at
                pointed.update(_hang_on(book, hanging, looked_at - layout.units))
    named += [name for name, _ in pointed.most_common(MOST_NAMED)]
    return telling(layout, named=named, near=hanging.parts(parts))


def _hang_on(book: Book, hanging: Hanging, parts: Set[str]) -> list[str]:
    """Functions that some parts take part in: whether they work says whether a code is true."""
    return [
        name
        for name, function in book.functions.items()
        if parts & hanging.parts((*function.needs, *function.commands))
    ]


def _named(book: Book, said: Sequence[str]) -> list[str]:
    """Functions with a word of the complaint in their name; a word few of them have counts more."""
    of = {name: _words(name) for name in book.functions}
    rarity = {
        word: 1.0 / sum(_all_said([word], words) for words in of.values())
        for words in of.values()
        for word in words
    }
    score = {
        name: sum(rarity[word] for word in words if _all_said([word], said))
        for name, words in of.items()
    }
    found = [name for name in of if score[name]]
    return sorted(found, key=lambda name: -score[name])[:MOST_NAMED]


def _looked_at(book: Book, hanging: Hanging, rule: CodeRule) -> set[str]:
    """Parts a code's conditions look at: what is at a pin, and units themselves."""
    found = {rule.unit}
    for test in rule.tests:
        pins = [test.pin] if test.pin else []
        if test.kind == "rail":
            roles = book.roles.items()
            pins += [p for p, role in roles if p.part == rule.unit and role.group == test.other]
        found |= {part for pin in pins for part in hanging.at(pin)}
        if test.kind == "hears":
            found.add(test.other)
    return found


def _words(text: str) -> list[str]:
    """Words that say something, once each."""
    words = re.findall(r"[^\W\d_]{3,}", text.casefold())
    return list(dict.fromkeys(word for word in words if word not in SAYS_LITTLE))


def _all_said(words: Iterable[str], said: Sequence[str]) -> bool:
    return all(any(_same(word, other) for other in said) for word in words)


def _same(a: str, b: str) -> bool:
    """The same word but for its ending."""
    short, long = sorted((a, b), key=len)
    if len(short) <= SHORT:
        return long in (short, f"{short}s")
    return long.startswith(short[: max(SHORT + 1, len(short) - 2)])
