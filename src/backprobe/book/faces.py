"""How the pins of a plug lie: rows of cavities, as seen on its mating or on its wire side."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import Final, TypeVar

from backprobe.book.draft import PLUG, Draft
from backprobe.book.lines import Bit, Line
from backprobe.book.model import Cavity, Face
from backprobe.book.wires import resolve_pin

SIDES: Final = ("mating side", "wire side")
"""The two ways to look at a plug; each is the other one mirrored."""
MOST_ROWS: Final = 12
MOST_IN_A_ROW: Final = 40
BLANK: Final = "-"
FACE: Final = re.compile(r"(?<!\S)(mating|wire)\s+side\b\s*", re.IGNORECASE)
"""What says how the pins of a plug lie begins so."""
_HALF = re.compile(r"\s+on\s+(?P<half>.+)$", re.IGNORECASE)
_RANGE = re.compile(r"(?<!\S)(\d{1,4})\s+to\s+(\d{1,4})(?!\S)", re.IGNORECASE)
_Place = TypeVar("_Place")
_EXAMPLE: Final = "mating side 1 to 6 / 7 to 12"


def is_face(item: Bit) -> bool:
    """Whether an item says how the pins of a plug lie."""
    return FACE.match(item.text) is not None


def read_face(draft: Draft, part: str, item: Bit, line: Line) -> None:
    """`mating side 1 to 6 / 7 to 12 [on SECTION]`, or `wire side ...`, of a part that is there."""
    side, rest = _split(item.text)
    if not rest:
        draft.report.add(
            "missing-value", line.spot(item), word=side, what=f"`{side}`", example=_EXAMPLE
        )
        return
    match = _HALF.search(rest)
    half = " ".join(match["half"].split()) if match else ""
    rows = tuple(_row(text) for text in (rest[: match.start()] if match else rest).split("/"))
    reason = _wrong(draft, part, rows, half)
    if reason:
        draft.report.add("unreadable-face", line.spot(item), text=item.text, reason=reason)
        return
    if side == "wire side":
        rows = mirrored(rows)
    face = Face(
        rows=tuple(tuple(_cavity(draft, part, label) for label in row) for row in rows), half=half
    )
    draft.parts[part] = replace(draft.parts[part], face=face)


def mirrored(rows: tuple[tuple[_Place, ...], ...]) -> tuple[tuple[_Place, ...], ...]:
    """The rows as they lie when the plug is seen from its other side."""
    return tuple(row[::-1] for row in rows)


def tidy_face(text: str) -> str:
    """The item in its tidy spelling."""
    side, rest = _split(text)
    half = _HALF.search(rest)
    rows = (rest[: half.start()] if half else rest).split("/")
    tail = f" on {half['half']}" if half else ""
    listed = " / ".join(_RANGE.sub(r"\1 to \2", row.strip()) for row in rows)
    return f"{side} {listed}{tail}".rstrip()


def _split(text: str) -> tuple[str, str]:
    match = FACE.match(text)
    if match is None:
        return "", text
    return f"{match[1].lower()} side", " ".join(text[match.end() :].split())


def _row(text: str) -> tuple[str, ...]:
    """Names of cavities from left to right; "3 to 1" counts down. A row too long to be one is
    kept short, but too long."""

    def counted(match: re.Match[str]) -> str:
        first, last = int(match[1]), int(match[2])
        step = 1 if last >= first else -1
        many = range(first, last + step, step)[: MOST_IN_A_ROW + 1]
        return " ".join(str(number) for number in many)

    return tuple(_RANGE.sub(counted, text).split())


def _wrong(draft: Draft, part: str, rows: tuple[tuple[str, ...], ...], half: str) -> str:
    """Why rows cannot be the face of a part, "" when they can."""
    labels = [label for row in rows for label in row if label != BLANK]
    twice = next((label for label, count in Counter(labels).items() if count > 1), "")
    alone = next((label for label in labels if label.casefold() == "to"), "")
    kind = draft.kind(part)
    reason = ""
    if kind.joint != "plug":
        reason = f"a {kind.words[0]} has no plug"
    elif draft.parts[part].face is not None:
        reason = "how its pins lie was said before"
    elif half and kind.name != PLUG:
        reason = "only a plug in the loom has two halves"
    elif not all(rows) or not labels:
        reason = "a row is empty"
    elif alone:
        reason = '"to" stands between two numbers'
    elif len(rows) > MOST_ROWS:
        reason = f"more than {MOST_ROWS} rows"
    elif max(len(row) for row in rows) > MOST_IN_A_ROW:
        reason = f"more than {MOST_IN_A_ROW} pins in a row"
    elif twice:
        reason = f"pin {twice} is there twice"
    return reason


def _cavity(draft: Draft, part: str, label: str) -> Cavity:
    if label == BLANK:
        return Cavity("", "")
    if not draft.counted(part):
        # naming a place of a unit does not make it a pin of a circuit
        return Cavity(label, label)
    printed = draft.kind(part).pins and "pins" in draft.parts[part].attrs
    if label in draft.pins_of(part) and not printed:
        return Cavity(label, label)
    pin = resolve_pin(draft, part, label) if printed or not label.isdigit() else None
    return Cavity(label, pin[0] if pin else "")
