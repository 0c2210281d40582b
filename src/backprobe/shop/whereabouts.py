"""Where on the loom: from a job's suspects to centimetres along one of its wires."""

from __future__ import annotations

from dataclasses import dataclass, replace

from backprobe.book.model import Wire
from backprobe.checks.layout import layout_of
from backprobe.checks.ranging import Placed, RangeReading, ranged
from backprobe.checks.ranging_feed import feed_of
from backprobe.checks.ranging_found import ranging_found
from backprobe.checks.ranging_steps import HowTo, how_to
from backprobe.defects.of_wires import wire_words
from backprobe.kinds import KINDS
from backprobe.shop.job import Job
from backprobe.suspects.along import section_chances, spread_along
from backprobe.suspects.line import Line, line_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Whereabouts:
    """A line of the loom and where on it the damage sits, if it is on it: `chance` that it is.
    `wires`: the line's, in words; `used`: ids of the job's findings that ranged it;
    `unused`: of those along it that do not, and why; `how`: how to
    range it further; `say`: the sentences that note it, the figure left open as "..."."""

    wires: tuple[str, ...]
    chance: float
    placed: Placed
    used: tuple[str, ...]
    unused: tuple[tuple[str, str], ...]
    how: HowTo
    say: tuple[str, ...]


def whereabouts(
    job: Job, wire: str = "", readings: tuple[RangeReading, ...] = (), *, celsius: float = 20.0
) -> Whereabouts | None:
    """Where along a line a wire is rubbed through. `wire`: any wire of it by id, "" = the one the
    suspects point to most; `readings`: more than the job has noted; `celsius` of the loom.

    None when no wire is suspected. KeyError when there is no such wire. The job's own millivolts
    and milliohms along the line are weighed here, metre by metre, and not a second time in the
    chance of each section.
    """
    now = section_chances(job.weighed.defects, job.belief)
    if not wire:
        if not now or max(now.values()) <= 0.0:
            return None
        totals: dict[str, float] = {}
        for (name, _), chance in now.items():
            totals[name] = totals.get(name, 0.0) + chance
        wire = max(totals, key=lambda name: (totals[name], name))
    line = line_of(job.book, wire)
    layout = layout_of(job.book, KINDS)
    feed = feed_of(layout, line)
    along = ranging_found(job.state.findings, line, job.book.machine.volts, feed)
    own = [one for one in along if not one.unused]
    taken = {one.finding.id for one in own}
    if taken:
        others = tuple(one for one in job.findings if one.id not in taken)
        then = replace(job, findings=others)
        before = section_chances(then.weighed.defects, then.belief)
    else:
        before = now
    spread = spread_along(line, before)
    placed = ranged(spread, [*(one.reading for one in own), *readings], celsius=celsius)
    how = how_to(layout, line, placed)
    wires: list[Wire] = [job.book.wires[name] for name in line.wires]
    return Whereabouts(
        wires=tuple(wire_words(one) for one in wires),
        chance=sum(chance for (name, _), chance in now.items() if name in line.wires),
        placed=placed,
        used=tuple(one.finding.id for one in own),
        unused=tuple((one.finding.id, one.unused) for one in along if one.unused),
        how=how,
        say=tuple(_sentences(line, how)) if feed.by else (),
    )


def _sentences(line: Line, how: HowTo) -> list[str]:
    feed = how.feed
    wire = line.wires[-1 if feed.fed == line.end else 0]
    stands = [f"{name} pulled" for name in feed.pulled]
    stands += [f"{name} unplugged" for name in feed.unplugged]
    if feed.by == "milliohm meter":
        tail = ", ".join([*stands, "battery off"])
        ends = (line.start, line.end)
        return [f"ohms {_typed(n)} to frame ... with milliohm meter, {tail}" for n in ends]
    stands.insert(0, "key on")
    stands.append(f"{how.lamp} from {feed.source} to {_typed(feed.touches)}")
    tail = ", ".join(stands)
    return [
        f"amps wire {wire} ..., {tail}",
        *(f"millivolts {_typed(one.p)} to {_typed(one.n)} ..., {tail}" for one in how.readings),
    ]


def _typed(node: str) -> str:
    """A place as it is typed: the metal of a stud by its pin."""
    return node.replace(":", ".", 1)
