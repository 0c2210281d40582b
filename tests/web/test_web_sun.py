"""The setting for bright sun: kept by the device, without scripts, and led nowhere else."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from web.sheet_reader import every_form

SUN = '<html lang="en" class="sun">'
PLAIN = '<html lang="en">'


def test_it_holds_on_every_page_until_it_is_taken_back(client: TestClient, job: str) -> None:
    page = client.get(f"/job/{job}?since=1")
    assert PLAIN in page.text
    switch = next(form for form in every_form(page.text) if form.action == "/sun")
    assert switch.fields == {"here": f"/job/{job}?since=1"}
    assert switch.buttons == ("on",)
    back = client.post("/sun", data=switch.fields | {"sun": "on"})
    assert (back.url.path, back.url.query) == (f"/job/{job}", b"since=1")
    for path in ("/", f"/job/{job}", f"/job/{job}/circuit", f"/job/{job}/close", "/nothing"):
        assert SUN in client.get(path).text, path
    switch = next(form for form in every_form(client.get("/").text) if form.action == "/sun")
    assert switch.buttons == ("off",)
    assert PLAIN in client.post("/sun", data=switch.fields | {"sun": "off"}).text


def test_the_wish_stays_with_the_device_and_out_of_reach_of_scripts(client: TestClient) -> None:
    client.post("/sun", data={"here": "/", "sun": "on"})
    with TestClient(client.app, base_url=str(client.base_url)) as other:
        assert PLAIN in other.get("/").text
    said = client.post("/sun", data={"sun": "on"}, follow_redirects=False).headers["set-cookie"]
    assert "HttpOnly" in said
    assert "samesite=strict" in said.casefold()


@pytest.mark.parametrize(
    "here", ["//evil.example", "/\\evil.example", "http://evil.example/", "", "/a\r\nb: c", "x"]
)
def test_it_leads_to_no_other_server(client: TestClient, here: str) -> None:
    reply = client.post("/sun", data={"here": here, "sun": "on"}, follow_redirects=False)
    assert reply.status_code == 303
    assert reply.headers["location"] == "/"
