"""The loom page says where to look first, and how to range it."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from backprobe.book.situations import Lead, Situation
from backprobe.findings.model import FuseFound, Reading
from backprobe.shop.workshop import Shop
from backprobe.web import where_view
from web.sheet_reader import words

BOOK = """
machine example, 12 V
battery: battery 12 V, at box
G1: ground stud, on frame
battery.- > G1, 35 mm2, BK, wire 2
battery.+ > F7.1, 2.5 mm2, RD, wire 3
F7: fuse 10 A, at box
X20: plug 4 ways, at step
F7.2 > X20.2 > horn.1, 1.0 mm2, BKYE, wire 50a / 50b
horn: horn 4 A, at nose
horn.2 > G1, 1.0 mm2, BN, wire 51
section ladder run: F7 to X20, 1.2 m
section nose run: X20 to horn, 1.6 m
spot ladder lip: in ladder run at 0.5 m, edge
"""
BLOWN = FuseFound(fuse="F7", state="blown", situation=Situation(key="off"))
LAMP = Situation(
    key="on",
    pulled=frozenset({"F7"}),
    unplugged=frozenset({"horn"}),
    fitted=(Lead(kind="lamp 55 W", p="F7.1", n="F7.2"),),
)

DEAD = Situation(key="off", unplugged=frozenset({"horn", "X20"}), battery_off=True)


@pytest.fixture
def example(shop: Shop) -> str:
    shop.add_book("example", BOOK)
    return shop.start_job("example", "fuse F7 blows", findings=(BLOWN,))


def test_it_says_where_and_how_with_the_caution_before_the_steps(
    client: TestClient, example: str
) -> None:
    said = words(client.get(f"/job/{example}/loom").text)
    assert "Where to look Wire 50a (F7 to X20), wire 50b (X20 to horn):" in said
    assert "at ladder lip" in said
    fuse = said.index("Fit only a fuse of the printed rating")
    lamp = said.index("The lamp gets hot enough to burn skin")
    assert fuse < said.index("Pull F7.") < lamp < said.index("Put a 55 W lamp in its place")
    assert "Put a 55 W lamp in its place" in said
    assert "What the meter should read with 4.6 A through the lamp" in said
    assert "83 mV" in said
    assert (
        "millivolts F7.2 to X20.2a ..., key on, F7 pulled, horn unplugged, lamp 55 W from F7.1 to F7.2"
        in said
    )


def test_a_reading_moves_the_place(client: TestClient, shop: Shop, example: str) -> None:
    read = Reading(instrument="millivolts", p="X20.2b", n="horn.1", value=0.083, situation=LAMP)
    shop.note(example, read)
    said = words(client.get(f"/job/{example}/loom").text)
    assert "Ranged by f2." in said
    look = said.partition("Look first")[2]
    assert "in section nose run" in look[:120]


def test_the_card_that_mends_it_says_the_same_place(
    client: TestClient, shop: Shop, example: str
) -> None:
    """One source for both: two figures for one place would send the hand to two."""
    reads = [
        Reading(instrument="millivolts", p="X20.2b", n="horn.1", value=0.083, situation=LAMP),
        Reading(instrument="millivolts", p="F7.2", n="X20.2a", value=0.100, situation=LAMP),
        Reading(instrument="ohms", p="X20.2b", n="frame", value=0.2, situation=DEAD),
    ]
    shop.note(example, *reads)
    place = words(client.get(f"/job/{example}/loom").text).partition("Look first")[2]
    place = place.partition(": ")[2].partition(" Then ")[0].partition(" Within ")[0]
    assert "cm from" in place
    card = words(client.get(f"/job/{example}").text).partition("Likeliest")[2][:200]
    assert card.strip().startswith(f"rubbed through to ground, look first {place} ")


def test_nothing_is_said_while_no_wire_is_worth_a_look(
    client: TestClient, example: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "Where to look" in client.get(f"/job/{example}/loom").text
    monkeypatch.setattr(where_view, "WORTH", 1.01)
    page = client.get(f"/job/{example}/loom")
    assert page.status_code == 200
    assert "Where to look" not in page.text
