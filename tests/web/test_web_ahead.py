"""While the start form is filled in, the machine is worked out; nobody waits behind that."""

from __future__ import annotations

from collections.abc import Iterator
from threading import Event

import pytest
from starlette.testclient import TestClient

from backprobe.shop.workshop import Shop
from backprobe.web import desk as desks
from backprobe.web.desk import Desk
from web.conftest import SMALL


@pytest.fixture
def desk() -> Iterator[Desk]:
    opened = Desk()
    yield opened
    opened.close()


def test_an_outlook_comes_between_the_steps(
    desk: Desk, shop: Shop, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = Event(), Event()
    steps: list[int] = []

    def slowly(_: object) -> Iterator[None]:
        for number in range(3):
            steps.append(number)
            begun.set()
            assert go_on.wait(60.0)
            yield

    monkeypatch.setattr(desks, "worked_ahead", slowly)
    desk.begin(shop, SMALL)
    assert begun.wait(60.0)
    asked = desk.ask(shop.card(job).job)
    done = len(steps)
    go_on.set()
    asked.result(timeout=120.0)
    assert done == 1
    assert desk._worker.submit(lambda: len(steps)).result(timeout=60.0) >= 2


def test_a_book_is_worked_ahead_once(
    desk: Desk, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[object] = []
    monkeypatch.setattr(desks, "worked_ahead", lambda of: iter(begun.append(of) or ()))
    desk.begin(shop, SMALL)
    desk.begin(shop, SMALL)
    assert len(begun) == 1


def test_a_closed_desk_works_no_further(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    closed = Desk()
    closed.close()
    monkeypatch.setattr(desks, "worked_ahead", lambda _: iter(()))
    closed.begin(shop, SMALL)


def test_the_start_form_begins_it(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[str] = []
    monkeypatch.setattr(Desk, "begin", lambda _desk, _shop, book: begun.append(book))
    assert client.get(f"/start/{SMALL}").status_code == 200
    assert begun == [SMALL]
