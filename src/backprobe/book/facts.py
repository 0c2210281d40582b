"""One line, parted into a fact: its form, its head and its items, each with its column.

This stage knows the shape of the lines, not the machine: whether X14 exists comes later.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from backprobe.book.lines import Bit, Line, mask, split_list, split_on
from backprobe.book.model import Origin
from backprobe.book.report import Report
from backprobe.kinds import kind_named

Form = Literal[
    "format", "machine", "part", "wire", "role", "group", "feeds", "section", "spot", "code",
    "display", "function", "extra",
]  # fmt: skip

FORMAT: Final = 1
_KEYWORDS: Final = ("section", "spot", "code", "display", "function", "group", "machine", "book")
_BARE: Final = ("format", "machine", "wire", "extra")
"""Forms that may stand without items."""

_EXTRA = re.compile(r"x-[\w-]+\s*:", re.IGNORECASE)
_FEEDS = re.compile(r"\sfeeds\s", re.IGNORECASE)
_ARROW = re.compile(r">")
_PLUS = r"\s\+\s"
_SAYS: Final = {
    "section": re.compile(r"[^,]*\sto\s"),
    "code": re.compile(r"[^,]*[<>]"),
    "display": re.compile(r".*\sto\s.*\sis\s"),
}
"""What no part says of itself: after it the line is what its first word says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A line as a fact.

    `head` by form: part, machine, section, spot, function: (name); role: (pin); group: (unit and
    name); feeds: (source); wire: the ends of the chain in order; code: (unit and code, quoted
    words); display: (unit and name). `branches`: the ends after the last `>` of a wire line.
    """

    form: Form
    line: Line
    head: tuple[Bit, ...]
    items: tuple[Bit, ...] = ()
    branches: tuple[Bit, ...] = ()
    doubtful: bool = False
    said: str = ""
    only: Bit | None = None

    @property
    def origin(self) -> Origin:
        """Where this fact comes from."""
        return Origin(said=self.said, doubtful=self.doubtful, at=self.line.spot())


def read_fact(line: Line, report: Report) -> Fact | None:
    """The fact on a line, or None when it is empty, a comment or unreadable (reported)."""
    body = line.body
    if not body.text:
        return None
    if _EXTRA.match(body.text):
        return Fact(form="extra", line=line, head=(body,))
    if mask(body.text).count('"') % 2:
        report.add("open-quote", line.spot(body.part(body.text.rindex('"'))))
        return None
    body, tail = _tail(body)
    if not body.text:
        report.add("unreadable-line", line.spot(), near="")
        return None
    fact = _shape(line, body, report)
    if fact is None:
        return None
    kept, said, only = [], "", None
    for item in fact.items:
        first, _, rest = item.text.partition(" ")
        if first.lower() == "from" and rest:
            said = " ".join(rest.split())
        elif first.lower() == "only" and rest:
            only = item.part(len(first))
        else:
            kept.append(item)
    if not kept and fact.form not in _BARE:
        report.add("unreadable-line", line.spot(), near="")
        return None
    return Fact(
        form=fact.form,
        line=line,
        head=fact.head,
        items=tuple(kept),
        branches=fact.branches,
        doubtful=tail,
        said=said,
        only=only,
    )


def _tail(body: Bit) -> tuple[Bit, bool]:
    if not body.text.endswith("?"):
        return body, False
    text = body.text.rstrip("?").rstrip().rstrip(",")
    return Bit(text, body.column).stripped(), True


def _shape(line: Line, body: Bit, report: Report) -> Fact | None:
    masked = mask(body.text)
    word = masked.split(None, 1)[0].lower().rstrip(":")
    colon = masked.find(":")
    head, rest = body.part(0, colon), body.part(colon + 1)
    # "section tail: starter to X4" is loom, though its first place is named like a kind
    says = word in _SAYS and bool(_SAYS[word].match(rest.text))
    if colon > 0 and not says and _is_part(rest):
        if "." in head.text:
            return Fact(form="role", line=line, head=(head,), items=split_list(rest))
        return Fact(form="part", line=line, head=(head,), items=split_list(rest))
    if word in _KEYWORDS and len(masked.split(None, 1)) == 2:
        fact = _keyword(word, line, body, head, rest, colon)
        if fact is not None:
            return fact
    if colon < 0 and _ARROW.search(masked):
        return _wire(line, body, report)
    if colon < 0 and (match := _FEEDS.search(masked)):
        source, targets = body.part(0, match.start()), body.part(match.end())
        return Fact(form="feeds", line=line, head=(source,), items=split_list(targets))
    if colon > 0 and rest.text and not _ARROW.search(masked):
        form: Form = "role" if "." in head.text else "part"
        return Fact(form=form, line=line, head=(head,), items=split_list(rest))
    report.add(
        "unreadable-line", line.spot(body), near=report.near(word, _KEYWORDS) if word else ""
    )
    return None


def _is_part(rest: Bit) -> bool:
    """Whether the text after a colon starts with the name of a kind: then the line is a part,
    whatever its name starts with ("code reader: control unit")."""
    return bool(rest.text) and split_kind(split_list(rest)[0].text if split_list(rest) else "")[0]


def split_kind(text: str) -> tuple[bool, str, str]:
    """Part the leading kind words from what follows: (found, kind words, rest)."""
    words = text.split()
    for count in range(min(len(words), 5), 0, -1):
        if kind_named(" ".join(words[:count])):
            return True, " ".join(words[:count]), " ".join(words[count:])
    return False, text, ""


def _keyword(word: str, line: Line, body: Bit, head: Bit, rest: Bit, colon: int) -> Fact | None:
    if word == "book":
        words, *more = split_list(body.part(len(word))) or (Bit("", body.column),)
        return Fact(form="format", line=line, head=(words,), items=tuple(more))
    if word == "machine":
        name, *items = split_list(body.part(len(word))) or (Bit("", body.column),)
        return Fact(form="machine", line=line, head=(name,), items=tuple(items))
    if word == "group" and colon < 0 and (match := _FEEDS.search(mask(body.text))):
        source = body.part(0, match.start())
        return Fact(
            form="feeds", line=line, head=(source,), items=split_list(body.part(match.end()))
        )
    if colon < 0 or (word == "group" and not rest.text):
        return None
    name = head.part(len(word))
    if word == "code":
        quoted = Bit("", name.column)
        first = name.text.find('"')
        if first >= 0:
            quoted = name.part(first)
            name = name.part(0, first)
        return Fact(form="code", line=line, head=(name, quoted), items=split_list(rest))
    forms: dict[str, Form] = {
        "section": "section", "spot": "spot", "display": "display", "function": "function",
        "group": "group",
    }  # fmt: skip
    return Fact(form=forms[word], line=line, head=(name,), items=split_list(rest))


def _wire(line: Line, body: Bit, report: Report) -> Fact | None:
    ends = list(split_on(body, ">"))
    last, *items = split_list(ends[-1]) or (ends[-1],)
    ends[-1] = last
    branches: tuple[Bit, ...] = split_on(last, _PLUS)
    if any(not end.text for end in (*ends, *branches)):
        report.add("short-chain", line.spot(body))
        return None
    return Fact(
        form="wire",
        line=line,
        head=tuple(ends[:-1]),
        items=tuple(items),
        branches=branches,
    )
