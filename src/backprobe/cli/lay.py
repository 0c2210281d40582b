"""Text on a console: aligned tables, wrapped paragraphs."""

from __future__ import annotations

import re
import shutil
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

NARROWEST = 60
WIDEST = 100


def width() -> int:
    """Columns to write in."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size((88, 24)).columns))


if TYPE_CHECKING:
    from backprobe.shop.noting import Noted

_TOGETHER = re.compile(r"(?<=\d) (?=(%|[numkM]?(V|A|ohm|m)|min|bar|h)\b|%)")
_HARD = "\u00a0"


def _broken(text: str, room: int, first: str = "", later: str = "") -> list[str]:
    """Lines of a paragraph; a figure stays with its unit, names with hyphens stay whole."""
    lines = textwrap.wrap(
        _TOGETHER.sub(_HARD, text),
        room,
        initial_indent=first,
        subsequent_indent=later,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_HARD, " ") for line in lines]


def wrapped(text: str, first: str = "", rest: str | None = None) -> str:
    """A paragraph that fits the console; `first` and `rest` begin its lines."""
    later = " " * len(first) if rest is None else rest
    return "\n".join(_broken(text, width(), first, later))


def noted_text(noted: Sequence[Noted]) -> str:
    """Findings as they were kept, and what is to be said of them."""
    lines = [table([(one.finding, one.words) for one in noted])]
    lines += [wrapped(one.remark, f"{one.finding}  ! ") for one in noted if one.remark]
    return "\n".join(lines)


def table(rows: Sequence[Sequence[str]], head: Sequence[str] = (), indent: str = "") -> str:
    """Rows in aligned columns. The last column wraps; the others are as wide as they must be."""
    lines = [list(row) for row in ([head, *rows] if head else rows)]
    if not lines:
        return ""
    count = max(len(line) for line in lines)
    lines = [line + [""] * (count - len(line)) for line in lines]
    wide = [max(len(line[k]) for line in lines) for k in range(count - 1)]
    room = max(24, width() - len(indent) - sum(wide) - 2 * (count - 1))
    out: list[str] = []
    for line in lines:
        cells = [cell.ljust(wide[k]) for k, cell in enumerate(line[:-1])]
        last = _broken(line[-1], room) or [""]
        out.append((indent + "  ".join([*cells, last[0]])).rstrip())
        blank = indent + "  ".join([" " * w for w in wide] + [""])
        out += [blank + more for more in last[1:]]
    return "\n".join(out)
