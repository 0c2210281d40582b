"""What a check costs: opening what is not yet open, hands, key, waits, the check, closing.

Minutes of a class of check and of access are common practice unless a source is named; the
book's own minutes always win.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from backprobe.book.situations import Key, Situation
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check
from backprobe.defects.model import RepairGroup
from backprobe.findings.fold import MENDING
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Failing,
    FuseFound,
    JobState,
    Looked,
    Provoked,
    Reading,
)

JUDGEMENT = "judgement"
PRACTICE = "common practice, no source"
BOOK = "wiring book"
BATTERY_PAGE = "a tractor maker's isolator page: 30 s before opening, 30 s after closing"
LABOUR = "labour guide, test after repair 0.3 h"

OPENING: tuple[tuple[tuple[str, ...], float, float], ...] = (
    (("belly", "pan", "skid plate"), 1800.0, 1200.0),
    (("under cab", "under the cab", "below the cab"), 1200.0, 900.0),
    (("tilt",), 900.0, 600.0),
    (("floor", "mat", "pedal"), 210.0, 150.0),
    (("seat",), 150.0, 90.0),
    (("fuse box", "fuse panel"), 60.0, 30.0),
    (
        ("bonnet", "hood", "side door", "engine", "block", "starter", "alternator", "battery"),
        45.0,
        30.0,
    ),
    (("dash", "console", "column", "panel"), 120.0, 90.0),
    (("frame", "rail", "chassis", "axle", "track"), 60.0, 15.0),
)
"""Seconds to open and to close by words of the place. Judgement from a trade review: side door
0.5-1 min, seat 2-5, fuse panel 1-3, cab tilt 10-20, under-cab bay 10-30, belly pan of a used
tracked machine 20-40."""
ELSEWHERE = (90.0, 45.0)

UNPLUG_S = 30.0
KEY_OFF_WAIT_S = 30.0
BATTERY_S = 60.0
BATTERY_WAIT_S = 30.0
LEAD_S = 60.0
KEY_S: Mapping[Key, float] = {"off": 5.0, "on": 10.0, "crank": 25.0, "run": 45.0}
COMMAND_S = 10.0
NOTE_S, NOTE_NEAR_S = 60.0, 20.0
"""Seconds of reading what to do, noting what was found and thinking about it: at a new place or
question, and for a further reading at the same place. Judgement."""
AT_HAND = ("volts", "drop", "millivolts", "look")
SAME_PLACE = 0.45
"""A further reading or look at a place already being read: five readings cost 2.5 to 3 times one
(judgement of a technician)."""
BY_CLASS: Mapping[str, tuple[float, str]] = {
    "volts": (120.0, "two-point reading at a reachable point, common practice"),
    "drop": (240.0, "voltage drop under load 5-10 min a side, common practice"),
    "amps": (240.0, "clamp at a reachable wire, common practice"),
    "beep": (240.0, "one lead fixed, the other along the ways of a plug; judgement"),
    "ohms": (300.0, "ohms 5-10 min, common practice"),
    "millivolts": (120.0, "both sides of a fuse under load 1-2 min, common practice"),
    "look": (300.0, "look and feel along a path 5-15 min, common practice"),
    "swap": (180.0, "relay swap 2-4 min, common practice"),
    "unplug": (120.0, "unplug and see 2-15 min with access, common practice"),
    "lamp": (180.0, "lamp as load, common practice"),
    "works": (45.0, "what-works sweep 3-5 min for many functions, common practice"),
    "sweep": (240.0, "what-works sweep 3-5 min, common practice"),
    "codes": (45.0, "codes read again, common practice"),
    "display": (30.0, "display values, common practice"),
    "provoke": (420.0, "wiggle, wet or warm with a watch 10-30 min a loom, common practice"),
    "trap": (3600.0, "20 min to leave it, 40 to come again, the road not counted; judgement"),
    "fuse": (90.0, "fuse pull and look 1-2 min, common practice"),
    "new fuse": (60.0, "new fuse in, load on, 1 min, common practice"),
    "repair": (1080.0, LABOUR),
    "prove": (900.0, LABOUR),
    "stop": (10800.0, JUDGEMENT),
}
"""Seconds of the check alone, and where the figure comes from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One share of the time: what for, seconds, source of the figure."""

    words: str
    seconds: float
    source: str


NOTING, NOTING_NEAR = (
    Item(words="set up, note, think", seconds=each, source=JUDGEMENT)
    for each in (NOTE_S, NOTE_NEAR_S)
)


@lru_cache(maxsize=256)
def _alone(seconds: float, source: str) -> Item:
    return Item(words="the check", seconds=seconds, source=source)


def price(
    layout: Layout, job: JobState, check: Check, is_open: frozenset[str] | None = None
) -> tuple[Item, ...]:
    """What the check costs from where the job stands now, item by item; the sum is its price.

    `is_open`: open_places(layout, job), when it is at hand already.
    """
    is_open = open_places(layout, job) if is_open is None else is_open
    places = {layout.cover(name) for name in check.opens}
    items = [*access(layout, is_open, check.opens), *_hands(job.now, check.situation)]
    near = bool(places) and places <= is_open and check.does in AT_HAND
    source = BY_CLASS[check.does][1]
    alone = check.seconds * (SAME_PLACE if near else 1.0)
    return (*items, _alone(alone, source), NOTING_NEAR if near else NOTING)


def opened_by(layout: Layout, check: Check, is_open: frozenset[str]) -> frozenset[str]:
    """Places not open yet that a check opens and leaves open. Who comes again finds all closed."""
    if check.does == "trap":
        return frozenset()
    return frozenset(layout.cover(name) for name in check.opens) - is_open


def seconds(items: Iterable[Item]) -> float:
    """Total of a price."""
    return sum(item.seconds for item in items)


def walked(
    layout: Layout,
    job: JobState,
    check: Check,
    found: Sequence[float],
    is_open: frozenset[str] | None = None,
) -> float:
    """Expected seconds of a walk that ends at the place where something shows. `found`: chance
    of that by place, in the order of the walk."""
    is_open = open_places(layout, job) if is_open is None else is_open
    total = seconds(price(layout, job, check, is_open))
    for place, passed in zip(check.opens[1:], np.cumsum(found), strict=False):
        saved = seconds(access(layout, is_open, (place,))) + check.seconds / (len(found) + 1)
        total -= float(passed) * saved
    return total


def repair_price(layout: Layout, job: JobState, group: RepairGroup) -> tuple[Item, ...]:
    """What mending a group costs with its proof, access included."""
    mend = Item(words="mend and prove", seconds=group.mend_s, source=PRACTICE)
    return (*access(layout, open_places(layout, job), group.access), mend)


def open_places(layout: Layout, job: JobState) -> frozenset[str]:
    """Places that are open now: what was opened, and where somebody had his hands this visit."""
    return frozenset(layout.cover(name) for name in job.opened | at_hand(layout, job))


def access(layout: Layout, is_open: frozenset[str], opens: Iterable[str]) -> tuple[Item, ...]:
    """Opening and closing of places that are not open yet, each place once."""
    items: dict[str, Item] = {}
    for name in opens:
        place = layout.cover(name)
        if place in is_open or place in items:
            continue
        items[place] = _opening(layout, name)
    return tuple(items.values())


def _opening(layout: Layout, name: str) -> Item:
    """Opening and closing the place of a part or section."""
    found: Item | None = layout.openings.get(name)
    if found is None:
        opening, closing, source = minutes_of(layout, name)
        words = f"open and close {layout.cover(name)}"
        found = Item(words=words, seconds=opening + closing, source=source)
        layout.openings[name] = found
    return found


def minutes_of(layout: Layout, name: str) -> tuple[float, float, str]:
    """Seconds to open, to close, and the source, for a part or section."""
    known = layout.book.parts.get(name) or layout.book.sections.get(name)
    if known is not None and known.open_s is not None:
        closing = known.close_s if known.close_s is not None else known.open_s / 2.0
        return known.open_s, closing, BOOK
    words = f"{name} {layout.place(name)}".lower()
    for places, opening, closing in OPENING:
        if any(place in words for place in places):
            return opening, closing, JUDGEMENT
    return (*ELSEWHERE, JUDGEMENT)


def at_hand(layout: Layout, job: JobState) -> frozenset[str]:
    """Parts and sections the technician has had his hands on since he came: open, until he goes."""
    first = _since(job)
    found: set[str] = set()
    for finding in job.findings:
        if first <= finding.visit <= job.visit:
            found.update(_handled(layout, finding))
    return frozenset(found)


def _since(job: JobState) -> int:
    """The visit in which he came. Who brought a fault back, or mended and sees at once that it still
    fails, stands where he stood, though it counts as another visit."""
    stayed: set[int] = set()
    begins: dict[int, AnyFinding] = {}
    for finding in job.findings:
        begin = begins.setdefault(finding.visit, finding)
        mended = isinstance(begin, Act) and begin.act in MENDING
        if isinstance(finding, Provoked) and finding.shown_at:
            stayed.add(finding.visit + 1)
        elif mended and isinstance(finding, Failing) and finding.answer == "yes":
            stayed.add(finding.visit)
    first = job.visit
    while first in stayed:
        first -= 1
    return first


def _handled(layout: Layout, finding: AnyFinding) -> Iterable[str]:
    """What had to be reached for a finding."""
    match finding:
        case Reading(instrument="clamp"):
            place = clamped_at(layout, finding.p)
            return (place,) if place else ()
        case Reading():
            nodes = (
                layout.touch.get(n) or layout.touch.get(f"{n}a") for n in (finding.p, finding.n)
            )
            return [touch.part for touch in nodes if touch is not None]
        case Looked():
            spot = layout.book.spots.get(finding.target)
            return (spot.section if spot else layout.joints.get(finding.target, finding.target),)
        case Provoked():
            found = [n for n, place in enumerate(finding.places) if place == finding.shown_at]
            return finding.places[: found[0] + 1] if found else finding.places
        case FuseFound():
            return (finding.fuse,)
        case Act(act="unplugged" | "pulled" | "replaced" | "repaired"):
            return (layout.joints.get(finding.target, finding.target),)
        case _:
            return ()


def clamped_at(layout: Layout, wire: str) -> str:
    """The part at which a wire is clamped, "" where neither end has one."""
    known = layout.book.wires.get(wire)
    ends = (known.a, known.b) if known is not None else ()
    return next((end.part for end in ends if end.part in layout.book.parts), "")


@lru_cache(maxsize=1024)
def _hands(now: Situation, then: Situation) -> tuple[Item, ...]:
    """Key, commands, plugs, leads and battery from one situation to another and back again."""
    items: list[Item] = []
    plugs = now.unplugged ^ then.unplugged
    fuses = now.pulled ^ then.pulled
    new_leads = set(then.fitted) - set(now.fitted)
    by_hand = bool(plugs or fuses or new_leads)
    lift = then.battery_off and not now.battery_off
    reach_off = (by_hand or lift) and now.key != "off"
    if reach_off:
        items.append(
            Item(
                words="key off and wait", seconds=KEY_S["off"] + KEY_OFF_WAIT_S, source=BATTERY_PAGE
            )
        )
    if plugs:
        items.append(
            Item(
                words="plugs off and on again", seconds=2 * UNPLUG_S * len(plugs), source=JUDGEMENT
            )
        )
    if fuses:
        items.append(
            Item(words="fuses out and in again", seconds=UNPLUG_S * len(fuses), source=JUDGEMENT)
        )
    if new_leads:
        items.append(Item(words="fit leads", seconds=LEAD_S * len(new_leads), source=JUDGEMENT))
    if lift or (now.battery_off and not then.battery_off):
        off_and_on = 2 * BATTERY_S + BATTERY_WAIT_S if lift else BATTERY_S + BATTERY_WAIT_S
        items.append(
            Item(words="battery minus off and on again", seconds=off_and_on, source=BATTERY_PAGE)
        )
    if then.key != ("off" if reach_off else now.key):
        items.append(Item(words="key", seconds=KEY_S[then.key], source=JUDGEMENT))
    commands = then.on - now.on
    if commands:
        items.append(
            Item(words="switch loads on", seconds=COMMAND_S * len(commands), source=JUDGEMENT)
        )
    return tuple(items)
