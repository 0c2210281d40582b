"""The gate: names, origins, sizes, headers. Against the advice of OWASP's cheat sheets on
cross-site request forgery ("Verifying Origin With Standard Headers") and HTTP headers."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from backprobe.shop.workshop import Shop
from backprobe.web.app import make_app
from backprobe.web.gate import MOST_BYTES, name_of
from web.sheet_reader import words

PORT = "127.0.0.1:8787"


@pytest.mark.parametrize("host", ["127.0.0.1:8787", "localhost:1", "[::1]:8787", "LOCALHOST"])
def test_the_computers_own_names_are_served(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example:80", "", "192.168.1.5"])
def test_other_names_are_refused(client: TestClient, host: str) -> None:
    page = client.get("/", headers={"host": host})
    assert page.status_code == 421
    assert (
        "This address is not one of Backprobe's. Open it by one of these names: 127.0.0.1, "
        "[::1], localhost."
    ) in words(page.text)


def test_other_names_are_served_when_told(shop: Shop) -> None:
    with TestClient(make_app(shop, hosts=("shop.test",)), base_url="http://shop.test") as client:
        assert client.get("/").status_code == 200
        assert client.get("/", headers={"host": PORT}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
        {"origin": "http://["},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_forms_of_other_sites_are_refused(
    client: TestClient, shop: Shop, job: str, headers: dict[str, str]
) -> None:
    page = client.post(f"/job/{job}/failing", data={"answer": "gone"}, headers=headers)
    assert page.status_code == 403
    assert (
        "This form came from another site. Nothing was kept. Open the job in Backprobe itself and "
        "enter it there."
    ) in words(page.text)
    assert len(shop.card(job).job.findings) == 2


def test_forms_of_this_site_are_taken(client: TestClient, shop: Shop, job: str) -> None:
    headers = {"origin": f"http://{PORT}", "sec-fetch-site": "same-origin"}
    page = client.post(
        f"/job/{job}/failing", data={"answer": "gone"}, headers=headers, follow_redirects=False
    )
    assert page.status_code == 303
    assert len(shop.card(job).job.findings) == 3


def test_too_much_is_refused_also_when_its_length_is_not_told(
    client: TestClient, shop: Shop, job: str
) -> None:
    def dripping() -> Iterator[bytes]:
        yield b"text="
        for _ in range(MOST_BYTES // 1000 + 1):
            yield b"x" * 1000

    form = {"content-type": "application/x-www-form-urlencoded"}
    told = client.post(f"/job/{job}/say", data={"text": "x" * MOST_BYTES})
    untold = client.post(f"/job/{job}/say", content=dripping(), headers=form)
    for page in (told, untold):
        assert page.status_code == 413
        assert "More was sent than a form may hold (64 kB)." in words(page.text)
    assert len(shop.card(job).job.findings) == 2


@pytest.mark.parametrize("path", ["/", "/job/none", "/static/sheet.css"])
def test_every_answer_carries_the_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == ("no-cache" if "static" in path else "no-store")
    assert "set-cookie" not in headers


def test_script_and_style_are_not_sent_again_when_the_browser_has_them(client: TestClient) -> None:
    first = client.get("/static/sheet.css")
    again = client.get("/static/sheet.css", headers={"if-none-match": first.headers["etag"]})
    assert (first.status_code, again.status_code, again.content) == (200, 304, b"")


def test_no_page_holds_inline_script_or_style(client: TestClient, job: str) -> None:
    for path in ("/", "/start/unplugged-sensor", f"/job/{job}", "/book/unplugged-sensor", "/none"):
        page = client.get(path).text
        assert "<style" not in page
        assert " style=" not in page
        assert " onclick=" not in page
        assert page.count("<script") == page.count("<script src=") > 0


def test_a_host_loses_its_port_only() -> None:
    hosts = {"a:1": "a", "[::1]:80": "[::1]", "[::1]": "[::1]", "A": "a", "": "", "a:b": "a:b"}
    assert {host: name_of(host) for host in hosts} == hosts


def test_the_vendored_script_is_the_published_one_with_its_licence(client: TestClient) -> None:
    script = client.get("/static/htmx-4.0.1.min.js")
    assert script.status_code == 200
    assert '"4.0.1"' in script.text
    assert "Zero-Clause BSD" in client.get("/static/htmx-4.0.1.LICENSE.txt").text
