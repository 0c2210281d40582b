"""A code list knows what it needs of the circuit, whichever other lists it came with before."""

from __future__ import annotations

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import CodesFound
from backprobe.shop.demo import book_text
from backprobe.suspects.evidence import ask, gather
from backprobe.suspects.view import Kept


def test_a_list_that_is_left_alone_asks_for_what_it_shared() -> None:
    """Both lists need the past; the first asked for it. Taken back, and what was kept of earlier
    rounds dropped for want of room, the second asks for it itself."""
    book, _ = read_book(book_text("unplugged-sensor"), "small")
    assert book is not None
    circuit = Circuit.of(book)
    life = (Situation(key="on"), Situation(key="run"))
    first = CodesFound(id="f1", unit="engine unit", active=("100/4",), situation=life[0])
    second = CodesFound(
        id="f2", unit="engine unit", active=("100/4",), stored=("94/4",), situation=life[1]
    )
    both = fold((first, second), usual_life=life)
    gather(ask(book, circuit, both), both)
    kept = Kept.of(circuit)
    kept.lists.clear()
    kept.chances.clear()
    alone = fold((second,), usual_life=life)
    told = gather(ask(book, circuit, alone), alone).told
    assert [one.finding for one in told] == ["f2"]
