"""Lists of jobs, machines and wiring books, and searching them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from backprobe.findings.model import Closed, Failing, Withdrawn
from backprobe.shop.demo import book_text
from backprobe.shop.history import jobs_found, machines_found
from backprobe.shop.shelf import books_found
from backprobe.shop.workshop import Shop
from backprobe.web.front_views import SHOWN
from web.browser_tools import DESK, PHONE, SMALL, faults, picture, served
from web.conftest import SMALL as BOOK
from web.sheet_reader import words


@pytest.fixture
def full(shop: Shop) -> Shop:
    """Four jobs on three machines; two are closed, one of them was opened again."""
    for serial, complaint, cause in (
        ("4411", "oil lamp on", "plug off at the sender"),
        ("4411", "no crank", ""),
        ("0093", "oil lamp flickers", "wire rubbed at the clamp"),
        ("", "<b>cuts out</b>", ""),
    ):
        job = shop.start_job(BOOK, complaint, serial=serial, hours=900.0, machine="baler")
        if cause:
            shop.note(job, Closed(cause=cause))
    shop.note("J-0003", Failing(answer="yes"))
    shop.start_job(BOOK, "lamp dim", serial="4411")
    return shop


def found(shop: Shop, wanted: str) -> list[str]:
    return [one.row.id for one in jobs_found(shop, wanted)]


def test_every_word_must_occur_somewhere(full: Shop) -> None:
    assert found(full, "") == ["J-0005", "J-0004", "J-0003", "J-0002", "J-0001"]
    assert found(full, "oil") == ["J-0003", "J-0001"]
    assert found(full, "OIL 4411") == ["J-0001"]
    assert found(full, "sender") == ["J-0001"], "the cause of a closed job"
    assert found(full, "clamp") == [], "a job that was opened again has no cause"
    assert found(full, "j-0002") == ["J-0002"]
    assert found(full, "nothing like it") == []


def test_a_machine_is_a_name_and_a_serial_number(full: Shop) -> None:
    machines = machines_found(full)
    assert [(m.name, m.serial, [one.row.id for one in m.jobs]) for m in machines] == [
        ("compact tractor", "4411", ["J-0005"]),
        ("baler", "", ["J-0004"]),
        ("baler", "0093", ["J-0003"]),
        ("baler", "4411", ["J-0002", "J-0001"]),
    ]


def test_a_closing_that_was_taken_back_leaves_the_job_open(full: Shop) -> None:
    closed = full.findings("J-0001")[-1]
    full.note("J-0001", Withdrawn(finding=closed.id))
    assert found(full, "sender") == []


def test_books_are_found_by_machine_and_name(shop: Shop) -> None:
    shop.add_book("tracked-dumper", book_text("tracked-dumper"))
    assert [one.name for one in books_found(shop)] == [BOOK, "tracked-dumper"]
    assert [one.name for one in books_found(shop, "TRACTOR")] == [BOOK]
    assert [one.name for one in books_found(shop, "dumper tracked")] == ["tracked-dumper"]
    # a newer text under the same name is what counts
    shop.add_book(BOOK, book_text(BOOK).replace("machine compact tractor", "machine old tractor"))
    assert [one.machine for one in books_found(shop, "tractor")] == ["old tractor"]


def test_the_page_shows_what_was_found_and_how_it_ended(client: TestClient, full: Shop) -> None:
    said = words(client.get("/?q=sender").text)
    assert "J-0001, serial 4411, 900 h oil lamp on Closed: plug off at the sender" in said
    assert "J-0002" not in said
    assert "No job with that." in words(client.get("/?q=zebra").text)
    page = client.get("/machines?q=4411").text
    assert "baler serial 4411, 900 h" in words(page)
    assert "No machine with that." in words(client.get("/machines?q=zebra").text)
    assert "compact tractor" in words(client.get("/books?q=tractor").text)
    assert "No wiring book with that." in words(client.get("/books?q=zebra").text)


def test_a_new_job_on_a_known_machine_knows_its_number_and_its_past(
    client: TestClient, full: Shop
) -> None:
    page = client.get("/machines?q=sender").text
    (address,) = re.findall(r'href="(/start/[^"]*)"', page)
    assert unescape(address) == f"/start/{BOOK}?serial=4411"
    form = client.get(unescape(address)).text
    assert 'name="serial" value="4411"' in form
    assert 'name="u0-whole" checked' in form, "as on an empty form"


def test_what_is_searched_for_stays_in_the_field_and_is_escaped(
    client: TestClient, full: Shop
) -> None:
    for path in ("/", "/machines", "/books"):
        page = client.get(path, params={"q": '"><script>x'}).text
        assert 'value="&#34;&gt;&lt;script&gt;x"' in page
        assert "<script>x" not in page


def test_a_long_list_says_how_many_are_left(client: TestClient, shop: Shop) -> None:
    for number in range(SHOWN + 2):
        shop.start_job(BOOK, f"job number {number}")
    said = words(client.get("/").text)
    assert "2 more jobs: search for what you need." in said
    assert "job number 1 " not in said
    assert "job number 31" in said


def test_an_empty_shop_says_so_on_every_list(client: TestClient, tmp_path: Path) -> None:
    assert "No job yet." in words(client.get("/").text)
    assert "No machine was worked on yet." in words(client.get("/machines").text)


@pytest.fixture
def address(full: Shop) -> Iterator[str]:
    with served(full) as at:
        yield at


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_the_lists_in_a_browser(
    browser: Browser, address: str, axe_script: str, colours: str
) -> None:
    for size in (PHONE, SMALL, DESK):
        page = browser.new_page(viewport=size, color_scheme=colours, bypass_csp=True)  # type: ignore[arg-type]
        for path in ("/", "/machines", "/books"):
            page.goto(f"{address}{path}")
            assert faults(page, axe_script) == []
            picture(page, f"list{path.replace('/', '-')}-{size['width']}-{colours}")
        page.goto(address)
        page.get_by_role("searchbox").fill("lamp")
        page.get_by_role("searchbox").press("Enter")
        expect(page.locator(".cards").first.locator("li")).to_have_count(3)
        page.close()


@pytest.mark.parametrize(
    ("job", "told"),
    [("J-0001", "2 other jobs on this machine"), ("J-0003", ""), ("J-0004", "")],
)
def test_a_sheet_says_what_else_was_done_on_this_machine(
    client: TestClient, full: Shop, job: str, told: str
) -> None:
    page = client.get(f"/job/{job}").text
    link = re.search(r'<a href="(/machines[^"]*)">([^<]*)</a>', page)
    assert (link[2] if link else "") == told
    if link:
        listed = words(client.get(unescape(link[1])).text)
        assert all(one in listed for one in ("J-0001", "J-0002", "J-0005"))
        assert "J-0003" not in listed
    full.start_job(BOOK, "again", serial=" 4411 ")
    assert ("3 other jobs on this machine" in client.get(f"/job/{job}").text) == bool(told)
