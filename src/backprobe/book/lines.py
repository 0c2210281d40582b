"""Bytes to lines: decode what a person saved, split it, part each line from its comment."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from typing import Final, NamedTuple

from backprobe.base.problems import Spot

MOST_CHARACTERS: Final = 1_000_000
MOST_LINES: Final = 10_000
LONGEST_LINE: Final = 1_000

_COMMENT = re.compile(r'"[^"]*"|(?<!\S)#')
_QUOTED = re.compile(r'"[^"]*"')
_COMMA = re.compile(r",(?!\d)|(?<!\d),")
_WORD = re.compile(r"\S+")


class Bit(NamedTuple):
    """A stretch of a line and the column (from 1) where it starts."""

    text: str
    column: int

    def stripped(self) -> Bit:
        """Without the white space around it."""
        left = self.text.lstrip()
        return Bit(left.rstrip(), self.column + len(self.text) - len(left))

    def after_words(self, count: int) -> Bit:
        """What follows the first so many words."""
        ends = [match.end() for match in islice(_WORD.finditer(self.text), count)]
        return self.part(ends[-1]) if count and len(ends) == count else self

    def part(self, start: int, end: int | None = None) -> Bit:
        """The stretch from `start` to `end` inside this one, stripped."""
        return Bit(self.text[start:end], self.column + start).stripped()


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line: `body` is the text before the comment, without white space around it."""

    file: str
    number: int
    text: str
    body: Bit
    comment: str = ""

    def spot(self, bit: Bit | None = None) -> Spot:
        """Where a bit stands (the whole body when none is given)."""
        bit = bit or self.body
        return Spot(
            file=self.file,
            line=self.number,
            column=bit.column,
            end=bit.column + max(1, len(bit.text)),
            text=self.text,
        )


class Decoded(NamedTuple):
    """A text and how it was read. `trouble`: "" or the slug of what was wrong with the bytes."""

    text: str
    trouble: str = ""


def decode(data: str | bytes) -> Decoded:
    """The text in some bytes: UTF-8 (with or without mark), UTF-16, else cp1252 with a remark."""
    if len(data) > MOST_CHARACTERS * (1 if isinstance(data, str) else 4):
        return Decoded("", "book-too-large")
    if isinstance(data, str):
        text, trouble = data.removeprefix("\ufeff"), ""
    else:
        text, trouble = _decode_bytes(bytes(data))
    if "\0" in text:
        return Decoded("", "not-a-text")
    if len(text) > MOST_CHARACTERS:
        return Decoded("", "book-too-large")
    return Decoded(text, trouble)


def _decode_bytes(data: bytes) -> tuple[str, str]:
    utf16 = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    if not utf16 and data.count(b"\0", 0, 200) > 20:
        # No mark, but every second byte is zero: UTF-16 as some editors save it.
        even, odd = data[0:200:2].count(0), data[1:200:2].count(0)
        codec = "utf-16-le" if odd > even else "utf-16-be"
        if min(even, odd) == 0:
            try:
                return data.decode(codec), ""
            except UnicodeDecodeError:
                return "\0", ""
    try:
        return data.decode("utf-16" if utf16 else "utf-8-sig"), ""
    except UnicodeDecodeError:
        pass
    control = sum(data.count(bytes([byte])) for byte in (*range(9), *range(14, 32)))
    if utf16 or control:
        return "\0", ""
    return data.decode("cp1252", errors="replace"), "not-utf-8"


def split_lines(text: str) -> list[str]:
    """The lines of a text, whatever system wrote its line ends. No last empty line."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if lines and not lines[-1]:
        lines.pop()
    return lines


def read_line(file: str, number: int, text: str) -> Line:
    """Part a line from its comment. A `#` counts when first or after white space, not in quotes."""
    body, comment = text, ""
    if "#" in text:
        for match in _COMMENT.finditer(text):
            if match.group() == "#":
                body, comment = text[: match.start()], text[match.start() :].rstrip()
                break
    return Line(file=file, number=number, text=text, body=Bit(body, 1).stripped(), comment=comment)


def mask(text: str) -> str:
    """The text with everything inside quotes blotted out, of the same length."""
    if '"' not in text:
        return text
    return _QUOTED.sub(lambda match: '"' + "_" * (len(match.group()) - 2) + '"', text)


def split_list(bit: Bit) -> tuple[Bit, ...]:
    """The items of a list: commas part them, but for a comma between two digits. Empty items are
    left out."""
    return _split(bit, _COMMA)


def split_on(bit: Bit, sign: str) -> tuple[Bit, ...]:
    """The bits between a sign (a regular expression), quotes respected. Empty ones are kept."""
    return _split(bit, re.compile(sign), keep=True)


@lru_cache(maxsize=16)
def _split(bit: Bit, sign: re.Pattern[str], *, keep: bool = False) -> tuple[Bit, ...]:
    out = []
    start = 0
    for match in sign.finditer(mask(bit.text)):
        out.append(bit.part(start, match.start()))
        start = match.end()
    out.append(bit.part(start))
    return tuple(item for item in out if keep or item.text)
