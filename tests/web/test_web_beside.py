"""Entries that come in late or twice count once; what others noted; checks that travel."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from backprobe.findings.model import Failing
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from backprobe.web.app import make_app
from backprobe.web.sharing import Sharing
from web.conftest import ARRIVAL, HERE, SMALL
from web.sheet_reader import answers, reading_form, words

TWICE = (
    "That form was already sent, with another answer. A form counts once, so that a double tap "
    "does no harm. Take the first answer back below, then answer again."
)
MARK = "a-mark-of-this-phone"


class Clock:
    """A clock that is moved by hand."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


def noted(shop: Shop, job: str) -> int:
    return len(shop.card(job).job.findings)


def test_a_form_sent_again_counts_once_though_it_opened_a_new_visit(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = {"once": MARK, "answer": "gone"}
    first = client.post(f"/job/{job}/failing", data=form, follow_redirects=False)
    count = noted(shop, job)
    again = client.post(f"/job/{job}/failing", data=form, follow_redirects=False)
    later = client.post(f"/job/{job}/failing", data={**form, "ago": "90"}, follow_redirects=False)
    assert first.headers["location"] == again.headers["location"] == f"/job/{job}?since=2"
    assert later.headers["location"] == first.headers["location"]
    assert noted(shop, job) == count == 3


def test_what_was_kept_for_a_job_of_another_shop_is_not_noted_on_this_one(
    client: TestClient, shop: Shop, job: str
) -> None:
    """A shop begun anew counts its jobs from the first; this one began at 1000 s."""
    form = {"once": MARK, "text": "looked X1: nothing", "answer": "gone", "ago": "90"}
    for where in ("failing", "say", "answer", "back", "approved", "put-back", "measured"):
        page = client.post(f"/job/{job}/{where}", data={**form, "began": "17"})
        assert page.status_code == 422, where
        assert "That was entered for another job that had this number." in words(page.text)
    assert noted(shop, job) == 2
    taken = client.post(
        f"/job/{job}/failing", data={**form, "began": "1000"}, follow_redirects=False
    )
    again = client.post(f"/job/{job}/failing", data=form, follow_redirects=False)
    assert (taken.status_code, again.status_code, noted(shop, job)) == (303, 303, 3)


def test_a_line_that_would_be_refused_the_second_time_is_known_by_its_mark(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = {"once": MARK, "finding": "f2"}
    client.post(f"/job/{job}/back", data=form)
    assert noted(shop, job) == 3
    again = client.post(f"/job/{job}/back", data=form)
    assert again.status_code == 200
    assert noted(shop, job) == 3
    assert all(not isinstance(f, Failing) for f in shop.card(job).job.state.findings)


def test_one_mark_for_two_answers_is_refused(client: TestClient, shop: Shop, job: str) -> None:
    client.post(f"/job/{job}/failing", data={"once": MARK, "answer": "gone"})
    page = client.post(f"/job/{job}/failing", data={"once": MARK, "answer": "yes"})
    assert page.status_code == 422
    assert TWICE in words(page.text)
    assert noted(shop, job) == 3


def test_an_answer_sent_again_goes_to_where_it_was_noted(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = reading_form(client.get(f"/job/{job}").text)
    fields = {**form.fields, "value": "4,9"}
    first = client.post(form.action, data=fields, follow_redirects=False)
    count = noted(shop, job)
    client.post(f"/job/{job}/say", data={"text": "works engine cranks", "once": "another-mark"})
    again = client.post(form.action, data=fields, follow_redirects=False)
    assert again.headers["location"] == first.headers["location"] == f"/job/{job}?since=2"
    assert noted(shop, job) == count + 1


def test_what_was_kept_is_noted_at_the_time_it_was_entered(tmp_path) -> None:
    clock = Clock()
    shop = Shop.open(tmp_path / "s.backprobe", clock=clock)
    shop.add_book(SMALL, book_text(SMALL))
    job = shop.start_job(SMALL, "x", findings=ARRIVAL)
    clock.now += 3600.0
    with TestClient(make_app(shop), base_url=HERE) as client:
        for ago, answer in (("600", "gone"), ("99999", "yes"), ("junk", "gone"), ("-5", "yes")):
            client.post(
                f"/job/{job}/failing",
                data={"once": f"mark-of-{ago}-s", "ago": ago, "answer": answer},
                follow_redirects=False,
            )
    times = [one.at_s for one in shop.card(job).job.findings[2:]]
    assert times == [3000.0, 0.0, 3600.0, 3600.0]
    shop.close()


def test_others_are_told_what_was_noted_by_whom_and_when(shop: Shop, job: str) -> None:
    sharing = Sharing("192.168.1.20:8787")
    app = make_app(shop, sharing=sharing)
    with TestClient(app, base_url=HERE) as laptop:
        phone = TestClient(app, base_url="http://192.168.1.20:8787")
        code = sharing.code
        assert code is not None
        phone.post("/pair", data={"code": code.word, "name": "Ulla"})
        assert phone.get(f"/job/{job}/since?at=2").json() == {"at": 2, "new": [], "more": 0}
        phone.post(f"/job/{job}/failing", data={"answer": "gone"}, follow_redirects=False)
        laptop.post(f"/job/{job}/back", data={"finding": "f3"}, follow_redirects=False)
        shop.note(job, Failing(answer="yes"))
        told = laptop.get(f"/job/{job}/since?at=2").json()
        assert told["at"] == 5
        assert told["new"] == [
            {"words": "Not failing right now", "who": "Ulla", "when": 1000.0},
            {"words": "Taken back: Not failing right now", "who": "the laptop", "when": 1000.0},
            {"words": "Failing right now", "who": "", "when": 1000.0},
        ]
        assert laptop.get(f"/job/{job}/since").status_code == 400
        assert laptop.get("/job/J-0099/since?at=2").status_code == 404


def test_a_check_that_travelled_is_answered_as_what_it_is(
    client: TestClient, shop: Shop, job: str
) -> None:
    ahead = client.get(f"/job/{job}/ahead?at=2&nth=0").json()
    proposed = shop.card(job).job.next_checks
    assert ahead["check"] == proposed[0].check.id
    assert len(ahead["outcomes"]) == len(proposed[0].outcomes)
    bodies = [
        "".join(ahead["pieces"][number] for number in numbers(body["pieces"]))
        for body in ahead["bodies"]
    ]
    for mark, place in ((mark, k) for k, mark in reversed([*enumerate(ahead["marks"])])):
        bodies = [
            html.replace(mark, body["own"][place])
            for html, body in zip(bodies, ahead["bodies"], strict=True)
        ]
    assert all(1 <= len(one["next"]) <= 3 for one in ahead["outcomes"])
    assert all("<ol" in body and 'name="try"' not in body for body in bodies)
    last = len(ahead["outcomes"]) - 1
    for body in (bodies[number] for number in ahead["outcomes"][last]["next"]):
        form = next((one for one in answers(body) if "value" not in one.fields), None)
        if form is None or not any(form.buttons):
            continue
        fields = {
            **form.fields, "after": ahead["check"], "outcome": str(last),
            "word": form.buttons[0], "once": MARK,
        }  # fmt: skip
        page = client.post(form.action, data=fields, follow_redirects=False)
        assert page.status_code == 303
        assert noted(shop, job) > 2
        break
    else:
        pytest.fail("no check among those that travel is answered with a word")


def numbers(runs: str) -> list[int]:
    """ "0-2,7" as 0, 1, 2, 7."""
    ends = [[int(one) for one in run.split("-")] for run in runs.split(",")]
    return [number for run in ends for number in range(run[0], run[-1] + 1)]


@pytest.mark.parametrize(
    "fields",
    [
        {"after": "no such check", "outcome": "0"},
        {"outcome": "99"},
        {"outcome": "x"},
        {"outcome": ""},
        {"at": "7"},
    ],
)
def test_a_check_that_never_travelled_is_not_answered(
    client: TestClient, shop: Shop, job: str, fields: dict[str, str]
) -> None:
    first = shop.card(job).job.next_checks[0].check.id
    sent = {
        "at": "2",
        "after": first,
        "outcome": "0",
        "check": "made up",
        "word": "works",
        **fields,
    }
    page = client.post(f"/job/{job}/answer", data=sent)
    assert page.status_code == 422
    assert "That check is not on this sheet any more." in words(page.text)
    assert noted(shop, job) == 2


def test_beyond_the_checks_of_a_sheet_nothing_travels(client: TestClient, job: str) -> None:
    for query in ("at=2&nth=9", "at=99&nth=0", "at=x&nth=0", ""):
        assert client.get(f"/job/{job}/ahead?{query}").status_code == 204
