"""What the driver recalls: what came before, what the display did, whether it started again."""

from __future__ import annotations

from typing import Any

import pytest

from backprobe.book import read_book
from backprobe.book.model import Book, Function
from backprobe.defects.predict import Circuit
from backprobe.findings.model import Failing, Recalled, Withdrawn
from backprobe.shop.demo import book_text
from backprobe.shop.job import start
from backprobe.suspects.recalled import RESTART, display_of, times_likelier
from backprobe.suspects.verdict import judge
from backprobe.suspects.weigh import weigh


@pytest.fixture(scope="module")
def generic() -> Book:
    book, _ = read_book(book_text("generic"), "generic")
    assert book is not None
    return book


def chance_of(book: Book, *findings: Any, has: str = "", kind: str = "") -> float:
    """How likely the defects are whose id holds some words, or of a kind."""
    job = start(book).note(*findings)
    atoms = job.circuit.defects.atoms
    wanted = [n for n, a in enumerate(atoms) if n and has in a.id and kind in a.kind]
    belief = weigh(book, job.circuit, job.state)
    return float(belief.chance[[a in wanted for a in belief.atom.tolist()]].sum())


def by_what(book: Book, has: str = "", kind: str = "") -> dict[str, float]:
    """The same after each event over that when nothing is said."""
    before = chance_of(book, has=has, kind=kind)
    said = ("after wash", "after storage", "after repair", "after boost start")
    return {
        what: chance_of(book, Recalled(what=what), has=has, kind=kind) / before  # type: ignore[arg-type]
        for what in said
    }


def test_what_came_before_counts_by_hand(bench: Any) -> None:
    """By hand: two equals, one shows when wet: 3 to 1, of all that may be broken no more."""
    book = bench.book()
    tables = bench.tables(bench.defects(bench.atom("a", wet=4.0), bench.atom("b")))
    _, found = judge(book, tables, bench.job(Recalled(id="x", what="after wash")))
    chances = {s.group: s.chance for s in found.suspects}
    assert chances == pytest.approx({"a": 0.95 * 3.0 / 4.0, "b": 0.95 / 4.0})
    (reason,) = found.suspects[0].reasons
    assert reason.words == "the driver says: after wash, counted as 3 to 1"


def test_it_counts_once_is_taken_back_and_is_no_news_where_only_wet_was_said(bench: Any) -> None:
    book = bench.book()
    tables = bench.tables(bench.defects(bench.atom("a", wet=4.0), bench.atom("b")))
    wash, again = Recalled(id="x", what="after wash"), Recalled(id="y", what="after wash")

    def chances(*findings: Any) -> Any:
        return weigh(book, tables, bench.job(*findings)).chance.tolist()

    assert chances(wash, again) == chances(wash) != chances()
    assert chances(wash, Withdrawn(id="z", finding="x")) == chances()
    wet = Failing(id="w", answer="only when", condition="wet")
    assert chances(wet, wash) == chances(wet)


def test_each_event_brings_what_it_is_known_to_bring(generic: Book) -> None:
    """Common practice, no source."""
    most = {
        "after wash": by_what(generic, kind="wet plug"),
        "after storage": by_what(generic, kind="discharged"),
        "after repair": by_what(generic, kind="half mated"),
        "after boost start": by_what(generic, has="main fuse/open"),
    }
    for what, found in most.items():
        assert max(found, key=lambda one: found[one]) == what
        assert 1.5 < found[what] < 5.0
    atoms = Circuit.of(generic).defects.atoms[1:]
    for what in most:
        times = {times_likelier(generic, atom, what) for atom in atoms}
        assert min(times) == 1.0
        assert max(times) <= 5.0


def test_a_display_that_went_out_speaks_for_its_feed_and_its_ground(generic: Book) -> None:
    assert display_of(generic) == "display"
    for place in ("wire display feed/open", "wire display ground/open"):
        before = chance_of(generic, has=place)
        out = chance_of(generic, Recalled(what="display went out"), has=place)
        on = chance_of(generic, Recalled(what="display stayed on"), has=place)
        assert out > 3.0 * before
        assert on < 0.3 * before


def test_a_display_that_faded_speaks_for_low_volts(generic: Book) -> None:
    before = chance_of(generic, kind="discharged")
    faded = chance_of(generic, Recalled(what="display faded"), kind="discharged")
    out = chance_of(generic, Recalled(what="display went out"), kind="discharged")
    assert faded > 1.3 * before
    assert faded > 1.15 * out


def test_a_restart_speaks_against_what_keeps_it_from_starting_always(bench: Any) -> None:
    """By hand: the lamp stands for the starter. Always open: it never restarts, but for what is told
    wrongly. One that comes and goes half the time may have been gone."""
    book = bench.book(parts=("L",), functions={"engine cranks": crank()})
    atoms = (bench.atom("a", sometimes=0.0), bench.atom("b", sometimes=1.0), bench.atom("c"))
    tables = bench.tables(bench.defects(*atoms), volts={"L": [1.0, 0.0, 0.0, 1.0]})
    _, found = judge(book, tables, bench.job(Recalled(id="x", what="started again")))
    ratio = {"a": 2.0 * (1.0 - RESTART), "b": 1.0, "c": 2.0 * RESTART}
    total = 0.05 + 0.95 / 3.0 * sum(ratio.values())
    for suspect in found.suspects:
        assert suspect.chance == pytest.approx(0.95 / 3.0 * ratio[suspect.group] / total, rel=0.05)


def test_without_a_display_or_a_starter_it_is_kept_and_not_weighed(bench: Any) -> None:
    book = bench.book()
    tables = bench.tables(bench.defects(bench.atom("a"), bench.atom("b")))
    plain = weigh(book, tables, bench.job()).chance.tolist()
    for what in ("display faded", "started again"):
        said = Recalled(id="x", what=what)  # type: ignore[arg-type]
        assert weigh(book, tables, bench.job(said)).chance.tolist() == plain


def crank() -> Function:
    return Function(name="engine cranks", needs=("L",), key="crank")
