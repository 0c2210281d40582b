"""How a line is ranged: what to unplug, where the lamp goes, what the meter should read piece by
piece if the short is here or there, and with what caution."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from backprobe.book.situations import Lead
from backprobe.checks.layout import Layout
from backprobe.checks.ranging import Placed
from backprobe.checks.ranging_feed import Feed, feed_of
from backprobe.checks.steps import lead_words
from backprobe.checks.wording import listed, node_words
from backprobe.circuit.fittings import FITTINGS, lamp_for
from backprobe.suspects.line import Line, Point

STARTS: Final = "starter"
DEAD_WAYS: Final = ("ohms-live", "battery-gas", "unplug-live", "stored-charge", "no-piercing")
WAYS: Final = ("fuse-rating", "short-circuit", "unplug-live", "unit-lines", "no-piercing", "fire")


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """What a meter should read over one piece of the line, V. `metre`: for a metre; `whole`: the
    short is beyond it (before it: nothing); `looks`: it is at the first, the second place to look."""

    p: str
    n: str
    words: str
    metre: float
    whole: float
    looks: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HowTo:
    """How to range a line, with a lamp or where that is barred with a milliohm meter. `feed`: where
    the lamp is fitted, what is off, why it is barred; `lamp` by the words of a fitting; `amps`:
    about what flows; `readings` with the lamp."""

    feed: Feed
    lamp: str
    amps: float
    steps: tuple[str, ...]
    hazards: tuple[str, ...]
    readings: tuple[Foretold, ...]


def how_to(layout: Layout, line: Line, placed: Placed) -> HowTo:
    """How to range a line with lamp and millivolts, and what to expect."""
    volts = layout.book.machine.volts
    lamp = lamp_for(volts, large=True)
    amps = volts / FITTINGS[lamp].ohm
    feed = feed_of(layout, line)
    if feed.by != "lamp":
        dead = feed.by == "milliohm meter"
        return HowTo(
            feed=feed,
            lamp="",
            amps=0.0,
            steps=tuple(_dead_steps(layout, line, feed)) if dead else (),
            hazards=DEAD_WAYS if dead else (),
            readings=(),
        )
    return HowTo(
        feed=feed,
        lamp=lamp,
        amps=amps,
        steps=tuple(_steps(layout, feed, lamp)),
        hazards=_hazards(layout, feed),
        readings=foretold(layout, line, placed, feed.fed, amps),
    )


def foretold(
    layout: Layout, line: Line, placed: Placed, fed: str, amps: float
) -> tuple[Foretold, ...]:
    """The millivolts of every piece between two places a probe reaches, no plug in it."""
    source = line.points[fed]
    order = sorted(line.points.items(), key=lambda one: (one[1].at_m, one[1].joints))
    found = []
    for (p, low), (n, high) in pairwise(order):
        between = line.joints[low.joints : high.joints]
        if high.at_m <= low.at_m or any(joint.plug for joint in between):
            continue
        middles = [(look.from_m + look.to_m) / 2.0 for look in placed.looks]
        whole = amps * _ohms(line, low.at_m, high.at_m)
        found.append(
            Foretold(
                p=p,
                n=n,
                words=f"{node_words(layout, p)} to {node_words(layout, n)}",
                metre=whole / (high.at_m - low.at_m),
                whole=whole,
                looks=tuple(amps * _shared(line, low, high, source, at) for at in middles),
            )
        )
    return tuple(found)


def _shared(line: Line, low: Point, high: Point, source: Point, at_m: float) -> float:
    """Ohms of a piece that the current passes on its way to a short."""
    first, last = sorted((source.at_m, at_m))
    return _ohms(line, max(first, low.at_m), min(last, high.at_m))


def _ohms(line: Line, from_m: float, to_m: float) -> float:
    return sum(
        max(0.0, min(b, to_m) - max(a, from_m)) * ohm
        for (a, b), ohm in zip(pairwise(line.edges_m), line.ohm_per_m, strict=True)
    )


def _hazards(layout: Layout, feed: Feed) -> tuple[str, ...]:
    others = feed.unplugged
    moves = ("may-move",) if layout.moving.intersection(others) else ()
    starts = [name for name in others if layout.book.parts[name].kind == STARTS]
    return ("hot-lamp", *moves, *(("starter-bypass",) if starts else ()), *WAYS)


def _off(feed: Feed) -> list[str]:
    steps = []
    if feed.unplugged:
        off = listed(feed.unplugged)
        steps.append(f"Unplug {off}: the current must have no way but the short.")
    others = [name for name in feed.pulled if name != feed.fuse or feed.by != "lamp"]
    if others:
        steps.append(f"Pull {listed(others)}, for the same reason.")
    return steps


def _dead_steps(layout: Layout, line: Line, feed: Feed) -> list[str]:
    one, other = (node_words(layout, node) for node in (line.start, line.end))
    return [
        "Key off, wait 30 seconds.",
        "Lift the battery minus cable and keep it away from the post.",
        *_off(feed),
        (
            "Milliohm meter with four leads; touched together it must read zero. An ordinary ohmmeter's "
            "last digit is metres of wire."
        ),
        (
            f"From {one} to bare metal, then from {other} to the same bare metal. Do not move the loom "
            "in between."
        ),
        "The nearer end reads less. The short itself is in both readings and falls out.",
        "Everything plugged back, battery minus last.",
    ]


def _steps(layout: Layout, feed: Feed, lamp: str) -> list[str]:
    bulb = lead_words(Lead(kind=lamp, p="", n=""))
    steps = ["Key off, wait 30 seconds.", *_off(feed)]
    if feed.fuse:
        steps.append(f"Pull {feed.fuse}.")
        steps.append(f"Put a {bulb} in its place, with leads that fit its sockets.")
        steps.append("Key to where the fuse blew.")
    else:
        steps.append(
            f"Feed {node_words(layout, feed.touches)} from battery plus through a 10 A fuse and a "
            f"{bulb}."
        )
    steps += [
        (
            "The lamp must burn bright and steady. Dim or dark: the short is not there now, or not a "
            "hard one, and this cannot range it."
        ),
        "Clamp the lamp lead and note the amperes, again at the end: without them no distance.",
        "Meter on mV DC. Touch the leads together first: it must read zero.",
        (
            "Read piece by piece, from pin to pin of the same wire, so that no contact lies between the "
            "leads. A long lead does no harm."
        ),
        "Millivolts grow with the metres up to the short and stay the same beyond it.",
        "Lamp out, everything plugged back, the fuse of the printed rating last.",
    ]
    return steps
