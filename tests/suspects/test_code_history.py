"""How often stored codes were counted, and which came first, speak modestly of a common cause."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.findings.model import CodesFound
from backprobe.shop.demo import book_text
from backprobe.shop.job import start
from backprobe.shop.say import hear, told
from backprobe.suspects.history import ALIKE, NOT_FIRST, history_ratio

CAUSES = {
    "91/4": np.array([0.0, 1.0, 1.0, 0.0]),
    "94/4": np.array([0.0, 1.0, 0.0, 1.0]),
}
"""By defect: none, a supply that sets both, a wire of the one and of the other sensor."""


def ratio(**told: Any) -> np.ndarray:
    return history_ratio(CodesFound(unit="ECU", stored=tuple(CAUSES), **told), CAUSES)


def test_codes_counted_alike_speak_for_one_cause_and_far_apart_for_two() -> None:
    assert ratio(counts=(12, 12)) == pytest.approx([1.0, ALIKE, 1.0, 1.0])
    assert ratio(counts=(30, 2)) == pytest.approx([1.0, 1.0 / ALIKE, 1.0, 1.0])


def test_counts_that_say_nothing_move_nobody() -> None:
    """Everything that was there once is counted once; 12 and 20 are neither alike nor far apart."""
    for counts in ((1, 1), (1, 2), (12, 20), (12, 0)):
        found = ratio(counts=counts)
        assert found is None or found == pytest.approx(1.0)
    assert ratio() is None


def test_the_code_that_came_first_is_the_nearest_to_the_cause() -> None:
    assert ratio(first=("94/4",)) == pytest.approx([1.0, 1.0, NOT_FIRST, 1.0])
    assert (
        ratio(first=tuple(CAUSES)) == pytest.approx(1.0)
        if ratio(first=tuple(CAUSES)) is not None
        else True
    )


def test_ten_codes_are_not_forty_five_votes() -> None:
    causes = {f"{k}/4": np.array([0.0, 1.0]) for k in range(10)}
    found = CodesFound(unit="ECU", stored=tuple(causes), counts=(12,) * 10)
    assert history_ratio(found, causes) == pytest.approx([1.0, ALIKE])


@pytest.fixture(scope="module")
def fresh() -> Any:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return start(book)


def test_a_list_with_counts_is_heard_told_and_weighed(fresh: Any) -> None:
    """Three sensors of one 5 V group, counted alike or not: the group's supply against a sensor."""
    said = "codes ECU stored 3509/4 x12 157/4 x12 102/4 x{n} first 3509/4, key on"
    chance = []
    for n in (12, 1):
        (found,) = hear(said.format(n=n), fresh.book, state=fresh.state)
        assert isinstance(found, CodesFound)
        assert found.counts == (12, 12, n)
        assert found.first == ("3509/4",)
        assert hear(told(found), fresh.book, state=fresh.state) == (found,)
        job = fresh.note(found)
        atoms = job.weighed.defects.atoms
        supply = [k for k, atom in enumerate(atoms) if "5 V" in atom.words]
        chance.append(float(job.belief.chance[np.isin(job.belief.atom, supply)].sum()))
    assert chance[0] > chance[1]


def test_what_a_list_without_counts_says_is_as_before(fresh: Any) -> None:
    on = Situation(key="on")
    plain = CodesFound(unit="ECU", active=("3509/4", "157/4"), situation=on)
    zero = CodesFound(unit="ECU", active=("3509/4", "157/4"), counts=(0, 0), situation=on)
    one, other = (fresh.note(found).belief for found in (plain, zero))
    assert other.chance == pytest.approx(one.chance)
