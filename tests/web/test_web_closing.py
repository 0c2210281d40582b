"""Closing a job, its write-up, and the list's memory of it."""

from __future__ import annotations

from starlette.testclient import TestClient

from backprobe.findings.model import Act, Closed
from backprobe.shop.history import closed_of
from backprobe.shop.workshop import Shop
from web.sheet_reader import forms, words

SENDER = "oil pressure sender"


def closing(client: TestClient, job: str) -> dict[str, str]:
    return forms(client.get(f"/job/{job}/close").text)[0].fields


def test_a_job_is_closed_and_written_up(client: TestClient, shop: Shop, job: str) -> None:
    typed = closing(client, job) | {
        "cause": "plug off",
        "done": "plugged on <b>",
        "parts": "none",
        "minutes": "35",
    }
    page = client.post(f"/job/{job}/close", data=typed)
    assert page.url.path == f"/job/{job}/write-up"
    said = words(page.text)
    for part in ("oil lamp on", "plug off", "plugged on <b>", "35 min", "100/4 oil pressure"):
        assert part in said
    assert "plugged on &lt;b&gt;" in page.text
    closed = closed_of(shop.card(job).job.findings)
    assert isinstance(closed, Closed)
    assert (closed.cause, closed.minutes, closed.left) == ("plug off", 35.0, "")
    assert "This job is closed." in words(client.get(f"/job/{job}").text)


def test_what_is_open_keeps_a_job_open_until_it_is_said_why(
    client: TestClient, shop: Shop, job: str
) -> None:
    shop.note(job, Act(act="unplugged", target=SENDER))
    typed = closing(client, job) | {"cause": "plug off", "done": "cleaned"}
    page = client.post(f"/job/{job}/close", data=typed)
    assert page.status_code == 422
    assert (
        f"Still on the put-back list: {SENDER} unplugged. The next one at the machine would not "
        "know. Say why it stays like this, or put it back first."
    ) in words(page.text)
    kept = forms(page.text)[0].fields
    assert (kept["cause"], kept["done"]) == ("plug off", "cleaned")
    assert closed_of(shop.findings(job)) is None
    again = client.post(f"/job/{job}/close", data=kept | {"left": "waits for a new plug"})
    assert again.status_code == 200
    assert f"Left as it is {SENDER} unplugged. waits for a new plug" in words(again.text)
    assert closed_of(shop.findings(job)) is not None


def test_put_back_it_closes_without_a_reason(client: TestClient, shop: Shop, job: str) -> None:
    shop.note(job, Act(act="unplugged", target=SENDER), Act(act="plugged", target=SENDER))
    assert client.post(f"/job/{job}/close", data=closing(client, job)).status_code == 200
    assert closed_of(shop.findings(job)) is not None


def test_minutes_that_are_none_are_refused(client: TestClient, shop: Shop, job: str) -> None:
    for said in ("an hour", "-5", "20000", "5 V"):
        page = client.post(f"/job/{job}/close", data=closing(client, job) | {"minutes": said})
        assert page.status_code == 422
        assert (
            f"“{said}” is no number of minutes. They go into the write-up. "
            "Type the minutes as a number, for instance 95."
        ) in words(page.text)
    assert closed_of(shop.findings(job)) is None


def test_a_form_sent_twice_closes_once(client: TestClient, shop: Shop, job: str) -> None:
    typed = closing(client, job) | {"cause": "plug off"}
    for _ in range(2):
        assert client.post(f"/job/{job}/close", data=typed).status_code == 200
    assert sum(isinstance(f, Closed) for f in shop.findings(job)) == 1


def test_closing_again_corrects_it_and_keeps_what_was_typed(
    client: TestClient, shop: Shop, job: str
) -> None:
    client.post(f"/job/{job}/close", data=closing(client, job) | {"cause": "plug of", "parts": "x"})
    again = closing(client, job)
    assert (again["cause"], again["parts"]) == ("plug of", "x")
    client.post(f"/job/{job}/close", data=again | {"cause": "plug off"})
    closed = closed_of(shop.findings(job))
    assert closed is not None
    assert (closed.cause, closed.parts) == ("plug off", "x")
    assert "Cause\n  plug off\n\nParts\n" in client.get(f"/job/{job}/write-up?as=text").text


def test_a_job_that_goes_on_is_open_again(client: TestClient, shop: Shop, job: str) -> None:
    client.post(f"/job/{job}/close", data=closing(client, job) | {"cause": "plug off"})
    form = next(f for f in forms(client.get(f"/job/{job}").text) if f.action.endswith("/say"))
    client.post(form.action, data=form.fields | {"text": "works engine cranks"})
    assert "This job is closed." not in words(client.get(f"/job/{job}").text)
    assert "Not closed yet." in words(client.get(f"/job/{job}/write-up").text)


def test_the_write_up_is_there_as_text(client: TestClient, job: str) -> None:
    text = client.get(f"/job/{job}/write-up?as=text")
    assert text.headers["content-type"].startswith("text/plain")
    assert text.text.startswith(f"Job {job}, 1970-01-01\ncompact tractor, serial 77, 12.5 h\n")
    assert "Not closed yet." in text.text
    assert client.get("/job/J-9999/write-up").status_code == 404
    assert client.get("/job/J-9999/close").status_code == 404
