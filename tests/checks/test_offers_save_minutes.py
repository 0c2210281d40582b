"""A check that takes more minutes than it saves is no alternative to the one proposed."""

from __future__ import annotations

import pytest

import backprobe
from backprobe.shop.demo import JOBS, book_text


@pytest.mark.parametrize("demo", JOBS, ids=[job.name for job in JOBS])
def test_what_is_offered_beside_the_first_saves_minutes(demo):
    book, _ = backprobe.read_book(book_text(demo.book))
    offers = backprobe.start(book).note(*demo.arrival).next_checks
    assert offers
    assert all(offer.gain_s > 0.0 for offer in offers)
