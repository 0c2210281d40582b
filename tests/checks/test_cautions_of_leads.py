"""What a probe at a stud can slip to: the starter's own supply, and its solenoid (SAE J1493)."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.model import MINUS
from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.checks.readings import probe_at, reading
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text


@pytest.fixture(scope="module")
def layout():
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    return layout_of(book, KINDS)


def hazards(layout, does, p, n=MINUS, **more):
    return reading(layout, does, probe_at("volts", p, n), Situation(key="crank", **more)).hazards


def at_starter(layout):
    posts = {touch.node for end, touch in layout.ends.items() if end.part == "starter"}
    lugs = {node for node, touch in layout.lugs.items() if touch.part == "starter"}
    assert {post.partition(":")[2] for post in posts} == {"30", "50"}
    assert lugs
    return posts | lugs


def test_no_probe_at_the_starter_goes_without_both_cautions(layout):
    for node in at_starter(layout):
        assert {"starter-bypass", "short-circuit"} <= {*hazards(layout, "volts", node)}, node
        post = node.partition("<")[0]
        if node != post:
            assert {"starter-bypass", "short-circuit"} <= {*hazards(layout, "drop", post, node)}


def test_neither_is_said_where_no_tip_can_slip_to_it(layout):
    """The black lead on battery minus stands beside plus for every reading, so it says nothing."""
    sensor = next(
        t.node
        for e, t in layout.ends.items()
        if layout.joint(e.part) == "plug" and layout.net[e] not in layout.unfused
    )
    assert not {"starter-bypass", "short-circuit"} & {*hazards(layout, "volts", sensor)}
    stud = layout.touch["starter:30"].node
    assert "short-circuit" not in hazards(layout, "volts", stud, battery_off=True)
