"""docs/reference-kinds.md: every kind of part, from the tables the engine uses."""

from __future__ import annotations

from backprobe.kinds.reference import kinds_reference


def text() -> str:
    """The page."""
    return kinds_reference()
