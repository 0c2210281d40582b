"""The demo shop is filled once, and what was done in it stays."""

from __future__ import annotations

from pathlib import Path

import pytest

from backprobe.shop.demo import BOOKS, JOBS
from backprobe.shop.demo_shop import fill
from backprobe.shop.noting import note_words
from backprobe.shop.workshop import Shop


@pytest.fixture
def shop(tmp_path: Path):
    shop = Shop.open(tmp_path / "demo.backprobe", clock=lambda: 1_700_000_000.0)
    yield shop
    shop.close()


def test_it_holds_the_demo_books_and_jobs(shop: Shop) -> None:
    ids = fill(shop)
    assert len(ids) == len(JOBS)
    assert set(shop.books()) == set(BOOKS)
    for ident, job in zip(ids, JOBS, strict=True):
        card = shop.card(ident)
        assert card.row.complaint == job.complaint
        assert len(card.job.findings) == len(job.arrival)
        assert card.problems == ()


def test_a_second_filling_adds_nothing_and_keeps_what_was_noted(shop: Shop) -> None:
    first, *_ = fill(shop)
    note_words(shop, first, "looked hinge: nothing, key off")
    before = len(shop.card(first).job.findings)
    assert fill(shop) == ()
    assert len(shop.jobs()) == len(JOBS)
    assert len(shop.card(first).job.findings) == before


def test_a_job_that_is_missing_is_added_again(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as less:
        less.setattr("backprobe.shop.demo_shop.JOBS", JOBS[:1])
        assert len(fill(shop)) == 1
    assert len(fill(shop)) == len(JOBS) - 1
