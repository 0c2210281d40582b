"""The list of jobs, starting one, and the page of a wiring book."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from backprobe.book import read_book
from backprobe.findings.model import CodesFound, Failing
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.workshop import Shop
from backprobe.web import views
from web.sheet_reader import forms, words

TYPED = {"complaint": "oil lamp on", "serial": " 4411-9 ", "hours": "1312,5"}


def test_the_list_shows_jobs_newest_first_books_and_demo_jobs(
    client: TestClient, shop: Shop, job: str
) -> None:
    later = shop.start_job("unplugged-sensor", "a second one")
    said = words(client.get("/").text)
    assert said.index(later) < said.index(job)
    assert "compact tractor" in said
    for demo in JOBS:
        assert demo.title in said


def test_the_way_without_a_book_is_there_once(client: TestClient, shop: Shop) -> None:
    shop.add_book("generic", book_text("generic"))
    assert client.get("/").text.count('href="/start/generic"') == 1
    assert "any diesel machine" in words(client.get("/books").text)


def test_an_empty_shop_says_so(client: TestClient) -> None:
    assert "No job yet." in words(client.get("/").text)


def test_a_demo_job_brings_its_book_and_opens(
    client: TestClient, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = client.post("/demo/after-washing", follow_redirects=False)
    job = page.headers["location"].removeprefix("/job/")
    card = shop.card(job)
    assert card.book_name == "tracked-dumper"
    assert [type(f) for f in card.job.findings] == [type(f) for f in JOBS[0].arrival]
    monkeypatch.setattr(views, "PATIENCE", 0.0)
    said = words(client.get(f"/job/{job}").text)
    assert "3509/4 sensor supply A low" in said
    assert client.post("/demo/none").status_code == 404


def test_a_job_starts_with_what_was_typed(client: TestClient, shop: Shop) -> None:
    typed = {
        **TYPED,
        "u0-active": "100/4, 94/4",
        "u0-stored": "SPN 102 FMI 4",
        "u0-whole": "on",
        "failing": "gone",
        "when-wet": "on",
    }
    page = client.post("/start/unplugged-sensor", data=typed, follow_redirects=False)
    assert page.status_code == 303
    card = shop.card(page.headers["location"].removeprefix("/job/"))
    assert (card.row.complaint, card.row.serial, card.row.hours) == (
        "oil lamp on",
        "4411-9",
        1312.5,
    )
    codes, when, now = card.job.findings
    assert isinstance(codes, CodesFound)
    assert (codes.unit, codes.active, codes.stored, codes.complete) == (
        "engine unit", ("100/4", "94/4"), ("102/4",), True,
    )  # fmt: skip
    assert codes.situation.key == "on"
    assert isinstance(when, Failing)
    assert (when.answer, when.condition) == ("only when", "wet")
    assert isinstance(now, Failing)
    assert now.answer == "gone"


def test_an_empty_list_is_a_finding_only_when_it_is_said(client: TestClient, shop: Shop) -> None:
    for typed, count in (("none", 1), ("", 0)):
        page = client.post(
            "/start/unplugged-sensor", data={"u0-active": typed}, follow_redirects=False
        )
        job = shop.card(page.headers["location"].removeprefix("/job/")).job
        assert len(job.findings) == count
        assert all(f.active == f.stored == () and not f.complete for f in job.findings)


NO_HOURS = (
    "“{}” is no reading of an hour meter. Type the hours as a number, for instance 1312,5 or 2874."
)
NO_CODE = (
    "The book has no code '9999/9' of engine unit. A mistyped code would point at the wrong "
    'circuit. If the display really shows it, put it in quotes: "9999/9".'
)


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("hours", "many", NO_HOURS.format("many")),
        ("hours", "-3", NO_HOURS.format("-3")),
        ("u0-active", "100/4 9999/9", NO_CODE),
    ],
)
def test_what_cannot_be_used_is_refused_and_everything_typed_is_kept(
    client: TestClient, shop: Shop, field: str, typed: str, said: str
) -> None:
    page = client.post("/start/unplugged-sensor", data={**TYPED, "when-hot": "on", field: typed})
    assert page.status_code == 422
    assert said in words(page.text)
    kept = forms(page.text)[0].fields
    assert kept["serial"] == " 4411-9 "
    assert kept[field] == typed
    assert "oil lamp on</textarea>" in page.text
    assert 'name="when-hot" checked' in page.text
    assert shop.jobs() == ()


def test_a_book_that_is_not_there_is_a_page_that_says_so(client: TestClient) -> None:
    for path in ("/start/none", "/book/none"):
        page = client.get(path)
        assert page.status_code == 404
        assert "There is no wiring book “none” in this shop." in words(page.text)


def test_the_page_of_a_book_lists_its_problems_and_what_was_assumed(
    client: TestClient, shop: Shop
) -> None:
    text = shop.book_text("unplugged-sensor")
    book, problems = read_book(text, "unplugged-sensor")
    assert book is not None
    said = words(client.get("/book/unplugged-sensor").text)
    assert f"What is wrong with it {len(problems)}" in said
    assert f"What was assumed {len(book.assumptions)}" in said
    for one in book.assumptions[:5]:
        assert " ".join(f"{one.about}: {one.what}".split()) in said
    for problem in problems:
        assert " ".join(problem.what.split()) in said
