"""The sheet after a repair: not proven yet, then proven."""

from __future__ import annotations

import re

from starlette.testclient import TestClient

from backprobe.findings.model import Act, Failing
from backprobe.shop.workshop import Shop
from web.sheet_reader import answers, forms, words

LISTED = r'class="figure">([^<]+)</span>\s*<span class="what">([^<]+)<'


def gone_now(client: TestClient, page: str) -> str:
    gone = next(form for form in forms(page) if form.action.endswith("/failing"))
    return client.post(gone.action, data={**gone.fields, "answer": "gone"}).text


def test_a_repair_on_a_mere_suspicion_is_not_proven_by_gone_now(
    client: TestClient, shop: Shop, job: str
) -> None:
    first = shop.card(job).job.suspects[0]
    assert first.chance < 0.5
    shop.note(job, Act(visit=2, act="repaired", target=first.group))
    page = gone_now(client, client.get(f"/job/{job}").text)
    said = words(page)
    verdict = shop.card(job).job.verdict
    assert verdict.state == "mended"
    assert verdict.proof is not None
    assert f"Mended, not proven: {verdict.proof.words} A fault may still be there" in said
    assert f"Prove the repair of {first.words}: does it stay away?" in said
    assert re.search(r'id="could-title">\s*Could still be\s*<', page)
    figures = {name: figure for figure, name in re.findall(LISTED, page)}
    assert figures[first.words] == "&lt;\xa01\xa0%", "the mended one does not lead"
    assert next(iter(figures)) != first.words


def test_a_repair_that_holds_ends_the_job_on_the_sheet(
    client: TestClient, shop: Shop, job: str
) -> None:
    first = shop.card(job).job.suspects[0]
    shop.note(
        job, Act(visit=2, act="repaired", target=first.group), Failing(visit=2, answer="gone")
    )
    asked = answers(client.get(f"/job/{job}").text)[0]
    assert asked.buttons == ("stays away", "shows again", "cannot")
    page = client.post(asked.action, data={**asked.fields, "word": "stays away"}).text
    said = words(page)
    proof = shop.card(job).job.verdict.proof
    assert proof is not None
    assert proof.holds
    assert said.count("The repair holds.") == 2, "in the news, and where it is said why"
    assert said.count(proof.words) == 1
    assert "That changed little." not in said
    assert f"Mended and proven: {first.words}. The repair holds." in said
    assert "Put everything back, clear the codes, write it up" in said
    assert not answers(page), "no check is asked for any more"
    assert re.search(r'id="could-title">\s*It was\s*<', page)
    assert re.search(r"Perhaps there is still another fault \(\d+ %\)", said)
    assert [name for _, name in re.findall(LISTED, page)] == [first.words]
