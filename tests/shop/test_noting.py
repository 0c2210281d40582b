"""Typed words into a job: all of them or none."""

from __future__ import annotations

from pathlib import Path

import pytest

from backprobe.base.problems import Problem
from backprobe.shop.demo_shop import fill
from backprobe.shop.noting import Noted, note_words
from backprobe.shop.outlook import standing
from backprobe.shop.workshop import Shop, StoreError


@pytest.fixture
def shop(tmp_path: Path):
    shop = Shop.open(tmp_path / "demo.backprobe", clock=lambda: 1_700_000_000.0)
    fill(shop)
    yield shop
    shop.close()


def test_what_was_understood_is_told_back(shop: Shop) -> None:
    noted = note_words(shop, "J-0003", "fuse f5 looks good; dead beacon")
    assert noted == (
        Noted(finding="f6", words="fuse F5 looks good, key on, engine stopped"),
        Noted(finding="f7", words="dead beacon, key on, engine stopped, S3 on"),
    )
    assert [f.id for f in shop.card("J-0003").job.findings][-2:] == ["f6", "f7"]


def test_one_unclear_sentence_and_nothing_is_kept(shop: Shop) -> None:
    before = shop.card("J-0003").job.findings
    noted = note_words(shop, "J-0003", "fuse F5 looks good; fuse F55 blown")
    assert [type(thing) for thing in noted] == [Problem]
    assert shop.card("J-0003").job.findings == before


def test_the_same_client_id_again_notes_nothing_more(shop: Shop) -> None:
    first = note_words(shop, "J-0003", "fuse F5 blown", client_id="phone-1")
    again = note_words(shop, "J-0003", "fuse F5 blown", client_id="phone-1")
    assert first == again
    assert len(shop.card("J-0003").job.findings) == 6


def test_undo_takes_a_finding_back_and_deletes_nothing(shop: Shop) -> None:
    note_words(shop, "J-0003", "undo f1")
    job = shop.card("J-0003").job
    assert [f.id for f in job.findings] == ["f1", "f2", "f3", "f4", "f5", "f6"]
    assert [f.id for f in job.state.findings] == ["f2", "f3", "f4", "f5"]


def test_error_no_such_job_is_the_store_s_own(shop: Shop) -> None:
    with pytest.raises(StoreError) as error:
        note_words(shop, "J-0099", "fuse F5 blown")
    assert error.value.slug == "job-unknown"


def test_the_state_is_the_one_that_is_weighed_and_needs_no_weighing(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The usual life before the visit belongs to it: what it blew was found blown."""
    note_words(shop, "J-0003", "fuse F5 looks good")
    job = shop.card("J-0003").job
    with monkeypatch.context() as idle:
        idle.setattr("backprobe.shop.job.standing", None)
        state = job.state
    assert len(state.lived) > len(job.findings) - 1
    assert [situation.key for situation in state.lived[:3]] == ["on", "crank", "run"]
    assert state == job.outlook.state == standing(job.circuit, job.findings).state
