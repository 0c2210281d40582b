"""The pages of the pictures over HTTP: what they show, what can be entered, what is refused."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from starlette.testclient import TestClient

from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.defects.model import Probe
from backprobe.findings.model import Act, Reading
from backprobe.kinds import KINDS
from backprobe.shop.job import Job
from backprobe.shop.outlook import engine
from backprobe.shop.predicted import healthy_volts, leading, lived_through, node_volts
from backprobe.shop.workshop import Shop
from backprobe.web import views
from web.conftest import ARRIVAL, SMALL
from web.sheet_reader import forms, words

PIN = "oil pressure sender.3"
QUERY = {"key": "on", "pin": PIN}


def circuit(client: TestClient, job: str, **query: str) -> str:
    page = client.get(f"/job/{job}/circuit", params=query)
    assert page.status_code == 200
    return page.text


def reads(page: str) -> dict[str, str]:
    """The table of a pin: what it reads, by suspect."""
    table = re.search(r'<table class="reads">.*?</table>', page, flags=re.DOTALL)
    assert table
    rows = re.findall(r"<th[^>]*>(.*?)</th><td>(.*?)</td>", table[0])
    return dict(rows)


def test_the_sheet_leads_to_both_pictures(client: TestClient, job: str) -> None:
    sheet = client.get(f"/job/{job}").text
    for which in ("circuit", "loom"):
        assert f'href="/job/{job}/{which}"' in sheet
        page = client.get(f"/job/{job}/{which}").text
        assert f'href="/job/{job}"' in page


def test_a_check_leads_to_the_place_of_its_red_lead(client: TestClient, job: str) -> None:
    sheet = client.get(f"/job/{job}").text
    ways = re.findall(rf'href="(/job/{job}/circuit\?key=[^"]*)"', sheet)
    assert ways
    page = client.get(unescape(ways[0])).text
    assert "oil pressure sender" in re.search(r'<h2 id="pin-title">.*?</h2>', page, re.DOTALL)[0]


def test_the_circuit_is_drawn_twice_named_and_told_as_a_table(client: TestClient, job: str) -> None:
    page = circuit(client, job, key="on")
    assert page.count("<svg ") == page.count("<title id=") == page.count("<desc id=") == 2
    assert "Circuit around the suspects, key on, engine stopped" in page
    said = words(page)
    assert "The same as a table" in said
    assert "7 green, 0.75 mm²" in said
    assert re.search(r"oil pressure sender pin 2 \d", said)


def test_the_loom_says_how_to_write_one_where_the_book_has_none(
    client: TestClient, job: str
) -> None:
    said = words(client.get(f"/job/{job}/loom").text)
    assert (
        "No loom section is in this wiring book, so nothing can be drawn. Add lines such as "
        "section hinge: X14 to X22, 0.9 m"
    ) in said
    assert "Not on the loom" in said


def test_the_key_moves_the_volts(client: TestClient, job: str) -> None:
    on, off = (reads(circuit(client, job, key=key, pin=PIN)) for key in ("on", "off"))
    assert on["Healthy"] == "5.0 V"
    assert off["Healthy"] == "0 V"


def test_a_suspect_moves_the_volts_of_the_picture(client: TestClient, job: str) -> None:
    page = circuit(client, job, **QUERY)
    ways = re.findall(r'href="([^"]*as=[^"]*)"', page)
    groups = re.findall(r"<th scope=\"row\">\d (.*?)</th><td>(.*?)</td>", page)
    healthy = reads(page)["Healthy"]
    moved = next(name for name, volts in groups if volts != healthy)
    chosen = circuit(client, job, **QUERY, **{"as": moved})
    assert ways
    assert 'class="volts moved"' in chosen
    assert 'class="volts moved"' not in page
    number = [name for name, _ in groups].index(moved) + 1
    assert f"as if it were {moved} (suspect {number})" in words(chosen)


def test_volts_are_those_the_job_expects_of_the_same_defect(shop: Shop, job: str) -> None:
    """The same numbers by the other way: one probe and one defect at a time."""
    held = shop.card(job).job
    suspects = leading(held)
    situation = lived_through(layout_of(held.book, KINDS), held.state, Situation(key="on"))
    places = (PIN, "oil pressure sender.2", "engine unit.4")
    rows = [0, *(one.hypothesis for one in suspects)]
    seen = node_volts(held, situation, rows, [*places, "nowhere"])
    assert np.isnan(seen.volts[:, 3]).all()
    for column, place in enumerate(places):
        probe = Probe(kind="volts", p=place)
        (healthy,) = held.expect(probe, situation=situation)
        assert seen.volts[0, column] == pytest.approx(healthy.value, abs=1e-6)
        for number, one in enumerate(suspects, 1):
            atom = held.circuit.defects.atom_of[one.hypothesis]
            defect = held.circuit.defects.atoms[atom].id
            first = int(np.flatnonzero(held.circuit.defects.atom_of == atom)[0])
            row = held.expect(probe, defect=defect, situation=situation)[one.hypothesis - first]
            assert seen.volts[number, column] == pytest.approx(row.value, abs=1e-6)


def test_a_suspect_is_its_likeliest_fault_at_its_likeliest_severity(shop: Shop, job: str) -> None:
    held = shop.card(job).job
    for one, suspect in zip(leading(held), held.suspects, strict=True):
        assert (one.group, one.chance) == (suspect.group, suspect.chance)
        member = [
            held.circuit.defects.atoms[a].group == one.group for a in held.circuit.defects.atom_of
        ]
        best = np.where(member, held.belief.hypothesis, -1.0).argmax()
        assert one.hypothesis == best
        assert sum(chance for _, chance in one.faults) <= one.chance + 1e-9


def test_a_pin_is_read_with_its_cautions_and_steps(client: TestClient, job: str) -> None:
    said = words(circuit(client, job, **QUERY))
    assert "Lines of a control unit: no test lamp" in said
    assert "The maker's manual, local rules and licensed practice come first." in said
    assert "Key on, engine stopped." in said
    assert (
        "black lead on battery minus, red lead back-probed at oil pressure sender pin 3 (wire 5b"
        in said
    )


def test_a_reading_at_a_pin_is_noted_and_shown_in_the_picture(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = next(f for f in forms(circuit(client, job, **QUERY)) if f.action.endswith("/measured"))
    reply = client.post(form.action, data={**form.fields, "value": "4,98", "unit": "V"})
    assert "Noted: 4.98 V at oil pressure sender pin 3" in words(reply.text)
    found = shop.card(job).job.findings[-1]
    assert isinstance(found, Reading)
    assert (found.p, found.value, found.instrument) == (PIN, 4.98, "meter")
    assert found.situation == Situation(key="on")
    client.post(form.action, data={**form.fields, "value": "4,98", "unit": "V"})
    assert shop.card(job).job.findings[-1] == found
    assert "<text x=" in (page := circuit(client, job, key="on"))
    assert 'class="read">5.0 V</text>' in page
    assert 'class="read"' not in circuit(client, job, key="run")
    assert reads(circuit(client, job, **QUERY))["Read with the meter"] == "5.0 V"


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("", "The reading is missing. Type what the meter shows, for instance 4,98 or 12.3."),
        ("five", "“five” is not a reading. Type what the meter shows, for instance 4,98 or 12.3."),
        (
            "12 ohm",
            "“12 ohm” is in ohm, and this check reads V. Is the meter in the right position? Read again, or type the number alone.",
        ),
    ],
)
def test_what_is_no_reading_is_refused_beside_the_field(
    client: TestClient, shop: Shop, job: str, value: str, said: str
) -> None:
    before = len(shop.card(job).job.findings)
    fields = {"key": "on", "pin": PIN, "value": value, "unit": "V", "once": "abcdefgh1"}
    reply = client.post(f"/job/{job}/measured", data=fields)
    assert reply.status_code == 422
    assert said in words(reply.text)
    assert f'name="value" value="{value}"' in reply.text
    assert len(shop.card(job).job.findings) == before


def test_a_place_that_is_not_in_the_book_is_refused(client: TestClient, job: str) -> None:
    reply = client.post(f"/job/{job}/measured", data={"key": "on", "pin": "X99.1", "value": "5"})
    assert reply.status_code == 422
    assert "There is no such place in this book. Press a pin." in words(reply.text)
    assert 'id="pin"' not in circuit(client, job, key="on", pin="X99.1")


def test_a_splice_under_its_tape_is_looked_at_but_not_probed(
    client: TestClient, shop: Shop, job: str
) -> None:
    said = words(circuit(client, job, key="on", pin="SP:1"))
    assert "A probe does not reach this place without piercing a wire." in said
    fields = {"key": "on", "pin": "SP:1", "value": "5", "unit": "V"}
    reply = client.post(f"/job/{job}/measured", data=fields)
    assert reply.status_code == 422
    assert (
        "A probe does not reach this place without piercing a wire. Choose another key and load, "
        "or another pin."
    ) in words(reply.text)


def test_what_is_unplugged_is_drawn_dashed_and_reads_so(
    client: TestClient, shop: Shop, job: str
) -> None:
    plugged = circuit(client, job, **QUERY)
    shop.note(job, Act(act="unplugged", target="oil pressure sender"))
    page = circuit(client, job, key="on", pin="oil pressure sender.1")
    assert "dashed : unplugged or pulled" in words(page)
    assert re.search(r'class="box[^"]* off"', page)
    assert not re.search(r'class="box[^"]* off"', plugged)
    assert "oil pressure sender unplugged" in words(page)


def test_asked_for_by_the_page_itself_only_the_picture_comes(client: TestClient, job: str) -> None:
    page = client.get(f"/job/{job}/circuit", headers={"HX-Request": "true"}).text
    assert page.lstrip().startswith('<div id="picture"')
    assert "<html" not in page


@pytest.mark.parametrize("which", ["circuit", "loom"])
def test_while_the_engine_is_at_work_the_page_says_so_and_comes_back(
    client: TestClient, shop: Shop, monkeypatch: pytest.MonkeyPatch, which: str
) -> None:
    new = [replace(finding, note=f"nobody asked for the {which} yet") for finding in ARRIVAL]
    job = shop.start_job(SMALL, "new", findings=new)
    monkeypatch.setattr(views, "PATIENCE", 0.0)
    with engine():  # held by somebody else
        page = client.get(f"/job/{job}/{which}?key=run&on=S2").text
    assert "Working it out" in words(page)
    again = f"/job/{job}/{which}?key=run&amp;on=S2"
    assert f'http-equiv="refresh" content="2; url={again}"' in page


def test_words_of_a_book_are_escaped_in_the_pictures(shop: Shop, client: TestClient) -> None:
    shop.add_book("odd", shop.book_text(SMALL).replace("oil pressure sender", "oil & 'x'"))
    job = shop.start_job("odd", "x", findings=ARRIVAL)
    page = circuit(client, job, key="on")
    assert "oil &amp; &#x27;x&#x27;" in page
    assert "oil & " not in page


# ------------------------------------------------------------------ any circuit of a book


def test_a_wiring_book_says_what_a_pin_should_read(client: TestClient, shop: Shop) -> None:
    assert f'href="/book/{SMALL}/circuit"' in client.get(f"/book/{SMALL}").text
    query = {"of": "oil pressure sender", "key": "off", "pin": PIN}
    page = client.get(f"/book/{SMALL}/circuit", params=query).text
    read = reads(page)
    assert list(read) == ["Key off", "Key on", "Cranking", "Running"]
    assert (read["Key off"], read["Key on"], read["Running"]) == ("0 V", "5.0 V", "5.0 V")
    # starter current lifts the unit's ground against battery minus, and its 5 V with it
    assert read["Cranking"] == "5.1 V"
    assert "Circuit around oil pressure sender, key off" in page
    assert 'value="oil pressure sender" selected' in page
    assert "/measured" not in page


def test_the_circuit_of_a_book_is_drawn_around_any_part(client: TestClient, shop: Shop) -> None:
    for part in shop.book(SMALL).parts:
        page = client.get(f"/book/{SMALL}/circuit", params={"of": part})
        assert page.status_code == 200
        assert f"Circuit around {part}, key on" in page.text
        assert re.search(rf"parts: [^<]*\b{re.escape(part)}\b", page.text)


def test_volts_of_a_book_are_those_of_the_healthy_machine(client: TestClient, shop: Shop) -> None:
    query = {"of": "starter", "key": "crank"}
    said = words(client.get(f"/book/{SMALL}/circuit", params=query).text)
    held = Job(circuit=shop.circuit(shop.books()[SMALL]))
    probe = Probe(kind="volts", p="starter.30")
    (expected,) = held.expect(probe, situation=Situation(key="crank"))
    assert f"starter stud 30 {expected.value:.1f} V" in said


def test_the_circuit_of_a_book_nobody_has_is_not_found(client: TestClient) -> None:
    page = client.get("/book/none/circuit")
    assert page.status_code == 404
    assert "There is no wiring book “none” in this shop." in words(page.text)


def test_an_unknown_part_is_left_out(client: TestClient) -> None:
    page = client.get(f"/book/{SMALL}/circuit", params={"of": "X99", "pin": "X99.1", "key": "fly"})
    assert page.status_code == 200
    assert "X99" not in words(page.text)
    assert "Circuit around oil pressure sender, key on" in page.text


def test_a_books_circuit_does_not_wait_for_the_engine(client: TestClient, shop: Shop) -> None:
    with engine(), ThreadPoolExecutor(1) as apart:
        page = apart.submit(client.get, f"/book/{SMALL}/circuit").result(timeout=30)
    assert page.status_code == 200
    assert "What should this pin read?" in words(page.text)


def test_a_healthy_machine_alone_reads_as_it_does_among_its_suspects(shop: Shop) -> None:
    digest = shop.books()[SMALL]
    whole, alone = Job(circuit=shop.circuit(digest)), Job(circuit=shop.healthy(digest))
    nodes = [*list(whole.circuit.net.node)[:40], "no such place"]
    for key in ("off", "on", "crank", "run"):
        situation = Situation(key=key)
        expected = node_volts(whole, situation, (0,), nodes)
        found = healthy_volts(alone, situation, nodes)
        assert np.allclose(found.volts, expected.volts, rtol=0.0, atol=1e-9, equal_nan=True)
        assert list(found.steady) == list(expected.steady)
    assert np.isnan(found.volts[0, -1])


def test_what_is_not_on_the_loom_is_told_before_a_loom_nothing_points_to(
    client: TestClient, shop: Shop
) -> None:
    book = shop.book_text(SMALL)
    shop.add_book("loomed", f"{book}\nsection nose: nose to lamp bar, 0.9 m\n")
    job = shop.start_job("loomed", "x", findings=ARRIVAL)
    said = words(client.get(f"/job/{job}/loom").text)
    assert said.index("Not on the loom") < said.index("Nothing on it is suspected.")
