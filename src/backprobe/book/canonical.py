"""The tidy spelling of a book: every line normalised, comments and order kept.

canonical(canonical(t)) == canonical(t), and both read as the same book. Lines that cannot be
read are left as they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from backprobe.base.units import parse_quantity, tidy_quantity, unit_named
from backprobe.book.faces import is_face, tidy_face
from backprobe.book.facts import Fact, read_fact, split_kind
from backprobe.book.lines import MOST_LINES, Bit, decode, read_line, split_lines
from backprobe.book.report import Report
from backprobe.kinds import KINDS, ROLES
from backprobe.kinds.records import Kind, Role

FREE: Final = frozenset(
    (
        "at", "from", "only", "wire", "wires", "in", "serial", "variants", "variant", "then",
        "needs", "with", "without", "hides", "hears", "pins", "on", "moves",
        "blinks",
    )
)  # fmt: skip
"""Words whose item is free text: numbers in it are left alone."""

_WORDS: Final = FREE | {"key", "for", "open", "close", "backprobe", "limit", "latches", "to"}
_RECORDS: Final[tuple[Kind | Role, ...]] = (*KINDS.values(), *ROLES.values())
_ATTRIBUTES: Final = frozenset(a.name for record in _RECORDS for a in record.attributes)
_NUMERIC = re.compile(r"^[+-]?\d")
_SIGN = re.compile(r"\s*([<>])\s*")


def canonical(text: str | bytes) -> str:
    """The text with every line in its tidy spelling. A text that is none, or too
    large, comes back empty."""
    decoded, _ = decode(text)
    raw_lines = split_lines(decoded)
    if len(raw_lines) > MOST_LINES:
        return ""
    lines = [canonical_line(raw) for raw in raw_lines]
    return "".join(f"{line}\n" for line in lines)


def canonical_line(raw: str) -> str:
    """One line in its tidy spelling; its comment keeps its column where it can."""
    line = read_line("", 1, raw)
    if not line.body.text:
        return line.comment
    fact = read_fact(line, Report(""))
    if fact is None or not fact.head[0].text:
        return raw.rstrip()
    body = spell(fact).rstrip()
    if not line.comment:
        return body
    column = len(raw.rstrip()) - len(line.comment)
    return f"{body.ljust(max(len(body) + 2, column))}{line.comment}"


def spell(fact: Fact) -> str:
    """A fact as a line, without its comment."""
    if fact.form == "extra":
        return fact.head[0].text
    items = [*_items(fact)]
    if fact.said:
        items.append(f"from {_spaced(fact.said)}")
    if fact.only is not None:
        items.append(f"only {_spaced(fact.only.text)}")
    text = _joined(fact, items)
    return f"{text} ?" if fact.doubtful else text


def _joined(fact: Fact, items: list[str]) -> str:
    head = [_pin(bit) for bit in fact.head]
    listed = ", ".join(items)
    if fact.form == "format":
        return ", ".join([f"book {head[0].lower()}", *items])
    if fact.form == "machine":
        return ", ".join([f"machine {head[0]}", *items])
    if fact.form == "wire":
        ends = " > ".join([*head, " + ".join(_pin(bit) for bit in fact.branches)])
        return ", ".join([ends, *items])
    if fact.form == "feeds":
        source = re.sub(r"^group\b", "group", head[0], flags=re.IGNORECASE)
        return f"{source} feeds {listed}"
    if fact.form in ("part", "role"):
        return f"{head[0]}: {listed}"
    quoted = f" {fact.head[1].text}" if fact.form == "code" and fact.head[1].text else ""
    return f"{fact.form} {head[0]}{quoted}: {listed}"


def _spaced(text: str) -> str:
    return " ".join(text.split())


def _pin(bit: Bit) -> str:
    """A name or pin with single spaces, none around its dot."""
    name, dot, pin = _spaced(bit.text).rpartition(".")
    return f"{name.rstrip()}.{pin.lstrip()}" if dot else pin


def _items(fact: Fact) -> Iterable[str]:
    for number, item in enumerate(fact.items):
        text = _spaced(item.text)
        first = text.partition(" ")[0].lower()
        if fact.form == "wire" or (fact.form in ("feeds", "machine") and parse_quantity(text)):
            yield _quantity_or(text, first)
        elif fact.form in ("feeds", "function"):
            yield _lowered(text) if fact.form == "function" else text
        elif fact.form == "code":
            yield _code_item(text, first)
        elif fact.form == "spot" and number == 0:
            yield _spot_item(text)
        elif fact.form == "section" and number == 0:
            yield re.sub(r"\s+to\s+", " to ", text, flags=re.IGNORECASE)
        elif fact.form == "display" and number == 0:
            yield _pin(item)
        elif fact.form == "part" and is_face(item):
            yield tidy_face(text)
        elif first in FREE or (number == 0 and not _has_quantity(text)):
            yield _lowered(text) if number else _kind(fact, text)
        else:
            yield tidy(_kind(fact, text) if number == 0 else _lowered(text))


def _kind(fact: Fact, text: str) -> str:
    """The kind's words of a part line in the kind's own case."""
    if fact.form != "part":
        return text
    found, words, rest = split_kind(text)
    if not found:
        return text
    usual = {word.casefold(): word for kind in KINDS.values() for word in kind.words}
    return f"{usual[words.casefold()]} {rest}".rstrip()


def _code_item(text: str, first: str) -> str:
    if re.search(r"[<>]", text):
        return tidy(_SIGN.sub(r" \1 ", text))
    return tidy(_lowered(text)) if first == "for" else _lowered(text)


def _spot_item(text: str) -> str:
    match = re.match(r"^in (.+?) at (.+)$", text, re.IGNORECASE)
    return f"in {match[1]} at {tidy(match[2])}" if match else text


def _quantity_or(text: str, first: str) -> str:
    if first in ("wire", "wires", "in"):
        return _lowered(text)
    return tidy_quantity(text) or text


def _lowered(text: str) -> str:
    """The item with the word of the format it starts with in small letters."""
    words = text.split()
    for count in range(min(4, len(words)), 0, -1):
        start = " ".join(words[:count]).lower()
        if start in _ATTRIBUTES or start in _WORDS:
            return " ".join([start, *words[count:]])
    return text


def _has_quantity(text: str) -> bool:
    return any(_NUMERIC.match(word) for word in text.split())


def tidy(text: str) -> str:
    """Every quantity in a text in its usual spelling; a group's name is no quantity."""
    words = text.split()
    out: list[str] = []
    number = 0
    while number < len(words):
        word = words[number]
        after = words[number + 1] if number + 1 < len(words) else ""
        if not _NUMERIC.match(word) or (out and out[-1].lower() in ("group", "row", "slot")):
            out.append(word)
            number += 1
            continue
        both = tidy_quantity(f"{word} {after}") if after else None
        if both and (unit_named(after) or after.lower() == "awg"):
            out.append(both)
            number += 2
            continue
        out.append(tidy_quantity(word) or word)
        number += 1
    return " ".join(out)
