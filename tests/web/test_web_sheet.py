"""The sheet of a job over plain HTTP, as a browser without scripts sees it."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from backprobe.findings.model import Act, Bet, Failing, NotPossible, Reading, Withdrawn
from backprobe.shop.workshop import Shop, StoreError
from backprobe.web import desk, views
from backprobe.web.desk import Desk
from backprobe.web.render import coded
from web.sheet_reader import Form, answers, every_form, forms, reading_form, word_form, words


def send(client: TestClient, form: Form, **typed: str):
    return client.post(form.action, data={**form.fields, **typed})


def findings(shop: Shop, job: str):
    return shop.card(job).job.findings


# ------------------------------------------------------------------ reading the sheet


def test_the_sheet_says_what_it_could_be_what_to_do_and_what_was_found(
    client: TestClient, job: str
) -> None:
    page = client.get(f"/job/{job}")
    said = words(page.text)
    assert page.status_code == 200
    for part in ("Check next", "Could be", "Found so far", "oil lamp on", "serial 77, 12.5 h"):
        assert part in said
    assert "100/4 oil pressure, voltage low" in said
    assert "Cannot do it here" in said
    assert "What it would tell you" in said
    assert re.search(r"\d+ min, 1 person", said)


def test_the_chances_on_the_sheet_are_those_of_the_job(
    client: TestClient, shop: Shop, job: str
) -> None:
    suspects = shop.card(job).job.suspects
    page = client.get(f"/job/{job}").text
    shown = re.findall(r'class="figure">([^<]+)</span>\s*<span class="what">([^<]+)<', page)
    assert [name for _, name in shown] == [s.words for s in suspects]
    for (figure, _), suspect in zip(shown, suspects):
        if suspect.chance >= 0.01:
            assert figure == f"{100 * suspect.chance:.0f}\xa0%"


def test_what_a_person_typed_is_never_markup(client: TestClient, shop: Shop) -> None:
    job = shop.start_job("unplugged-sensor", "<script>alert(1)</script> & 'so'", serial='"><i>')
    page = client.get(f"/job/{job}").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#39;so&#39;" in page
    assert '"><i>' not in page


def test_while_the_engine_works_the_sheet_is_there_and_fetches_the_rest(
    client: TestClient, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = shop.start_job("unplugged-sensor", "slow")
    with monkeypatch.context() as slow:
        slow.setattr(Desk, "known", lambda _self, _job: None)
        page = client.get(f"/job/{job}").text
    assert "Working it out ..." in words(page)
    assert f'hx-get="/job/{job}?wait=1" hx-trigger="load"' in page
    assert f'content="0; url=/job/{job}?wait=1"' in page
    assert "Working it out ... The first" not in words(client.get(f"/job/{job}?wait=1").text)


def test_a_browser_that_swaps_gets_the_sheet_alone(client: TestClient, job: str) -> None:
    part = client.get(f"/job/{job}", headers={"HX-Request": "true"})
    whole = client.get(f"/job/{job}")
    assert part.text.lstrip().startswith('<div id="sheet"')
    assert "<html" in whole.text
    assert part.headers["vary"] == whole.headers["vary"] == "HX-Request"


# ------------------------------------------------------------------ answering a check


def test_a_reading_with_a_comma_is_noted_and_says_what_it_changed(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = reading_form(client.get(f"/job/{job}").text)
    page = send(client, form, value="3,7")
    last = findings(shop, job)[-1]
    assert isinstance(last, Reading)
    assert last.value == 3.7
    assert page.url.path == f"/job/{job}"
    assert page.history[0].status_code == 303
    said = words(page.text)
    assert "Noted: 3.7 V at oil pressure sender pin 3" in said
    assert "What that changed" in said
    assert re.search(r"oil pressure sender \d+ % \d+ %", said)


def test_a_button_answers_a_check(client: TestClient, shop: Shop, job: str) -> None:
    form = word_form(client.get(f"/job/{job}").text)
    before = len(findings(shop, job))
    page = send(client, form, word=form.buttons[0])
    assert page.status_code == 200
    assert len(findings(shop, job)) > before


def test_what_is_no_reading_is_refused_and_kept_in_the_form(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = reading_form(client.get(f"/job/{job}").text)
    page = send(client, form, value="1x2", to="7")
    assert page.status_code == 422
    assert page.headers["hx-replace-url"] == "false"
    said = words(page.text)
    assert "“1x2” is not a reading. Type what the meter shows, for instance 4,98 or 12.3." in said
    again = reading_form(page.text)
    assert (again.fields["value"], again.fields["to"]) == ("1x2", "7")
    assert len(findings(shop, job)) == 2


def test_a_word_that_is_no_answer_is_refused(client: TestClient, shop: Shop, job: str) -> None:
    form = word_form(client.get(f"/job/{job}").text)
    page = send(client, form, word="perhaps")
    assert page.status_code == 422
    assert "No answer was chosen. Press one of the buttons." in words(page.text)
    assert len(findings(shop, job)) == 2


def test_a_form_sent_twice_counts_once(client: TestClient, shop: Shop, job: str) -> None:
    form = reading_form(client.get(f"/job/{job}").text)
    shop._clock = iter(range(1000, 9000, 7)).__next__
    first = send(client, form, value="3,2")
    second = send(client, form, value="3,2")
    assert first.status_code == second.status_code == 200
    assert str(first.url) == str(second.url)
    assert len(findings(shop, job)) == 3


def test_a_form_sent_twice_with_another_answer_is_refused(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = reading_form(client.get(f"/job/{job}").text)
    send(client, form, value="3,2")
    page = send(client, form, value="301")
    assert page.status_code == 422
    assert (
        "That form was already sent, with another answer. A form counts once, so that a double "
        "tap does no harm. Take the first answer back below, then answer again."
    ) in words(page.text)
    assert len(findings(shop, job)) == 3


def test_an_answer_to_a_sheet_that_is_no_more_says_so(client: TestClient, job: str) -> None:
    form = reading_form(client.get(f"/job/{job}").text)
    for wrong in ({"check": "volts nowhere"}, {"at": "99"}, {"at": "x"}):
        page = send(client, form, value="3,2", **wrong)
        assert page.status_code == 422
        assert (
            "That check is not on this sheet any more. The findings changed since the page was "
            "made. Look at the new proposal, or enter the finding in the line below."
        ) in words(page.text)


def test_an_answer_is_taken_although_another_finding_came_in_between(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = reading_form(client.get(f"/job/{job}").text)
    shop.note(job, Failing(answer="gone", visit=2))
    assert send(client, form, value="3,2").status_code == 200
    assert isinstance(findings(shop, job)[-1], Reading)


def test_a_check_that_cannot_be_done_is_noted_and_not_proposed_again(
    client: TestClient, shop: Shop, job: str
) -> None:
    first = answers(client.get(f"/job/{job}").text)[0]
    assert "cannot" in first.buttons
    page = send(client, first, word="cannot").text
    assert "Noted: Cannot be done here: " in words(page)
    assert first.fields["check"] not in [form.fields["check"] for form in answers(page)]
    last = findings(shop, job)[-1]
    assert isinstance(last, NotPossible)
    assert last.check == first.fields["check"]
    back = next(f for f in forms(page) if f.action.endswith("/back"))
    page = send(client, back).text
    assert first.fields["check"] == answers(page)[0].fields["check"]


def test_where_one_code_is_asked_for_the_whole_list_can_be_given(
    client: TestClient, shop: Shop, job: str
) -> None:
    page = client.get(f"/job/{job}").text
    form = next(form for form in answers(page) if form.buttons == ("list",))
    page = send(client, form, word="list", codes="94/4", code="100/4").text
    last = findings(shop, job)[-1]
    assert (last.active, last.complete) == (("100/4", "94/4"), True)
    assert "Noted: engine unit: 2 codes" in words(page)


# ------------------------------------------------------------------ other findings


def test_gone_after_failing_opens_a_visit(client: TestClient, shop: Shop, job: str) -> None:
    form = next(f for f in forms(client.get(f"/job/{job}").text) if "gone" in f.buttons)
    page = send(client, form, answer="gone")
    last = findings(shop, job)[-1]
    assert (last.answer, last.visit) == ("gone", 2)
    said = words(page.text)
    assert "Noted: Not failing right now" in said
    assert "Visit 2" in said


def test_failing_only_when_keeps_its_condition(client: TestClient, shop: Shop, job: str) -> None:
    page = client.get(f"/job/{job}").text
    form = next(f for f in forms(page) if f.fields.get("answer") == "only when")
    send(client, form, condition="wet")
    last = findings(shop, job)[-1]
    assert (last.answer, last.condition, last.visit) == ("only when", "wet", 1)


def test_a_finding_is_taken_back_and_put_back(client: TestClient, shop: Shop, job: str) -> None:
    form = reading_form(client.get(f"/job/{job}").text)
    page = send(client, form, value="3,2")
    back = next(f for f in forms(page.text) if f.fields.get("finding") == "f3")
    page = send(client, back)
    last = findings(shop, job)[-1]
    assert isinstance(last, Withdrawn)
    assert (last.id, last.finding) == ("f4", "f3")
    said = words(page.text)
    assert "Taken back: 3.2 V at oil pressure sender pin 3" in said
    assert "Taken back (1)" in said
    again = next(f for f in forms(page.text) if "f4" in f.buttons)
    page = send(client, again, finding="f4")
    assert "Taken back (1)" not in words(page.text)
    assert shop.card(job).job.state.findings[-1].id == "f3"


def test_taking_back_what_is_not_there_is_refused(client: TestClient, job: str) -> None:
    for wrong in ("f9", "", "<b>"):
        page = client.post(f"/job/{job}/back", data={"finding": wrong, "once": "abcdefgh"})
        assert page.status_code == 422
        assert "There is no such finding on this job. Look below." in words(page.text)


def test_a_line_in_plain_words_is_noted(client: TestClient, shop: Shop, job: str) -> None:
    form = next(f for f in forms(client.get(f"/job/{job}").text) if f.action.endswith("/say"))
    page = send(client, form, text="dead engine cranks")
    assert "Noted: engine cranks: does not work" in words(page.text)
    assert len(findings(shop, job)) == 3


def test_a_line_that_cannot_be_read_is_refused_with_the_reason_and_kept(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = next(f for f in forms(client.get(f"/job/{job}").text) if f.action.endswith("/say"))
    page = send(client, form, text="works the <ghost>")
    assert page.status_code == 422
    assert "The book has no function or part 'the <ghost>'." in words(page.text)
    again = next(f for f in forms(page.text) if f.action.endswith("/say"))
    assert again.fields["text"] == "works the <ghost>"
    assert len(findings(shop, job)) == 2


def test_what_is_unplugged_stands_on_the_put_back_list_until_one_press(
    client: TestClient, shop: Shop, job: str
) -> None:
    plug = "oil pressure sender"
    form = next(f for f in forms(client.get(f"/job/{job}").text) if f.action.endswith("/say"))
    page = send(client, form, text=f"unplugged {plug}")
    assert f"Put-back list {plug} unplugged It is back" in words(page.text)
    back = next(f for f in forms(page.text) if f.fields.get("thing") == f"{plug} unplugged")
    assert "Put-back list" not in words(send(client, back).text)


# ------------------------------------------------------------------ when things break


def test_a_fault_in_the_engine_leaves_the_findings_within_reach(
    client: TestClient, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: object) -> None:
        raise ArithmeticError("no way <out>")

    monkeypatch.setattr(desk, "_outlook", broken)
    page = client.get(f"/job/{job}")
    assert page.status_code == 500
    said = words(page.text)
    assert "This could not be worked out: a fault in Backprobe itself." in said
    assert "ArithmeticError: no way <out>" in said
    back = next(form for form in forms(page.text) if form.action.endswith("/back"))
    assert len(back.buttons) == 2


def test_a_store_that_refuses_is_told_with_the_way_out(
    client: TestClient, shop: Shop, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = reading_form(client.get(f"/job/{job}").text)

    def full(*_: object, **__: object) -> None:
        raise StoreError("store-disk-full", "the disk is full", "nothing was kept", "free some")

    monkeypatch.setattr(shop, "note", full)
    page = send(client, form, value="3,2")
    assert page.status_code == 503
    assert "the disk is full: nothing was kept. Do this: free some." in words(page.text)


def test_a_job_that_is_not_there_is_a_page_that_says_so(client: TestClient) -> None:
    for path in ("/job/J-9999", "/job/nonsense"):
        page = client.get(path)
        assert page.status_code == 404
        assert f"There is no job “{path.removeprefix('/job/')}” in this shop." in words(page.text)


def test_a_form_address_asked_for_without_a_form_leads_to_the_sheet(
    client: TestClient, job: str
) -> None:
    page = client.get(f"/job/{job}/answer")
    assert page.url.path == f"/job/{job}"


def test_the_put_back_list_does_not_wait_for_the_engine(
    client: TestClient, shop: Shop, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(views, "PATIENCE", 0.0)
    shop.note(job, Act(act="unplugged", target="oil pressure sender", note="nobody asked for this"))
    page = client.get(f"/job/{job}")
    assert "Working it out" in words(page.text)
    assert "Not worked out yet." in words(page.text)
    assert "Put-back list oil pressure sender unplugged It is back" in words(page.text)


def test_the_circuit_around_the_leading_suspect_comes_into_the_sheet(
    client: TestClient, job: str
) -> None:
    page = client.get(f"/job/{job}").text
    assert f'hx-get="/job/{job}/around"' in page
    assert f'<a class="button plain" href="/job/{job}/circuit">Show it</a>' in page
    part = client.get(f"/job/{job}/around")
    assert part.status_code == 200
    assert "<html" not in part.text
    assert part.text.count("<svg") == 1
    said = words(part.text)
    assert re.match(r"(Key on, engine stopped|Engine running): volts of a healthy machine\.", said)
    assert "The same as a table" in said


def test_my_bet_is_noted_shown_as_a_reason_and_taken_back(
    client: TestClient, shop: Shop, job: str
) -> None:
    page = client.get(f"/job/{job}").text
    last = [f for f in every_form(page) if f.action == f"/job/{job}/bet"][-1]
    group = shop.card(job).job.suspects[-1].group
    before = shop.card(job).job.suspects
    after = client.post(last.action, data={**last.fields, "group": group})
    bet = findings(shop, job)[-1]
    assert bet == Bet(id=bet.id, at_s=bet.at_s, situation=bet.situation, target=group)
    assert f"My bet: {group}" in words(after.text)
    assert f"Your own bet on {group}, counted as 3 to 1" in words(after.text)
    back = next(f for f in every_form(after.text) if f.fields.get("finding") == bet.id)
    client.post(back.action, data=back.fields)
    assert shop.card(job).job.suspects == before
    fresh = next(f for f in every_form(client.get(f"/job/{job}").text) if f.action == last.action)
    none = client.post(last.action, data={**fresh.fields, "group": "the moon"})
    assert none.status_code == 422
    assert "There is no such suspect in this book." in words(none.text)


def test_what_is_typed_as_it_stands_is_set_apart_and_escaped() -> None:
    assert coded("`blown`: <it> was; `held`") == (
        "<code>blown</code>: &lt;it&gt; was; <code>held</code>"
    )
    assert coded("`<b>`") == "<code>&lt;b&gt;</code>"
