"""Where along the likeliest wire to look first, and how to range it: a part of the loom page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from backprobe.checks.wording import percent
from backprobe.defects.model import TO_GROUND
from backprobe.defects.places import likeliest
from backprobe.shop.job import Job
from backprobe.shop.whereabouts import Whereabouts, whereabouts
from backprobe.suspects.along import Piece
from backprobe.suspects.model import Suspect
from backprobe.web.check_view import careful, foot_of, rest_of
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


def mend_words(job: Job, suspect: Suspect) -> str:
    """The likeliest fault of a suspect that has one, without the suspect's own name; of a wire rubbed
    through the place is the one the loom page says to look at first."""
    name = suspect.names[0][0]
    words = rest_of(name, suspect.words)
    atom = next(one for one in job.weighed.defects.atoms if one.words == name)
    if atom.kind != TO_GROUND:
        return words
    wire = atom.owners[0].removeprefix("wire ")
    found = whereabouts(job, wire)
    looks = found.placed.looks if found else ()
    look = next((one for one in looks if _is_on(found, one, wire)), None)
    if look is None:
        return words
    return f"{words.removesuffix(likeliest(atom.places)).rstrip()}, look first {look.words}"


def _is_on(found: Whereabouts | None, look: Piece, wire: str) -> bool:
    middle = (look.from_m + look.to_m) / 2.0
    return found is not None and found.placed.after.line.bit_at(middle).wire == wire


def _doubts(found: Whereabouts) -> str:
    pairs = zip(found.used, found.placed.told, strict=True)
    return ", ".join(ident for ident, told in pairs if told.wrong > DOUBTED)


def _millivolts(volts: float) -> str:
    return f"{volts * 1000.0:.0f} mV"
