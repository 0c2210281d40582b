"""A form counts once, also when it is sent again later: its mark, and when it was filled in."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from typing import Final

from starlette.datastructures import FormData

from backprobe.shop.workshop import JobRow
from backprobe.web.contexts import Oops

ONCE: Final = re.compile(r"[A-Za-z0-9_-]{8,64}")
MOST_AGO: Final = 30 * 24 * 3600.0
TWICE: Final = Oops(
    what="That form was already sent, with another answer.",
    why="A form counts once, so that a double tap does no harm.",
    remedy="Take the first answer back below, then answer again.",
)

ANOTHER: Final = Oops(
    what="That was entered for another job that had this number.",
    why="A shop that is begun anew counts its jobs from the first.",
    remedy="Look what it says; if it belongs to this job, enter it here, then drop it.",
)


def began_of(row: JobRow) -> str:
    """What tells a job from one of the same number in another shop."""
    return f"{row.started_at:.0f}"


def once_of(typed: Mapping[str, str]) -> str:
    """The mark a form was printed with, or was given on a phone; "" when it has none."""
    once = typed.get("once", "")
    return once if ONCE.fullmatch(once) else ""


def beginning(once: str) -> str:
    """How the marks of all forms printed with one mark begin."""
    return f"{once}~"


def mark_of(once: str, fields: FormData) -> str:
    """The mark of a form together with what it says: the same form again has the same."""
    said = sorted((k, str(v)) for k, v in fields.multi_items() if k not in ("once", "ago", "began"))
    digest = hashlib.sha256(repr(said).encode("utf-8", "replace")).hexdigest()
    return f"{beginning(once)}{digest[:16]}"


def ago_of(typed: Mapping[str, str]) -> float:
    """Seconds since a form was filled in, for one that was kept on a phone meanwhile."""
    ago = typed.get("ago", "")
    return min(float(ago), MOST_AGO) if re.fullmatch(r"[0-9]{1,7}", ago) else 0.0
