"""Whether a finding fits the machine's book: its names are the book's, its value can be read there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache

from backprobe.base.problems import Problem
from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.checks.layout import Same
from backprobe.defects.predict import Circuit
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Bet,
    CodesFound,
    DisplayRead,
    FuseFound,
    Looked,
    Provoked,
    Reading,
    Works,
)
from backprobe.shop.displays import beyond_display, beyond_words
from backprobe.shop.meters import beyond_meter
from backprobe.shop.say.names import Names, near


def unfit(circuit: Circuit, findings: Iterable[AnyFinding]) -> tuple[Problem, ...]:
    """Everything in findings that the book does not know or no display or meter can show, in order.
    Such a finding could not be weighed."""
    names = _names(Same(circuit.book))
    return tuple(problem for finding in findings for problem in _of(circuit, names, finding))


@lru_cache(maxsize=8)
def _names(book: Same[Book]) -> Names:
    return Names(book.thing)


def _of(circuit: Circuit, names: Names, finding: AnyFinding) -> Iterator[Problem]:
    yield from _situation(names, finding.situation)
    match finding:
        case CodesFound():
            yield from _known("unit", (finding.unit,), names.units)
        case Reading(instrument="clamp"):
            yield from _known("wire", (finding.p,), names.wires)
            yield from beyond_meter(circuit.book, finding)
        case Reading():
            yield from _known("place to measure", (finding.p, finding.n), _places(circuit, names))
            yield from beyond_meter(circuit.book, finding)
        case DisplayRead():
            shown = f"{finding.unit} {finding.name}"
            yield from _known("display value", (shown,), names.displays)
            scale = beyond_display(circuit.book, finding.unit, finding.name, finding.value)
            if scale:
                yield beyond_words(finding.unit, finding.name, finding.value, scale)
        case Works():
            yield from _known("function or part", (finding.target,), names.workers)
        case FuseFound():
            yield from _known("fuse", (finding.fuse,), names.parts)
        case Looked():
            yield from _known("place", (finding.target,), {**names.looks, **_groups(circuit)})
        case Provoked():
            yield from _known("place", finding.places, names.looks)
        case Bet():
            yield from _known("suspect", (finding.target,), _groups(circuit))
        case Act(act="codes cleared"):
            yield from _known("unit", (finding.target,) if finding.target else (), names.units)
        case Act():
            yield from _known("part or suspect", (finding.target,), _mends(circuit, names))
        case _:
            pass


def _places(circuit: Circuit, names: Names) -> Mapping[str, object]:
    """What the book prints and every place of the network: an unplugged sensor is measured at
    its own pins."""
    return {**names.places, **circuit.net.node}


def _groups(circuit: Circuit) -> dict[str, str]:
    return {group.key: group.key for group in circuit.defects.groups}


def _mends(circuit: Circuit, names: Names) -> dict[str, str]:
    return {**names.mends, **_groups(circuit)}


def _situation(names: Names, situation: Situation) -> Iterator[Problem]:
    plugged = sorted(situation.unplugged | situation.pulled | situation.renewed)
    yield from _known("part", plugged, names.parts)
    yield from _known("switch", sorted(situation.on), {**names.commands, **names.parts})
    for lead in situation.fitted:
        yield from _known("place to measure", (lead.p, lead.n), names.places)


def _known(sort: str, wanted: Iterable[str], known: Mapping[str, object]) -> Iterator[Problem]:
    for name in wanted:
        if name not in known:
            yield Problem(
                slug="finding-unknown-name",
                weight="error",
                at=None,
                what=f"The book has no {sort} {name!r}.",
                why="A finding about something the book does not have cannot be weighed.",
                remedy=f"Use the name as the book prints it.{near(name, known)}",
            )
