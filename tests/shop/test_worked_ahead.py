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
    before = {key: place.rest.count for key, place in memory.places.items()}
    assert max(before.values()) >= count
    unit = next(unit for unit, _ in book.codes)
    found = job.note(CodesFound(unit=unit, active=("100/4",)), Failing(answer="yes"))
    assert found.suspects
    new = {key: place.rest.count - before.get(key, 0) for key, place in memory.places.items()}
    assert max(new.values()) < count, "nothing settled anew in full"
