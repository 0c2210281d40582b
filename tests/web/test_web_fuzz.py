"""Junk at every address: the answer is a page, never a server error."""

from __future__ import annotations

from collections.abc import Iterator
from time import sleep

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.routing import Route
from starlette.testclient import TestClient

from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from backprobe.web import views
from backprobe.web.app import make_app
from web.conftest import ARRIVAL, HERE, SMALL
from web.sheet_reader import answers

PLACES = ("J-0001", "J-0002", "J-999999999", SMALL, "none", "", "..", "%00", "a b", "é" * 40)
FIELDS = (
    "answer", "at", "check", "code", "codes", "complaint", "condition", "failing", "finding", "hours", "key", "minus",
    "on", "once", "pin", "serial", "text", "to", "u0-active", "u0-stored", "u0-whole", "unit", "value",
    "when-wet", "word", "try", "doubt", "battery", "shown0", "shown-key", "display", "restart", "before-wash", "w-engine cranks", "f-F1",
    "machine", "cause", "done", "parts", "left", "minutes", "of", "words", "here", "sun", "kept-0", "of-0", "words-0",
    "name", "text", "keep", "over", "file",
)  # fmt: skip
PAGES = (
    "/machines", "/books", "/books/new", "/guide", "/start/generic", "/job/{}/close", "/job/{}/write-up", "/job/{}/course", "/job/{}/photo",
    "/job/{}/photo/X", "/job/{}/put-back",
    "/", "/start/{}", "/book/{}", "/job/{}", "/job/{}/answer", "/job/{}/failing", "/job/{}/back",
    "/job/{}/say", "/job/{}/circuit", "/job/{}/loom", "/book/{}/circuit", "/job/{}/measured", "/job/{}/since", "/job/{}/print",
    "/job/{}/ahead", "/job/{}/bet", "/job/{}/approved", "/job/{}/around", "/sun", "/phones", "/phones/code", "/phones/unpair", "/pair", "/pair/{}", "/demo/{}", "/start/{}/ask", "/static/{}", "/nothing/{}",
)  # fmt: skip
junk = st.text(max_size=60) | st.sampled_from(
    ["list", "100/4", "f1", "f99", "yes", "gone", "only when", "wet", "12,4", "-1e309", "OL", "0", "2", "999999",
     "volts X 12, key on", "codes none", "undo f1", "\x00", "\ud7ff\U0001f525", "<b>&\"'",
     "9" * 400, "{{ 7*7 }}", "abcdefgh"]
)  # fmt: skip


@pytest.fixture(scope="module")
def checks(client: TestClient) -> list[str]:
    """Checks proposed on arrival, once the engine has worked them out."""
    for _ in range(600):
        found = answers(client.get("/job/J-0001").text)
        if found:
            return list(dict.fromkeys(form.fields["check"] for form in found))
        sleep(0.1)
    raise AssertionError("no check was proposed within a minute")


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A shop that has one job with findings. The engine is asked, but not waited for."""
    shop = Shop.open(tmp_path_factory.mktemp("fuzz") / "s.backprobe", clock=lambda: 1000.0)
    shop.add_book(SMALL, book_text(SMALL))
    shop.start_job(SMALL, "x", findings=ARRIVAL)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(views, "PATIENCE", 0.0)
        patch.setattr(views, "LONG_PATIENCE", 0.0)
        with TestClient(make_app(shop), base_url=HERE, follow_redirects=False) as opened:
            yield opened
    shop.close()


def test_junk_in_the_answer_to_a_real_check_is_answered(client: TestClient, checks) -> None:
    @settings(max_examples=120)
    @given(
        check=st.sampled_from(checks),
        fields=st.dictionaries(
            st.sampled_from(["value", "to", "unit", "word", "minus", "code", "codes", "once"]),
            junk | st.sampled_from(["active", "works", "V", "mV", "ohm", "12", "4,9"]),
            max_size=6,
        ),
    )
    def one(check: str, fields: dict[str, str]) -> None:
        fields = {**fields, "check": check, "at": str(len(ARRIVAL))}
        reply = client.post("/job/J-0001/answer", data=fields)
        seen.add(reply.status_code)
        assert reply.status_code in (303, 422), reply.text

    seen: set[int] = set()
    one()
    assert seen == {303, 422}  # some of the junk is an answer, most is not


def test_every_route_is_among_the_addresses_tried(client: TestClient) -> None:
    routes = {route.path for route in client.app.routes if isinstance(route, Route)}
    tried = {page.replace("{}", "X") for page in PAGES}
    for path in routes:
        bare = path
        for name in ("{job}", "{book}", "{name}", "{digest}", "{code}", "{form:path}"):
            bare = bare.replace(name, "X")
        assert bare in tried or path == "/job/{job}/{form:path}", path


@settings(max_examples=250)
@given(
    page=st.sampled_from(PAGES),
    place=st.sampled_from(PLACES) | st.text(max_size=12),
    method=st.sampled_from(["GET", "POST", "POST", "HEAD", "PUT"]),
    query=st.dictionaries(
        st.sampled_from(
            ["since", "later", "q", "wait", "x", "key", "on", "as", "pin", "at", "nth"]
        ),
        junk,
        max_size=3,
    ),
    fields=st.dictionaries(st.sampled_from(FIELDS), junk, max_size=6),
    swap=st.booleans(),
)
def test_junk_is_answered_with_a_page(
    client: TestClient,
    page: str,
    place: str,
    method: str,
    query: dict[str, str],
    fields: dict[str, str],
    swap: bool,
) -> None:
    path = page.format(_quoted(place))
    reply = client.request(
        method,
        path,
        params=query,
        data=fields if method == "POST" else None,
        headers={"HX-Request": "true"} if swap else {},
    )
    assert reply.status_code < 500, reply.text
    if page.endswith(("since", "ahead")) and reply.status_code == 200 and method != "POST":
        assert reply.headers["content-type"] == "application/json"
    elif (
        method != "HEAD"
        and not page.startswith("/static")
        and reply.status_code not in (204, 303, 307)
    ):
        assert reply.headers["content-type"] == "text/html; charset=utf-8"
        # a picture that is fetched into the sheet is no page of its own
        assert "<h1" in reply.text or (page.endswith("/around") and reply.status_code == 200)
    for text in fields.values():
        if "<" in text and len(text) > 2:  # less than that is in every page
            assert text not in reply.text


@settings(max_examples=60)
@given(body=st.binary(max_size=300), sort=st.sampled_from([
    "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "multipart/form-data",
    "application/json", "text/plain; charset=\xff", "", "x" * 300,
]))  # fmt: skip
def test_bytes_of_any_sort_are_answered(client: TestClient, body: bytes, sort: str) -> None:
    for page in ("/job/J-0001/say", "/job/J-0001/answer", f"/start/{SMALL}", "/job/J-0001/back"):
        reply = client.post(page, content=body, headers={b"content-type": sort.encode("latin-1")})
        assert reply.status_code < 500, reply.text


def _quoted(place: str) -> str:
    """A place in a path as a browser would send it."""
    from urllib.parse import quote

    return place if place.startswith("%") else quote(place.replace("\x00", ""), safe="")
