"""Sharing with phones: off unless asked for, then nobody in without a code from the laptop.

Against OWASP's cheat sheets on session management (cookie attributes, entropy of at least 64 bits,
secrets not kept in the clear) and RFC 6265bis (SameSite)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from http.cookies import SimpleCookie

import pytest
from starlette.applications import Starlette
from starlette.routing import Route
from starlette.testclient import TestClient

from backprobe.shop.workshop import Shop
from backprobe.web import views
from backprobe.web.app import make_app
from backprobe.web.sharing import CODE_S, MOST_DEVICES, MOST_WRONG, Sharing
from web.conftest import HERE
from web.sheet_reader import forms, words

ADDRESS = "192.168.1.20:8787"
THERE = f"http://{ADDRESS}"


class Clock:
    """A clock that is moved by hand."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def sharing(clock: Clock) -> Sharing:
    return Sharing(ADDRESS, clock)


@pytest.fixture
def app(shop: Shop, sharing: Sharing, monkeypatch: pytest.MonkeyPatch) -> Starlette:
    monkeypatch.setattr(views, "PATIENCE", 60.0)
    return make_app(shop, sharing=sharing)


@pytest.fixture
def laptop(app: Starlette) -> Iterator[TestClient]:
    with TestClient(app, base_url=HERE) as opened:
        yield opened


@pytest.fixture
def phone(app: Starlette) -> TestClient:
    return TestClient(app, base_url=THERE)


def paired(app: Starlette, sharing: Sharing, name: str = "") -> TestClient:
    """A phone that has just been paired."""
    client = TestClient(app, base_url=THERE)
    code = sharing.code or sharing.renew()
    page = client.post("/pair", data={"code": code.word, "name": name})
    assert page.status_code == 200, page.text
    return client


def every_address(app: Starlette, job: str) -> list[tuple[str, str]]:
    found = []
    for route in app.routes:
        if isinstance(route, Route) and not route.path.startswith("/pair"):
            path = re.sub(r"\{[^}]+\}", job, route.path)
            found += [(method, path) for method in sorted(route.methods or ())]
    return [
        *found,
        ("GET", "/static/sheet.js"),
        ("GET", "/static/htmx-4.0.1.min.js"),
        ("GET", "/x"),
    ]


def test_a_phone_that_is_not_paired_sees_the_pairing_page_and_nothing_else(
    app: Starlette, phone: TestClient, laptop: TestClient, shop: Shop, job: str
) -> None:
    addresses = every_address(app, job)
    assert len(addresses) > 15
    for method, path in addresses:
        page = phone.request(method, path, follow_redirects=False)
        assert page.status_code == 403, (method, path)
        if method == "HEAD":
            continue
        said = words(page.text)
        assert "Pair this phone" in said
        assert [form.action for form in forms(page.text)] == ["/pair"]
        assert not re.search("oil|lamp|sensor|J-0001|Jobs", said), said
        assert page.cookies.get("backprobe-device") is None
    assert len(shop.card(job).job.findings) == 2
    assert laptop.get(f"/job/{job}").status_code == 200


def test_what_a_stranger_sends_is_not_kept_and_it_is_told_so(
    phone: TestClient, shop: Shop, job: str
) -> None:
    page = phone.post(f"/job/{job}/failing", data={"answer": "gone"})
    assert page.status_code == 403
    assert (
        "This phone is not paired. Nothing was kept of what it sent. Pair it with a code; the "
        "page “Phones” on the laptop shows one."
    ) in words(page.text)
    assert len(shop.card(job).job.findings) == 2


def test_a_phone_is_paired_by_the_address_in_the_qr_code(
    app: Starlette, laptop: TestClient, phone: TestClient, shop: Shop, job: str
) -> None:
    shown = laptop.get("/phones").text
    found = re.search(r'aria-label="QR code for http://192\.168\.1\.20:8787(/pair/\w+)"', shown)
    assert found
    page = phone.get(found[1])
    assert page.status_code == 200
    assert phone.get(found[1]).status_code == 200  # looking, also twice, does not use the code up
    (form,) = forms(page.text)
    joined = phone.post("/pair", data={**form.fields, "name": " Ulla's\tphone "})
    assert joined.url.path == "/"
    assert "Jobs" in words(joined.text)
    assert "Ulla's phone" in words(laptop.get("/phones").text)
    noted = phone.post(f"/job/{job}/failing", data={"answer": "gone"})
    assert noted.status_code == 200
    assert len(shop.card(job).job.findings) == 3


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(
    phone: TestClient, sharing: Sharing
) -> None:
    code = sharing.code
    assert code is not None
    page = phone.post("/pair", data={"code": code.grouped}, follow_redirects=False)
    cookie = SimpleCookie(page.headers["set-cookie"])["backprobe-device"]
    assert cookie["httponly"]
    assert cookie["samesite"].casefold() == "strict"
    assert cookie["path"] == "/"
    assert len(cookie.value) >= 43  # 256 bits
    assert cookie.value not in repr(vars(sharing))  # only its digest is kept


def test_a_code_pairs_one_phone(app: Starlette, phone: TestClient, sharing: Sharing) -> None:
    code = sharing.code
    assert code is not None
    paired(app, sharing)
    page = phone.post("/pair", data={"code": code.word})
    assert page.status_code == 403
    assert (
        "This code does not count. It was mistyped, was used already, or is older than 10 "
        "minutes. Look at the page “Phones” on the laptop; it can show a new one."
    ) in words(page.text)
    assert phone.get("/").status_code == 403


