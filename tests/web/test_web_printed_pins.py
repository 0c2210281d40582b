"""Where the book prints another name on a pin than its kind has, every page says both, and either may be
typed."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from backprobe.findings.model import CodesFound, Failing, Reading
from backprobe.shop.demo import book_text
from backprobe.shop.say import hear
from backprobe.shop.workshop import Shop
from web.sheet_reader import words

KIND = {"1": "G", "2": "SIG", "3": "5V"}
"""The kind's names of a three-wire sensor's pins, and what this book prints on them."""


@pytest.fixture
def job(shop: Shop) -> str:
    """The small book, the sender's pins printed with letters."""
    text = book_text("unplugged-sensor").replace(
        "oil pressure sender: three-wire sensor,",
        "oil pressure sender: three-wire sensor, pins G / SIG / 5V, wire side 5V SIG G,",
    )
    # the wires go by what is printed
    text = re.sub(
        r"oil pressure sender\.([123])", lambda pin: f"oil pressure sender.{KIND[pin[1]]}", text
    )
    shop.add_book("printed", text)
    found = (CodesFound(unit="engine unit", active=("100/4",)), Failing(answer="yes"))
    return shop.start_job("printed", "oil lamp on", findings=found)


def bare(said: str) -> list[str]:
    """Every place where a pin of the sender is named without what is printed on it."""
    return re.findall(r"oil pressure sender pin \d(?!, printed (?:G|SIG|5V)).{0,30}", said)


def test_the_sheet_says_both_names_and_so_does_the_plug(client: TestClient, job: str) -> None:
    page = words(client.get(f"/job/{job}").text)
    assert "oil pressure sender pin 3, printed 5V (wire 5b, red/white)" in page
    assert "Volts at oil pressure sender pin 3, printed 5V" in page
    assert "red lead: pin 3, printed 5V , 1st of 3 from the left" in page
    assert bare(page) == []


@pytest.mark.parametrize("where", ["circuit?pin=oil+pressure+sender.2&key=on", "print", "loom"])
def test_the_pages_beside_it_say_both(client: TestClient, job: str, where: str) -> None:
    page = client.get(f"/job/{job}/{where}")
    assert page.status_code == 200
    assert bare(words(page.text)) == []
    if where.startswith("circuit"):
        assert "oil pressure sender pin 2, printed SIG" in page.text
        assert ">2 (SIG)<" in page.text


def test_the_reasons_and_the_list_say_both(client: TestClient, shop: Shop, job: str) -> None:
    shop.note(job, Reading(p="oil pressure sender.3", n="battery minus", value=0.2))
    page = words(client.get(f"/job/{job}").text)
    assert bare(page) == []
    for place in re.findall(r"at oil pressure sender\.\d.{0,20}", page):
        assert "(printed " in place, place
    assert "at oil pressure sender.3 (printed 5V) to battery minus" in page


def test_either_name_may_be_typed(shop: Shop, job: str) -> None:
    book = shop.card(job).job.book
    state = shop.card(job).job.state
    for said in ("oil pressure sender.5V", "oil pressure sender.3"):
        (found,) = hear(f"volts {said} 5,0, key on", book, state=state)
        assert isinstance(found, Reading), found
        assert found.p == "oil pressure sender.3"
    (problem,) = hear("volts oil pressure sender.9 5, key on", book, state=state)
    assert "oil pressure sender.1 (printed G), oil pressure sender.2 (printed SIG)" in str(problem)
