"""Where along its loom a wire may be damaged: spots and stretches, with fractions of its length."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from backprobe.book.model import Book, Section, WeakSpot, Wire
from backprobe.defects.model import PlaceShare
from backprobe.kinds import rates


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """The part of a wire inside one section (or all of it, `section` "" when it has none).

    `from_m`: distance of the stretch's start from the wire's end a; `reversed_`: the wire runs
    from the section's end b to its end a; `spots`: weak spots on it.
    """

    section: str
    from_m: float
    length_m: float
    reversed_: bool
    spots: tuple[WeakSpot, ...]


def stretches(book: Book, wire: Wire, spots: Mapping[str, tuple[WeakSpot, ...]]) -> list[Stretch]:
    """The stretches of a wire in order from its end a."""
    if not wire.route:
        return [Stretch(section="", from_m=0.0, length_m=wire.length_m, reversed_=False, spots=())]
    result, at, done = [], _entry(book, wire), 0.0
    for name in wire.route:
        section = book.sections[name]
        backwards = at == section.b
        result.append(
            Stretch(
                section=name,
                from_m=done,
                length_m=section.length_m,
                reversed_=backwards,
                spots=spots.get(name, ()),
            )
        )
        at = section.a if backwards else section.b
        done += section.length_m
    return result


def _entry(book: Book, wire: Wire) -> str:
    """The place where the wire enters the first section of its route."""
    first = book.sections[wire.route[0]]
    if len(wire.route) > 1:
        second = book.sections[wire.route[1]]
        return first.b if first.a in (second.a, second.b) else first.a
    here, there = _places_of(book, wire.a.part), _places_of(book, wire.b.part)
    if first.a in here or first.b in there:
        return first.a
    if first.b in here or first.a in there:
        return first.b
    # Nothing says which: the same answer whichever way round the wire is written.
    return first.a if (wire.a.part, wire.a.pin) < (wire.b.part, wire.b.pin) else first.b


def _places_of(book: Book, part: str) -> tuple[str, ...]:
    """The names a section may end at where this part is: its own, and its place."""
    known = book.parts.get(part)
    return (part, known.where) if known is not None and known.where else (part,)


def spots_by_section(book: Book) -> dict[str, tuple[WeakSpot, ...]]:
    """The weak spots of every section, along it."""
    result: dict[str, tuple[WeakSpot, ...]] = {}
    for spot in sorted(book.spots.values(), key=lambda spot: spot.at_m):
        result[spot.section] = (*result.get(spot.section, ()), spot)
    return result


def shares(stretch: Stretch) -> tuple[float, tuple[PlaceShare, ...]]:
    """Exposure of a stretch in metres of plain wire, and its places with their shares of it."""
    parts = [
        (spot.name, spot.at_m, rates.SPOT_METRES * rates.exposure_factor(spot.exposure))
        for spot in stretch.spots
    ]
    words = f"somewhere in section {stretch.section}" if stretch.section else "along its run"
    parts.append((words, stretch.length_m / 2, max(stretch.length_m, 0.05)))
    total = sum(weight for _, _, weight in parts)
    return total, tuple(
        PlaceShare(words=words, section=stretch.section, at_m=at, share=weight / total)
        for words, at, weight in sorted(parts, key=lambda part: -part[2])
    )


def fraction(wire: Wire, stretch: Stretch, at_m: float) -> float:
    """Where on the wire (0 at its end a, 1 at b) a place of a section lies."""
    along = stretch.length_m - at_m if stretch.reversed_ else at_m
    total = max(wire.length_m, stretch.from_m + stretch.length_m, 1e-9)
    return min(1.0, max(0.0, (stretch.from_m + along) / total))


def worst_exposure(stretch: Stretch, of: str) -> float:
    """The largest factor any spot of the stretch gives to a condition (wet, hot, moved)."""
    return max((rates.condition_factor(spot.exposure, of) for spot in stretch.spots), default=1.0)


def likeliest(places: Iterable[PlaceShare]) -> str:
    """Words for the likeliest place: "at the hinge pin", "somewhere in section hinge"."""
    best = max(places, key=lambda place: place.share)
    plain = best.words.startswith(("somewhere", "along"))
    return best.words if plain else f"at the {best.words}"


def body_near(book: Book, section: Section | None) -> str:
    """The metal a bare wire would touch: the body the section's end parts are bolted to."""
    if section is not None:
        bodies = [book.parts[end].body for end in (section.a, section.b) if end in book.parts]
        known = [body for body in bodies if body]
        if known:
            return known[-1]
    return "frame"
