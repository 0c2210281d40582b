"""Forms that come in twice at the same moment, and one that never comes in whole."""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

import pytest
from starlette.testclient import TestClient
from starlette.types import Message

from backprobe.shop.demo import JOBS
from backprobe.shop.workshop import Shop
from backprobe.web.app import make_app
from web.conftest import SMALL

Post = tuple[str, dict[str, str]]


def slowly(monkeypatch: pytest.MonkeyPatch, shop: Shop, does: str) -> None:
    """Something the shop does takes a while: long enough for a second tap."""
    real: Callable[..., object] = getattr(shop, does)

    def slow(*given: object, **named: object) -> object:
        time.sleep(0.3)
        return real(*given, **named)

    monkeypatch.setattr(shop, does, slow)


def at_once(client: TestClient, posts: Sequence[Post]) -> list[tuple[int, str]]:
    """Status and address of forms sent at the same moment."""

    def send(post: Post) -> tuple[int, str]:
        said = client.post(post[0], data=post[1], follow_redirects=False)
        return said.status_code, said.headers.get("location", "")

    with ThreadPoolExecutor(len(posts)) as pool:
        return list(pool.map(send, posts))


def test_a_double_tap_starts_one_job(
    client: TestClient, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    slowly(monkeypatch, shop, "start_job")
    found = re.search(r'name="once" value="([^"]+)"', client.get(f"/start/{SMALL}").text)
    assert found
    post = (f"/start/{SMALL}", {"once": found[1], "complaint": "oil lamp on"})
    assert at_once(client, [post, post]) == 2 * [(303, "/job/J-0001")]
    assert len(shop.jobs()) == 1


def test_a_double_tap_starts_one_demo_job(
    client: TestClient, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    slowly(monkeypatch, shop, "start_job")
    first, second = JOBS[:2]
    found = re.search(rf'/demo/{first.name}"><input[^>]*value="([^"]+)"', client.get("/").text)
    assert found
    post = (f"/demo/{first.name}", {"once": found[1]})
    assert len(set(at_once(client, [post, post]))) == len(shop.jobs()) == 1
    client.post(f"/demo/{second.name}", data={"once": found[1]}, follow_redirects=False)
    assert [row.complaint for row in shop.jobs()] == [first.complaint, second.complaint]


def test_two_answers_at_the_same_moment_count_once(
    client: TestClient, shop: Shop, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    slowly(monkeypatch, shop, "note")
    before = len(shop.findings(job))
    posts = [
        (f"/job/{job}/failing", {"once": "a-mark-of-it", "answer": answer})
        for answer in ("yes", "gone")
    ]
    said = at_once(client, posts)
    assert sorted(status for status, _ in said) == [303, 422]
    assert len(shop.findings(job)) == before + 1


def test_the_same_answer_at_the_same_moment_counts_once(
    client: TestClient, shop: Shop, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    slowly(monkeypatch, shop, "note")
    before = len(shop.findings(job))
    post = (f"/job/{job}/failing", {"once": "a-mark-of-it", "answer": "yes"})
    assert at_once(client, [post, post]) == 2 * [(303, f"/job/{job}?since={before}")]
    assert len(shop.findings(job)) == before + 1


def test_a_phone_that_walks_out_of_reach_while_it_sends_is_no_fault(shop: Shop, job: str) -> None:
    headers = {"host": "127.0.0.1", "content-type": "application/x-www-form-urlencoded"}
    scope = {
        "type": "http", "http_version": "1.1", "scheme": "http", "method": "POST",
        "path": f"/job/{job}/say", "query_string": b"", "server": ("127.0.0.1", 80),
        "headers": [(k.encode(), v.encode()) for k, v in headers.items()],
    }  # fmt: skip
    coming: Iterator[Message] = iter(
        [
            {"type": "http.request", "body": b"text=vol", "more_body": True},
            {"type": "http.disconnect"},
        ]
    )
    sent: list[Message] = []

    async def receive() -> Message:
        return next(coming)

    async def send(message: Message) -> None:
        sent.append(message)

    asyncio.run(make_app(shop)(scope, receive, send))
    assert sent[0]["status"] == 400
    assert len(shop.findings(job)) == 2
