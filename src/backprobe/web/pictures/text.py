"""How much room words take. The browser's font is not known here, so widths are on the wide side
of the usual sans-serif faces (measured on DejaVu Sans, the widest of them, in units of its size).
"""

from __future__ import annotations

from typing import Final

SIZE: Final = 13.0
"""Size of all words in a picture, px: readable on a phone at arm's length."""
LEAST_LETTERS: Final = 3
NARROW: Final = frozenset("il.,:;'|!()[]{}/ jtfrI-\u00a0")
WIDE: Final = frozenset("mwMW%@<>+=")


def width(words: str, size: float = SIZE, *, bold: bool = False) -> float:
    """Room for a line of words, px."""
    ems = sum(
        0.41 if c in NARROW else 0.98 if c in WIDE else 0.70 if c.isupper() else 0.64 for c in words
    )
    return ems * size * (1.09 if bold else 1.0)


def fitting(words: str, room: float, size: float = SIZE, *, bold: bool = False) -> str:
    """The words, cut with a dot triple where they do not fit."""
    if width(words, size, bold=bold) <= room:
        return words
    kept = words
    while len(kept) > 1 and width(f"{kept}\u2026", size, bold=bold) > room:
        kept = kept[:-1]
    return f"{kept.rstrip()}\u2026"


def lines(
    words: str, room: float, size: float = SIZE, *, bold: bool = False, most: int = 6
) -> tuple[str, ...]:
    """Words broken at their spaces into lines that fit, one longer than a line within itself and
    without a mark: a printed name stays as it is printed. The last of `most` lines is cut."""
    found: list[str] = []
    left = [part for word in words.split() for part in _broken(word, room, size, bold=bold)]
    while left and len(found) < most - 1:
        line = left.pop(0)
        while left and width(f"{line} {left[0]}", size, bold=bold) <= room:
            line = f"{line} {left.pop(0)}"
        found.append(line)
    if left:
        found.append(fitting(" ".join(left), room, size, bold=bold))
    return tuple(found) or ("",)


def _broken(word: str, room: float, size: float, *, bold: bool) -> list[str]:
    """A word in parts that fit, the last of a few letters at least."""
    parts = [""]
    for letter in word:
        if parts[-1] and width(parts[-1] + letter, size, bold=bold) > room:
            parts.append("")
        parts[-1] += letter
    short = LEAST_LETTERS - len(parts[-1])
    if len(parts) > 1 and 0 < short < len(parts[-2]):
        moved = parts[-2][-short:] + parts[-1]
        if width(moved, size, bold=bold) <= room:
            parts[-2:] = [parts[-2][:-short], moved]
    return parts
