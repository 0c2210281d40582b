"""An answer tried before it is noted, one that is not trusted, a check that is put off."""

from __future__ import annotations

from html import unescape
from re import findall

from starlette.testclient import TestClient

from backprobe.findings.model import DisplayRead, Reading
from backprobe.shop.workshop import Shop
from web.sheet_reader import Form, answers, forms, reading_form, word_form, words


def sheet(client: TestClient, job: str) -> str:
    return client.get(f"/job/{job}").text


def tried(client: TestClient, form: Form, **typed: str) -> str:
    page = client.post(form.action, data={**form.fields, "try": "reading", **typed})
    assert page.status_code == 200, words(page.text)
    return page.text


def test_a_tried_reading_shows_what_it_would_change_and_notes_nothing(
    client: TestClient, shop: Shop, job: str
) -> None:
    page = tried(client, reading_form(sheet(client, job)), value="1,5")
    said = words(page)
    assert "What if: " in said
    assert "Nothing was noted." in said
    assert "What that would change" in said
    assert "Then check:" in said
    assert len(shop.card(job).job.findings) == 2


def test_what_was_tried_comes_true_when_it_is_noted(
    client: TestClient, shop: Shop, job: str
) -> None:
    page = tried(client, reading_form(sheet(client, job)), value="1,5")
    then = rows(page)
    again = next(form for form in answers(page) if form.fields.get("value") == "1,5")
    now = client.post(again.action, data=again.fields).text
    assert rows(now) == then
    assert "Noted: " in words(now)
    last = shop.card(job).job.findings[-1]
    assert isinstance(last, DisplayRead | Reading)
    assert last.value == 1.5


def rows(page: str) -> list[str]:
    """The chances of the first table, before and after."""
    table = page.split("<tbody>")[1].split("</tbody>", maxsplit=1)[0]
    return [unescape(cell) for cell in findall(r"<t[hd][^>]*>(?:<b>)?([^<]+)", table)]


def test_a_word_answer_can_be_tried_from_what_it_would_tell(
    client: TestClient, shop: Shop, job: str
) -> None:
    page = sheet(client, job)
    form = word_form(page)
    (word, *_) = findall(r'name="try" value="([^"]+)" aria-label', page)
    said = words(tried(client, form, **{"try": word}))
    assert "What if: " in said
    assert "Nothing was noted." in said
    assert len(shop.card(job).job.findings) == 2


def test_a_tried_reading_that_cannot_be_used_is_refused_as_any_other(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = reading_form(sheet(client, job))
    page = client.post(form.action, data={**form.fields, "try": "reading", "value": "12x"})
    assert page.status_code == 422
    assert "“12x” is not a reading." in words(page.text)
    assert len(shop.card(job).job.findings) == 2


def test_a_reading_that_is_not_trusted_is_kept_and_moves_nothing(
    client: TestClient, shop: Shop, job: str
) -> None:
    form = reading_form(sheet(client, job))
    before = shop.card(job).job
    said = words(client.post(form.action, data={**form.fields, "value": "1,5", "doubt": "on"}).text)
    after = shop.card(job).job
    assert not after.findings[-1].trusted
    assert "not trusted, not weighed" in said
    assert [(s.group, s.chance) for s in after.suspects] == [
        (s.group, s.chance) for s in before.suspects
    ]


def test_a_check_not_wanted_now_goes_behind_the_others_and_nothing_is_noted(
    client: TestClient, shop: Shop, job: str
) -> None:
    page = sheet(client, job)
    first, second = (form.fields["check"] for form in answers(page)[:2])
    (later,) = findall(r'href="([^"]*later=[^"]*)"', page.split("Or instead")[0])
    behind = client.get(unescape(later)).text
    asked = [form.fields["check"] for form in answers(behind)]
    assert asked[0] == second
    assert asked[-1] == first
    assert len(shop.card(job).job.findings) == 2
    # an answer to what is now first is taken as any other
    assert forms(behind)
