"""What the closing form and the write-up show, as frozen data."""

from __future__ import annotations

from dataclasses import dataclass

from backprobe.shop.write_up import WriteUp
from backprobe.web.contexts import HeadView, Oops


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosePage:
    """The form that closes a job. `gaps`: what somebody would ask about; `open`: what is still on
    the put-back list; the texts as typed, or proposed."""

    head: HeadView
    at: int
    once: str
    gaps: tuple[str, ...]
    open: tuple[str, ...]
    cause: str
    done: str
    parts: str
    left: str
    minutes: str
    left_oops: Oops | None
    minutes_oops: Oops | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteUpPage:
    """The write-up. `codes` and `said` in lines; `text`: all of it as plain text."""

    head: HeadView
    date: str
    up: WriteUp
    codes: tuple[str, ...]
    text: str
