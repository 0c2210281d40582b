"""A photo on a job: sent, shown, taken back; what is none is refused."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from backprobe.findings.model import Photo, Withdrawn
from backprobe.shop.workshop import Shop
from backprobe.web.gate import MOST_PHOTO, most_of
from web.browser_tools import PHONE, faults, picture, served
from web.sheet_reader import forms, words


def jpeg(colour: str = "red") -> bytes:
    out = BytesIO()
    Image.new("RGB", (64, 48), colour).save(out, "JPEG", comment=b"SECRETWORDS")
    return out.getvalue()


def send(
    client: TestClient,
    job: str,
    data: bytes,
    name: str = "a.jpg",
    sort: str = "image/jpeg",
    **typed: str,
) -> str:
    fields = {k: v for k, v in photo_form(client, job).items() if k != "photo"} | typed
    page = client.post(f"/job/{job}/photo", data=fields, files={"photo": (name, data, sort)})
    assert page.status_code in (200, 422), page.text
    return page.text


def photo_form(client: TestClient, job: str) -> dict[str, str]:
    page = client.get(f"/job/{job}").text
    return next(form for form in forms(page) if form.action.endswith("/photo")).fields


def shown(page: str) -> list[str]:
    return re.findall(r'<img src="([^"]+)"', page)


def test_a_photo_is_kept_bare_and_shown_with_what_it_belongs_to(
    client: TestClient, shop: Shop, job: str
) -> None:
    # a wrong name and a wrong sort do not matter: what is in it counts
    page = send(client, job, jpeg(), "../../x.exe", "text/html", of="f1", words="  the plug <b> ")
    assert "Noted: Photo: the plug <b>" in words(page)
    assert "Of: engine unit: 1 code" in words(page)
    (address,) = shown(page)
    answer = client.get(address)
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.content.startswith(b"\xff\xd8\xff")
    assert b"SECRETWORDS" not in answer.content
    (found,) = [f for f in shop.findings(job) if isinstance(f, Photo)]
    assert (found.of, found.words) == ("f1", "the plug <b>")
    assert "the plug &lt;b&gt;" in client.get(f"/job/{job}/write-up").text
    assert shown(client.get(f"/job/{job}/write-up").text) == [address]


def test_a_photo_moves_no_chance(client: TestClient, shop: Shop, job: str) -> None:
    before = shop.card(job).job.suspects
    send(client, job, jpeg())
    after = shop.card(job).job.suspects
    assert [(s.group, s.chance) for s in before] == [(s.group, s.chance) for s in after]


def test_what_is_no_photo_is_refused_and_nothing_is_kept(
    client: TestClient, shop: Shop, job: str
) -> None:
    page = send(client, job, b"<script>alert(1)</script>")
    assert (
        "This is no photo that can be read. Nothing of it was kept. Send a JPEG, PNG or WebP as a "
        "camera makes it."
    ) in words(page)
    page = client.post(f"/job/{job}/photo", data=photo_form(client, job) | {"photo": ""}).text
    assert "No photo was chosen. Choose one, or take one with the phone's camera." in words(page)
    assert len(shop.findings(job)) == 2


def test_a_finding_that_is_not_there_is_no_owner(client: TestClient, shop: Shop, job: str) -> None:
    send(client, job, jpeg(), of="f99")
    assert [f.of for f in shop.findings(job) if isinstance(f, Photo)] == [""]


def test_a_photo_is_seen_only_on_its_job_and_not_when_it_was_taken_back(
    client: TestClient, shop: Shop, job: str
) -> None:
    (address,) = shown(send(client, job, jpeg()))
    other = shop.start_job("unplugged-sensor", "another")
    digest = address.rpartition("/")[2]
    for path in (
        f"/job/{other}/photo/{digest}",
        f"/job/{job}/photo/{'0' * 64}",
        f"/job/{job}/photo/{digest[:-1]}",
    ):
        assert client.get(path).status_code == 404, path
    climbing = client.get(f"/job/{job}/photo/..%2F..%2Fetc%2Fpasswd")
    assert climbing.headers["content-type"].startswith("text/html")
    shop.note(job, Withdrawn(finding=shop.findings(job)[-1].id))
    assert client.get(address).status_code == 404
    assert shown(client.get(f"/job/{job}").text) == []


def test_a_form_sent_twice_keeps_one_photo(client: TestClient, shop: Shop, job: str) -> None:
    fields = {k: v for k, v in photo_form(client, job).items() if k != "photo"}
    for _ in range(2):
        client.post(
            f"/job/{job}/photo", data=fields, files={"photo": ("a.jpg", jpeg(), "image/jpeg")}
        )
    assert sum(isinstance(f, Photo) for f in shop.findings(job)) == 1


def test_only_the_form_for_photos_may_be_that_large(client: TestClient, job: str) -> None:
    assert most_of(f"/job/{job}/photo") == MOST_PHOTO
    assert most_of(f"/job/{job}/photo/x") == most_of(f"/job/{job}/say") == 64 * 1024
    page = client.post(
        f"/job/{job}/photo", content=b"x", headers={"content-length": str(MOST_PHOTO + 1)}
    )
    assert page.status_code == 413
    assert "More was sent than a form may hold (20 MB)." in words(page.text)


def test_a_photo_is_sent_from_a_phone(
    browser: Browser, shop: Shop, job: str, axe_script: str, tmp_path: Path
) -> None:
    file = tmp_path / "plug.jpg"
    file.write_bytes(jpeg("green"))
    with served(shop) as address:
        context = browser.new_context(
            viewport=PHONE,
            has_touch=True,
            is_mobile=True,
            bypass_csp=True,  # type: ignore[arg-type]
        )
        page = context.new_page()
        page.goto(f"{address}/job/{job}?wait=1")
        page.get_by_text("Add a photo").tap()
        page.get_by_label("Photo", exact=True).set_input_files(file)
        page.get_by_label("Belongs to").select_option(label="engine unit: 1 code")
        page.get_by_label("What it shows").fill("plug, from below")
        assert faults(page, axe_script) == []
        page.get_by_role("button", name="Keep the photo").tap()
        seen = page.get_by_role("img", name="Photo: plug, from below")
        expect(seen).to_be_attached(timeout=60_000)
        page.get_by_text("Of: engine unit: 1 code").hover()  # the sheet may be drawn anew meanwhile
        expect(seen).to_be_visible()
        expect(seen).to_have_js_property("naturalWidth", 64)
        assert faults(page, axe_script) == []
        picture(page, "photo-390")
        context.close()
