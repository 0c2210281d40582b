"""A question for a reading, in the words of a finding without its figure."""

from __future__ import annotations

from dataclasses import dataclass

from backprobe.base.problems import Problem
from backprobe.book.lines import Bit, split_list
from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.findings.model import JobState, Reading
from backprobe.shop.say.hear import hear
from backprobe.suspects.readings import probe_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be read, and how the machine stands."""

    probe: Probe
    situation: Situation


def asked(text: str, book: Book, *, state: JobState | None = None) -> Asked | tuple[Problem, ...]:
    """What "volts X10.3, key on" asks for, or what is wrong with it.

    Any of volts, ohms, amps and millivolts; the situation as in hear().
    """
    head, *items = split_list(Bit(text, 1)) or (Bit("", 1),)
    if not head.text:
        return tuple(p for p in hear("", book, state=state or JobState()) if isinstance(p, Problem))
    before, said, how = head.text.rpartition(" with ")
    figure = f"{before} 0 with {how}" if said else f"{head.text} 0"
    line = ", ".join([figure, *(item.text for item in items)])
    heard = hear(line, book, state=state or JobState(), asking=True)
    first = heard[0]
    if isinstance(first, Problem):
        return tuple(p for p in heard if isinstance(p, Problem))
    if isinstance(first, Reading):
        return Asked(probe=probe_of(first, book.machine.volts), situation=first.situation)
    return (
        Problem(
            slug="say-not-a-reading",
            weight="error",
            at=None,
            what=f"{text!r} asks for no reading.",
            why="A healthy figure exists only for what an instrument shows.",
            remedy="Begin with volts, ohms, amps or millivolts: volts X14.3, key on",
        ),
    )
