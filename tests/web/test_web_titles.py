"""Checks of one title are told apart by what is theirs alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.kinds import KINDS
from backprobe.shop.workshop import Shop
from backprobe.web.check_view import check_view
from backprobe.web.sheet import told_apart


def titles(shop: Shop, job: str, *situations: Situation) -> list[str]:
    """The titles of one check in several situations."""
    worked = shop.card(job).job
    priced = next(p for p in worked.proposal.next)
    layout = layout_of(worked.book, KINDS)
    twins: list[Any] = [
        replace(
            priced,
            check=replace(priced.check, words="Volts at X2 pin 1 (wire 9, blue)", situation=s),
        )
        for s in situations
    ]
    views = [check_view(layout, {}, p, likely={}, seen=(), key="k") for p in twins]
    views = [replace(view, title="Volts at X2 pin 1") for view in views]
    return [view.title for view in told_apart(views, twins)]


def test_two_of_one_title_say_what_differs(shop: Shop, job: str) -> None:
    both = frozenset({"X1"})
    one = Situation(key="off", unplugged=both | {"display"}, battery_off=True)
    other = Situation(key="off", unplugged=both | {"S3"}, battery_off=True)
    assert titles(shop, job, one, other) == [
        "Volts at X2 pin 1, display unplugged",
        "Volts at X2 pin 1, S3 unplugged",
    ]
    plain, loaded = Situation(key="on"), Situation(key="on", on=frozenset({"S2"}))
    assert titles(shop, job, plain, loaded) == [
        "Volts at X2 pin 1, key on",
        "Volts at X2 pin 1, S2 on",
    ]
    assert titles(shop, job, plain) == ["Volts at X2 pin 1"]


def test_two_alike_say_what_the_title_leaves_out(shop: Shop, job: str) -> None:
    assert titles(shop, job, Situation(), Situation()) == ["Volts at X2 pin 1 (wire 9, blue)"] * 2
