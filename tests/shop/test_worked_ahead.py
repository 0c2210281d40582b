"""What a job begins with is worked out while it is still being written down."""

from __future__ import annotations

from backprobe.book import read_book
from backprobe.findings.model import CodesFound, Failing
from backprobe.shop.ahead import worked_ahead
from backprobe.shop.demo import book_text
from backprobe.shop.job import start


def test_the_first_list_of_codes_finds_everything_settled() -> None:
    book, problems = read_book(book_text("unplugged-sensor"), "unplugged-sensor")
    assert book is not None, problems
    job = start(book)
    for _ in worked_ahead(job.circuit):
        pass
    memory = job.circuit.memory
    count = job.circuit.cases.count
    before = {key: len(place.pieces) for key, place in memory.places.items()}
    assert any(piece.count == count for place in memory.places.values() for piece in place.pieces)
    unit = next(unit for unit, _ in book.codes)
    found = job.note(CodesFound(unit=unit, active=("100/4",)), Failing(answer="yes"))
    assert found.suspects
    whole = {
        key: sum(piece.count == count for piece in place.pieces)
        for key, place in memory.places.items()
    }
    assert all(whole[key] <= before.get(key, 0) for key in whole), "nothing settled anew in full"