def test_a_code_grows_old(
    app: Starlette, phone: TestClient, laptop: TestClient, sharing: Sharing, clock: Clock
) -> None:
    code = sharing.code
    assert code is not None
    clock.now += CODE_S - 1
    assert "No camera?" in words(laptop.get("/phones").text)
    clock.now += 2
    assert "The last code was used or is too old." in words(laptop.get("/phones").text)
    assert phone.post("/pair", data={"code": code.word}).status_code == 403
    again = laptop.post("/phones/code")
    assert "No camera?" in words(again.text)
    assert paired(app, sharing).get("/").status_code == 200


def test_guessing_makes_a_code_useless(app: Starlette, phone: TestClient, sharing: Sharing) -> None:
    code = sharing.code
    assert code is not None
    for _ in range(MOST_WRONG):
        assert phone.post("/pair", data={"code": "WRONG"}).status_code == 403
    assert sharing.code is None
    assert phone.post("/pair", data={"code": code.word}).status_code == 403


@pytest.mark.parametrize("typed", ["", " ", "é" * 40, "\x00", "-----", "Ａ" * 10])
def test_what_is_no_code_pairs_nobody(phone: TestClient, sharing: Sharing, typed: str) -> None:
    assert phone.post("/pair", data={"code": typed}).status_code == 403
    assert sharing.devices() == ()


def test_a_code_may_be_typed_in_small_letters_with_blanks(
    phone: TestClient, sharing: Sharing
) -> None:
    code = sharing.code
    assert code is not None
    typed = f" {code.grouped.lower().replace('-', ' - ')} "
    assert phone.post("/pair", data={"code": typed}).status_code == 200


def test_a_phone_that_was_let_go_is_out(
    app: Starlette, laptop: TestClient, sharing: Sharing, shop: Shop, job: str
) -> None:
    first, second = paired(app, sharing, "first"), paired(app, sharing, "second")
    (form, _) = (f for f in forms(laptop.get("/phones").text) if f.action == "/phones/unpair")
    assert form.buttons == ("2",)  # the one paired last stands first
    page = laptop.post("/phones/unpair", data={"phone": "2"})
    assert "first" in words(page.text)
    assert "second" not in words(page.text)
    assert first.get("/").status_code == 200
    assert second.get("/").status_code == 403
    assert second.post(f"/job/{job}/failing", data={"answer": "gone"}).status_code == 403
    assert len(shop.card(job).job.findings) == 2
    gone = laptop.post("/phones/unpair", data={"phone": "2"})
    assert gone.status_code == 404
    assert "There is no such phone among those that are paired." in words(gone.text)


def test_phones_cannot_pair_or_let_go_phones(app: Starlette, sharing: Sharing) -> None:
    phone = paired(app, sharing)
    for method, path in (
        ("GET", "/phones"),
        ("POST", "/phones/code"),
        ("POST", "/phones/unpair"),
    ):
        page = phone.request(method, path, data={"phone": "1"} if method == "POST" else None)
        assert page.status_code == 403
        assert "Phones are paired and let go on the laptop only." in words(page.text)
    assert sharing.code is None
    assert len(sharing.devices()) == 1


@pytest.mark.parametrize(
    "cookie", ["backprobe-device=x", "backprobe-device=", "=;;=", "a=\x01", 'backprobe-device="é"']
)
def test_a_made_up_cookie_opens_nothing(phone: TestClient, cookie: str) -> None:
    page = phone.get("/", headers={b"cookie": cookie.encode("latin-1")})
    assert page.status_code == 403


def test_the_laptops_own_name_is_no_key_for_a_phone(phone: TestClient) -> None:
    for name in ("127.0.0.1", "localhost"):
        assert phone.get("/", headers={"host": name}).status_code == 403
    assert phone.get("/", headers={"x-forwarded-for": "127.0.0.1"}).status_code == 403
    assert phone.get("/", headers={"host": "evil.example"}).status_code == 421


def test_forms_of_other_sites_do_not_pair(phone: TestClient, sharing: Sharing) -> None:
    code = sharing.code
    assert code is not None
    page = phone.post("/pair", data={"code": code.word}, headers={"origin": "http://evil.example"})
    assert page.status_code == 403
    assert sharing.devices() == ()


def test_phones_of_one_name_are_told_apart_and_are_not_endless(
    app: Starlette, sharing: Sharing, clock: Clock
) -> None:
    clients = []
    for _ in range(MOST_DEVICES + 1):
        clock.now += 1
        clients.append(paired(app, sharing, "Ulla"))
    names = [one.name for one in sharing.devices()]
    assert len(names) == len(set(names)) == MOST_DEVICES
    assert clients[0].get("/").status_code == 403  # the one not seen for longest went
    assert clients[1].get("/").status_code == 200


def test_without_sharing_there_is_no_way_in_and_the_page_says_how(client: TestClient) -> None:
    page = client.get("/phones")
    assert "Only this laptop can open the jobs: sharing is off." in words(page.text)
    assert client.post("/phones/code").status_code == 404
    assert client.get("/", headers={"host": ADDRESS}).status_code == 421
    assert client.get("/pair/ABCDE").url.path == "/phones"
