"""What is typed on a command line: letters of any console, figures with a comma or a point."""

from __future__ import annotations

import argparse
from collections.abc import Callable

from backprobe.base.units import parse_quantity


def letters(word: str) -> str:
    """Text as it can be kept: a byte that is no UTF-8 is read as consoles with an old code page write it."""
    return "".join(_letter(sign) for sign in word)


def _letter(sign: str) -> str:
    if not "\ud800" <= sign <= "\udfff":
        return sign
    # how Python hands over such a byte (PEP 383)
    byte = ord(sign) - 0xDC00
    return bytes([byte]).decode("cp1252", "replace") if 0x80 <= byte <= 0xFF else "\ufffd"


def figure(least: float, most: float) -> Callable[[str], float]:
    """What reads an option that is a number from `least` to `most`."""

    def read(word: str) -> float:
        found = parse_quantity(word)
        if found is None or found.unit != "1" or not least <= found.value <= most:
            raise argparse.ArgumentTypeError(
                f"{word.strip()[:40]!r} is no number from {least:g} to {most:g}"
            )
        return found.value

    return read
