"""Taking a machine in: one page, everything optional, nothing typed is lost."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

import pytest
from httpx import Response
from PIL import Image
from starlette.testclient import TestClient

from backprobe.book import read_book
from backprobe.findings.model import (
    Closed,
    CodesFound,
    DisplayRead,
    FuseFound,
    Photo,
    Reading,
    Recalled,
    Works,
)
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from backprobe.web import start_views
from backprobe.web.codes import pasted
from web.sheet_reader import forms, words

START = "/start/unplugged-sensor"


def begun(client: TestClient, shop: Shop, path: str = START, **typed: str) -> list[object]:
    page = client.post(path, data=typed, follow_redirects=False)
    assert page.status_code == 303, words(page.text)
    return list(shop.card(page.headers["location"].removeprefix("/job/")).job.findings)


def test_an_empty_form_starts_a_job(client: TestClient, shop: Shop) -> None:
    assert begun(client, shop) == []


def test_every_answer_becomes_a_finding(client: TestClient, shop: Shop) -> None:
    found = begun(
        client,
        shop,
        **{
            "battery": "12,4 V",
            "display": "display faded",
            "restart": "did not start again",
            "before-wash": "on",
            "before-boost": "on",
            "w-engine cranks": "no",
            "f-F1": "good",
            "f-F2": "",
        },
    )
    works, fuse, volts, *recalled = found
    assert isinstance(works, Works)
    assert (works.target, works.works, works.situation.key) == ("engine cranks", False, "crank")
    assert isinstance(fuse, FuseFound)
    assert (fuse.fuse, fuse.state) == ("F1", "looks good")
    assert isinstance(volts, Reading)
    assert (volts.p, volts.value, volts.situation.key) == ("battery.+", 12.4, "off")
    assert [one.what for one in recalled if isinstance(one, Recalled)] == [
        "after wash",
        "after boost start",
        "display faded",
        "did not start again",
    ]


def test_a_form_sent_twice_starts_one_job(client: TestClient, shop: Shop) -> None:
    typed = forms(client.get(START).text)[0].fields
    first = client.post(START, data=typed, follow_redirects=False).headers["location"]
    again = client.post(START, data=typed, follow_redirects=False).headers["location"]
    assert first == again
    assert len(shop.jobs()) == 1


def test_a_battery_voltage_that_is_none_is_refused(client: TestClient, shop: Shop) -> None:
    for typed in ("low", "124", "-12", "12 A"):
        page = client.post(START, data={"battery": typed, "before-wash": "on"})
        assert page.status_code == 422
        assert (
            f"“{typed}” is no battery voltage. Type the volts at the posts, key off, for instance "
            "12,4."
        ) in words(page.text)
        assert 'name="before-wash" checked' in page.text
    assert shop.jobs() == ()


def test_what_the_display_shows_is_noted_in_the_key_position_it_was_read_in(
    client: TestClient, shop: Shop
) -> None:
    page = client.get(START).text
    assert "Values on the display" in words(page)
    assert 'name="shown-key" value="on" checked' in page
    (still,) = begun(client, shop, shown0="-120 kPa")
    assert isinstance(still, DisplayRead)
    assert (still.unit, still.name, still.value) == ("engine unit", "oil pressure", -120.0)
    assert still.situation.key == "on"
    (running,) = begun(client, shop, **{"shown0": "312,5", "shown-key": "run"})
    assert isinstance(running, DisplayRead)
    assert (running.value, running.situation.key) == (312.5, "run")


def test_a_display_value_that_cannot_be_is_refused_and_kept(client: TestClient, shop: Shop) -> None:
    for typed, said in (
        ("lots", "“lots” is no value of oil pressure. Type the number as the display shows it, in"),
        ("99999", "99999 kPa is no value of oil pressure on the display of engine unit: it can"),
        ("12 V", "“12 V” is no value of oil pressure."),
    ):
        page = client.post(START, data={"shown0": typed, "shown-key": "run"})
        assert page.status_code == 422
        assert said in words(page.text)
        assert f'value="{typed}"' in page.text
        assert 'name="shown-key" value="run" checked' in page.text
    assert shop.jobs() == ()


def test_a_machine_without_a_book_is_worked_on_the_general_one(
    client: TestClient, shop: Shop
) -> None:
    assert "No wiring book" in words(client.get("/start/generic").text)
    assert "generic" not in shop.books()
    begun(client, shop, "/start/generic", machine="old baler", serial="7")
    (row,) = shop.jobs()
    assert (row.machine, row.serial) == ("old baler", "7")
    assert shop.card(row.id).book_name == "generic"


@pytest.mark.parametrize(
    ("text", "active", "stored"),
    [
        ("157/4 94/4", "157/4 94/4", ""),
        (
            "SPN 157 FMI 4 rail pressure signal low (active)\nSPN: 94, FMI: 4 stored",
            "157/4",
            "94/4",
        ),
        ("1. 157-4 rail pressure signal low\n2. 94.4", "157/4 94/4", ""),
        ("active 157/4, 94/4 stored 91/4, 102/4", "157/4 94/4", "91/4 102/4"),
        ("157/4 active, 94/4 inactive", "157/4", "94/4"),
        ("91/4 hand throttle 1 signal low", "91/4", ""),
        ("sensor supply A low", "3509/4", ""),
        ('"4711/3"', '"4711/3"', ""),
        ("none", "none", ""),
        ("blinks 2-1, 3-1 stored 5-1", "157/4 3509/4", "168/4"),
        ("Flash code: 2-1\n1) flash code 3 - 1 (inactive)", "157/4", "3509/4"),
        ("lamp blinks 2-1 and 9-9-3", "157/4 9-9-3", ""),
        ("blinking 9-9", "blinks 9-9", ""),
        # what is not understood is handed on, so that it is refused by name
        ("157/4 9999", "157/4 9999", ""),
        ("nonsense", "nonsense", ""),
        # a code that is said not to be there never becomes one that is
        ("157/4 not 94/4", "157/4 not 94/4", ""),
    ],
)
def test_code_lists_are_read_as_displays_print_them(text: str, active: str, stored: str) -> None:
    book, _ = read_book(book_text("tracked-dumper"), "dumper")
    assert book is not None
    assert pasted(book, "ECU", text) == (active, stored)


def test_pasted_codes_reach_the_job(client: TestClient, shop: Shop) -> None:
    (codes,) = begun(
        client,
        shop,
        **{
            "u0-active": "SPN 100 FMI 4 (active)\r\nSPN 94 FMI 4 previously active",
            "u0-whole": "on",
        },
    )
    assert isinstance(codes, CodesFound)
    assert (codes.active, codes.stored, codes.complete) == (("100/4",), ("94/4",), True)


# J1939-73 DM1, PGN 65226, source 0: SPN 100 (0x64) FMI 4, occurrence count 1
RECORDING = b"".join(
    b"(%d.000000) can0 18FECA00#04FF64000401FFFF\n" % second for second in range(1, 6)
)


def test_codes_of_a_recording_are_filled_in_and_looked_over_first(
    client: TestClient, shop: Shop
) -> None:
    page = client.post(
        START,
        data={"complaint": "oil lamp on"},
        files={"recording": ("../../drive.log", RECORDING, "text/plain")},
    )
    assert page.status_code == 200
    assert "From the recording: Sender 0: active 100/4." in words(page.text)
    typed = forms(page.text)[0].fields
    assert (typed["u0-active"], typed["complaint"]) == ("100/4", "oil lamp on")
    assert shop.jobs() == ()
    typed.pop("recording")
    (codes,) = begun(client, shop, **typed)
    assert isinstance(codes, CodesFound)
    assert codes.active == ("100/4",)


def test_a_file_that_is_no_recording_is_refused_and_what_was_typed_stays(
    client: TestClient, shop: Shop
) -> None:
    page = client.post(
        START,
        data={"serial": "9"},
        files={"recording": ("x.jpg", b"\xff\xd8\xff\xe0junk", "image/jpeg")},
    )
    assert page.status_code == 422
    assert 'role="alert"' in page.text
    assert forms(page.text)[0].fields["serial"] == "9"
    assert shop.jobs() == ()


def test_a_recording_that_is_too_long_is_refused_and_what_was_typed_stays(
    client: TestClient, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(start_views, "MOST_RECORDING", len(RECORDING) - 1)
    files = {"recording": ("drive.log", RECORDING, "text/plain")}
    page = client.post(START, data={"serial": "9"}, files=files)
    assert page.status_code == 422
    assert "This recording is larger than 32 MB." in words(page.text)
    assert forms(page.text)[0].fields["serial"] == "9"
    assert shop.jobs() == ()


def test_jobs_on_this_type_are_shown_open_ones_too_the_machine_itself_first(
    client: TestClient, shop: Shop
) -> None:
    for serial, cause in (("1", "plug off at the sender"), ("2", "wire rubbed at the clamp")):
        job = shop.start_job("unplugged-sensor", "oil lamp", serial=serial, hours=900.0)
        shop.note(job, Closed(cause=cause))
    shop.start_job("unplugged-sensor", "lamp came on again", serial="1")
    said = words(client.get(START).text)
    assert "Seen before on this type (3)" in said
    # a cause says more than a complaint nobody has got behind
    assert said.index("wire rubbed") < said.index("plug off") < said.index("lamp came on again")
    again = words(client.post(START, data={"serial": "1", "hours": "x"}).text)
    assert "Seen before on this machine or type (3)" in again
    assert "plug off at the sender J-0001, serial 1, 900 h, this machine" in again
    # but a job on this very machine is gone on with, not started twice
    assert "lamp came on again J-0003, serial 1, this machine, still open" in again
    assert again.index("came on again") < again.index("plug off") < again.index("wire rubbed")


def test_what_was_typed_so_far_brings_the_questions_it_asks_for_and_the_jobs(
    client: TestClient, shop: Shop
) -> None:
    shop.add_book("tracked-dumper", book_text("tracked-dumper"))
    shop.start_job("tracked-dumper", "horn silent", serial="7")

    def asked(**typed: str) -> list[str]:
        said = client.post("/start/tracked-dumper/ask", data=typed)
        assert said.status_code == 200
        assert ("serial 7, this machine, still open" in words(said.text)) == ("serial" in typed)
        return re.findall(r'id="w\d+">([^<]+)', said.text)

    assert len(asked()) == 12
    assert asked()[0] == "Engine starts"
    assert asked(complaint="the horn is dead")[0] == "Horn sounds"
    assert asked(**{"u0-active": "520331/5"})[0] == "Fast travel"
    # what is answered stays to be seen, and one that cannot be read yet changes nothing
    assert "Lift pump runs" not in asked(serial="7")
    assert asked(**{"w-lift pump runs": "yes"})[12:] == ["Lift pump runs"]
    assert asked(**{"u0-active": "520331/"}) == asked()


def jpeg(colour: str) -> bytes:
    out = BytesIO()
    Image.new("RGB", (64, 48), colour).save(out, "JPEG", comment=b"SECRETWORDS")
    return out.getvalue()


def photos_of(shop: Shop, page: Response) -> tuple[list[Photo], dict[str, object]]:
    assert page.status_code == 303, words(page.text)
    found = shop.findings(page.headers["location"].removeprefix("/job/"))
    return [f for f in found if isinstance(f, Photo)], {f.id: f for f in found}


def test_photos_come_along_and_belong_to_what_was_found(client: TestClient, shop: Shop) -> None:
    page = client.post(
        START,
        data={
            "u0-active": "100/4",
            "f-F1": "blown",
            "of-0": "codes-engine unit",
            "of-1": "f-F1",
            "words-1": "  black <inside> ",
            "of-2": "battery",
        },
        files={f"photo-{k}": ("x.exe", jpeg(c), "text/html") for k, c in enumerate(("red", "blue", "green"))},
        follow_redirects=False,
    )  # fmt: skip
    (display, fuse, meter), by_id = photos_of(shop, page)
    assert isinstance(by_id[display.of], CodesFound)
    assert display.words == "codes of engine unit"
    assert isinstance(by_id[fuse.of], FuseFound)
    assert fuse.words == "black <inside>"
    # no volts were typed: the photo is the job's, and still says what it is of
    assert (meter.of, meter.words) == ("", "battery volts")
    kept = shop.photo(display.digest)
    assert kept is not None
    assert b"SECRETWORDS" not in kept


def test_a_photo_stays_when_the_form_comes_back(client: TestClient, shop: Shop) -> None:
    page = client.post(
        START,
        data={"hours": "many", "words-0": "the plate"},
        files={
            "photo-0": ("a.jpg", jpeg("red"), "image/jpeg"),
            "photo-1": ("b.jpg", b"<script>", "image/jpeg"),
        },
    )
    assert page.status_code == 422
    assert "This photo is kept." in words(page.text)
    assert "This is no photo that can be read." in words(page.text)
    assert shop.jobs() == ()
    typed = forms(page.text)[0].fields
    typed = {k: v for k, v in typed.items() if not k.startswith("photo") and k != "recording"}
    typed["hours"] = "12"
    page = client.post(START, data=typed, follow_redirects=False)
    ((photo,), _) = photos_of(shop, page)
    assert (photo.words, photo.of) == ("the plate", "")


def test_a_photo_nobody_sent_is_not_taken_along(client: TestClient, shop: Shop) -> None:
    typed = {"kept-0": "0" * 64, "kept-1": "../../etc/passwd", "of-2": "f-nothing"}
    files = {"photo-2": ("a.jpg", jpeg("red"), "image/jpeg")}
    page = client.post(START, data=typed, files=files, follow_redirects=False)
    ((photo,), _) = photos_of(shop, page)
    assert photo.of == ""


def test_the_page_is_light(client: TestClient, shop: Shop, tmp_path: Path) -> None:
    shop.add_book("tracked-dumper", book_text("tracked-dumper"))
    assert len(client.get("/start/tracked-dumper").content) < 40_000
