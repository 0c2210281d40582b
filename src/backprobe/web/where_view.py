"""Where along the likeliest wire to look first, and how to range it: a part of the loom page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from backprobe.checks.wording import percent
from backprobe.shop.job import Job
from backprobe.shop.whereabouts import Whereabouts, whereabouts
from backprobe.web.check_view import careful, foot_of
from backprobe.web.contexts import Said

WORTH: Final = 0.02
"""Less chance that the wire is rubbed through at all is not worth a look."""
DOUBTED: Final = 0.2
SPOT: Final = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRow:
    """A piece of the line and what a meter should read over it."""

    words: str
    metre: str
    whole: str
    looks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WherePart:
    """`looks`: "Look first", "then", "within" with chance and place; `ranged`: the findings that
    were used; `amps` through the lamp; `barred`: why no
    lamp; `by`: what ranges it."""

    wires: str
    chance: str
    looks: tuple[tuple[str, Said], ...]
    spots: tuple[Said, ...]
    ranged: str
    unused: tuple[Said, ...]
    doubts: str
    barred: str
    by: str
    amps: str
    steps: tuple[str, ...]
    careful: tuple[tuple[Said, ...], ...]
    foot: str
    readings: tuple[PieceRow, ...]
    say: tuple[str, ...]


def where_part(job: Job) -> WherePart | None:
    """None while no wire is worth a look."""
    found = whereabouts(job)
    if found is None or found.chance < WORTH:
        return None
    placed, how = found.placed, found.how
    heads = ("Look first", "Then")
    looks = [
        (head, Said(name=percent(look.chance), words=look.words))
        for head, look in zip(heads, placed.looks, strict=False)
    ]
    within = Said(name=percent(placed.within.chance), words=placed.within.words)
    return WherePart(
        wires=", ".join(found.wires),
        chance=percent(found.chance),
        looks=(*looks, ("Within", within)),
        spots=tuple(
            Said(name=percent(spot.chance), words=f"{spot.name}, section {spot.section}")
            for spot in placed.spots
            if spot.chance >= SPOT
        ),
        ranged=", ".join(found.used),
        unused=tuple(Said(name=ident, words=why) for ident, why in found.unused),
        doubts=_doubts(found),
        barred=how.feed.barred,
        by=how.feed.by,
        amps=f"{how.amps:.1f} A",
        steps=how.steps,
        careful=careful(how.hazards, how.steps),
        foot=foot_of(how.hazards),
        readings=tuple(
            PieceRow(
                words=one.words,
                metre=_millivolts(one.metre),
                whole=_millivolts(one.whole),
                looks=" / ".join(_millivolts(volts) for volts in one.looks),
            )
            for one in how.readings
        ),
        say=found.say,
    )


def _doubts(found: Whereabouts) -> str:
    pairs = zip(found.used, found.placed.told, strict=True)
    return ", ".join(ident for ident, told in pairs if told.wrong > DOUBTED)


def _millivolts(volts: float) -> str:
    return f"{volts * 1000.0:.0f} mV"
