"""A wiring book is added on the page: proofread first, kept when that is pressed, nothing overwritten unasked."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from backprobe.shop.demo import book_text
from backprobe.shop.new_book import proofread
from backprobe.shop.workshop import Shop
from backprobe.web.gate import MOST_BOOK
from web.browser_tools import DESK, PHONE, faults, picture, served
from web.conftest import SMALL
from web.sheet_reader import words

PRESS = """machine bale press, 12 V
battery: battery 12 V, at box
F1: fuse 10 A, at box
battery.+ > F1 > lamp.1, 1.0 mm2, RD, wire 5a / 5b
lamp: lamp 21 W, at boom
lamp.2 > battery.-, 1.0 mm2, BN, wire 6
"""
WRONG = PRESS.replace("lamp 21 W", "lamb 21 W").replace("fuse 10 A", "fuse ten")


def asked(client: TestClient, **fields: str) -> tuple[int, str]:
    reply = client.post("/books/new", data=fields, follow_redirects=False)
    return reply.status_code, reply.text


def pressed(page: str) -> dict[str, str]:
    """The fields of the button that keeps it."""
    (keep,) = re.findall(r'name="keep" value="([0-9a-f]{64})"', page)
    (over,) = re.findall(r'name="over" value="([0-9a-f]*)"', page)
    return {"keep": keep, "over": over}


def test_it_is_proofread_and_nothing_is_kept_before_that_is_pressed(
    client: TestClient, shop: Shop
) -> None:
    status, page = asked(client, name="press", text=PRESS.replace("\n", "\r\n"))
    assert status == 200
    assert "It reads: bale press, 3 parts" in words(page)
    assert "Nothing is kept yet." in words(page)
    assert "press" not in shop.books()
    kept = client.post(
        "/books/new", data={"name": "press", "text": PRESS, **pressed(page)}, follow_redirects=False
    )
    assert (kept.status_code, kept.headers["location"]) == (303, "/book/press")
    assert shop.book_text("press") == PRESS
    assert client.get("/start/press").status_code == 200
    again = client.post("/books/new", data={"name": "press", "text": PRESS, **pressed(page)})
    assert again.status_code == 200  # pressed twice: it is there
    assert shop.book_text("press") == PRESS


def test_every_problem_is_told_with_line_and_column_and_what_was_typed_stays(
    client: TestClient, shop: Shop
) -> None:
    status, page = asked(client, name="press", text=WRONG)
    assert status == 422
    said = words(page)
    assert "It cannot be used yet: 2 errors" in said
    assert "Nothing was kept." in said
    assert "error, line 3, column 10:" in said
    assert "error, line 5, column 7:" in said
    assert "lamp: lamb 21 W, at boom" in page
    assert "press" not in shop.books()
    assert 'name="keep"' not in page


def test_a_book_that_cannot_be_used_is_not_kept_by_pressing_either(
    client: TestClient, shop: Shop
) -> None:
    _, page = asked(client, name="press", text=PRESS)
    status, _ = asked(client, name="press", text=WRONG, **pressed(page))
    assert status == 422
    assert "press" not in shop.books()


def test_what_was_changed_after_the_proofreading_is_proofread_again(
    client: TestClient, shop: Shop
) -> None:
    _, page = asked(client, name="press", text=PRESS)
    status, again = asked(client, name="press", text=PRESS + "# more\n", **pressed(page))
    assert (status, "Nothing is kept yet." in again) == (200, True)
    assert "press" not in shop.books()


def test_a_book_that_is_there_is_not_replaced_unasked(client: TestClient, shop: Shop) -> None:
    shop.add_book("bale press", PRESS)
    before, text = shop.books(), PRESS + "# another day\n"
    _, page = asked(client, name="", text=text)
    assert "This shop has a wiring book “bale press” already" in words(page)
    assert "bale press, 3 parts, 3 wires" in words(page)
    assert shop.books() == before
    # what the button says without the text it replaces is asked again
    status, _ = asked(client, text=text, keep=pressed(page)["keep"])
    assert (status, shop.books()) == (200, before)
    status, _ = asked(client, text=text, **pressed(page))
    assert (status, shop.book_text("bale press")) == (303, text)


def test_a_text_kept_meanwhile_by_somebody_else_is_asked_about(
    client: TestClient, shop: Shop
) -> None:
    _, page = asked(client, name="press", text=PRESS)
    theirs = PRESS + "# theirs\n"
    shop.add_book("press", theirs)
    status, again = asked(client, name="press", text=PRESS, **pressed(page))
    assert (status, "Replace “press”" in again) == (200, True)
    assert shop.book_text("press") == theirs


def test_another_spelling_of_a_name_is_the_same_book(client: TestClient, shop: Shop) -> None:
    shop.add_book("press", PRESS)
    _, page = asked(client, name="PRESS", text=PRESS + "# more\n")
    assert "This shop has a wiring book “press” already" in page


@pytest.mark.parametrize("name", ["a/b", "..", "x" * 61, "tracked-dumper", "Generic", "a\\b"])
def test_a_name_no_page_could_be_found_by_is_refused(
    client: TestClient, shop: Shop, name: str
) -> None:
    status, page = asked(client, name=name, text=PRESS)
    assert (status, "A wiring book cannot be called" in page) == (422, True)
    assert "It is found and started on by its name" in page


def test_error_a_name_of_the_demos_is_told_in_these_words(shop: Shop) -> None:
    read = proofread(shop, "generic", PRESS)
    assert read.book is None
    assert [str(one) for one in read.problems] == [
        (
            "error: A wiring book cannot be called 'generic'. [book-name]\n"
            "  why: It is found and started on by its name; those of the demo are taken.\n"
            "  do:  Give it a name of at most 60 letters, without / and \\, and none of the demo's: "
            "tracked-dumper, generic, unplugged-sensor."
        )
    ]


def test_a_file_counts_instead_of_the_text_and_names_the_book(
    client: TestClient, shop: Shop
) -> None:
    old = PRESS.replace("boom", "Träger").encode("cp1252")
    reply = client.post(
        "/books/new", data={"text": "nothing"}, files={"file": ("press 3.book", old, "text/plain")}
    )
    assert reply.status_code == 200
    assert 'value="press 3"' in reply.text
    assert "Träger" in reply.text
    assert "old Windows editor" in reply.text or "cp1252" in reply.text
    assert "press 3" not in shop.books()


@pytest.mark.parametrize("content", [b"", b"\x89PNG\r\n\x1a\n\0\0\0\0", b"machine only, 12 V\n"])
def test_what_is_no_book_is_told_so(client: TestClient, shop: Shop, content: bytes) -> None:
    before = shop.books()
    reply = client.post("/books/new", files={"file": ("x.book", content, "text/plain")})
    assert (reply.status_code, shop.books()) == (422, before)
    assert "It cannot be used yet" in reply.text


def test_markup_in_a_book_is_shown_and_not_run(client: TestClient) -> None:
    _, page = asked(client, name="<b>x", text="</textarea><script>alert(1)</script>")
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


def test_it_comes_through_the_same_gate_as_every_form(client: TestClient, shop: Shop) -> None:
    before = shop.books()
    foreign = {"origin": "http://elsewhere.test"}
    sent = client.post("/books/new", data={"name": "p", "text": PRESS}, headers=foreign)
    assert (sent.status_code, shop.books()) == (403, before)
    large = client.post("/books/new", files={"file": ("x.book", b"#" * (MOST_BOOK + 1), "a/b")})
    assert (large.status_code, shop.books()) == (413, before)
    pages = client.post("/books/new", files=[("file", ("a", b"x")), ("file", ("b", b"x"))])
    assert pages.status_code == 400


def test_a_book_of_a_million_letters_is_read_and_one_more_refused(client: TestClient) -> None:
    long = "".join(f"# {'x' * 97}\n" for _ in range(9_990))
    assert asked(client, name="long", text=long + PRESS)[0] in (200, 422)
    status, page = asked(client, name="long", text=long * 2)
    assert status == 422
    assert "10000 lines" in page


def test_the_lists_lead_there(client: TestClient) -> None:
    for path in ("/books", "/machines"):
        assert 'href="/books/new"' in client.get(path).text


@pytest.fixture
def address(shop: Shop) -> Iterator[str]:
    with served(shop) as at:
        yield at


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no-scripts"])
def test_in_a_browser_from_the_machines_to_a_job(
    browser: Browser, shop: Shop, address: str, axe_script: str, size: dict[str, int], scripts: bool
) -> None:
    context = browser.new_context(viewport=size, java_script_enabled=scripts, bypass_csp=True)
    page = context.new_page()
    name = f"{size['width']}-{'scripts' if scripts else 'plain'}"

    def looked_at(what: str) -> None:
        if scripts:
            assert faults(page, axe_script) == [], what
        picture(page, f"new-book-{what}-{name}")

    page.goto(f"{address}/machines")
    looked_at("machines")
    page.get_by_role("link", name="Add a machine").click()
    looked_at("empty")
    page.get_by_label("Or its text").fill(WRONG)
    page.get_by_role("button", name="Proofread it").click()
    expect(page.get_by_role("alert").filter(has_text="cannot be used yet")).to_be_visible()
    looked_at("wrong")
    page.get_by_label("Or its text").fill(PRESS)
    page.get_by_role("button", name="Proofread it again").click()
    expect(page.get_by_text("It reads: bale press")).to_be_visible()
    expect(page.get_by_label("Name of the book")).to_have_value("bale press")
    looked_at("reads")
    page.get_by_role("button", name="Keep it as “bale press”").click()
    page.wait_for_url("**/book/bale%20press")
    assert shop.book_text("bale press") == PRESS
    page.goto(f"{address}/books/new")
    page.get_by_label("A file").set_input_files(
        {"name": "bale press.book", "mimeType": "text/plain", "buffer": f"{PRESS}# new\n".encode()}
    )
    page.get_by_role("button", name="Proofread it").click()
    expect(page.get_by_text("has a wiring book “bale press” already")).to_be_visible()
    looked_at("replaces")
    page.get_by_role("button", name="Replace “bale press”").click()
    page.wait_for_url("**/book/bale%20press")
    assert shop.book_text("bale press") == f"{PRESS}# new\n"
    context.close()


def test_the_small_book_of_the_demo_reads_under_another_name(client: TestClient) -> None:
    status, page = asked(client, name="mine", text=book_text(SMALL))
    assert (status, "This shop has another book on a machine of this name" in page) == (200, True)
    assert SMALL in words(page)
