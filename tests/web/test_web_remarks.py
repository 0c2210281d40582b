"""The sheet answers a reading that cannot tell with the one that can."""

from __future__ import annotations

from starlette.testclient import TestClient

from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.workshop import Shop
from web.sheet_reader import forms, words


def test_the_news_names_the_loaded_reading(client: TestClient, shop: Shop) -> None:
    shop.add_book("tracked-dumper", book_text("tracked-dumper"))
    job = shop.start_job("tracked-dumper", "no crank", findings=JOBS[1].arrival)
    say = next(
        form for form in forms(client.get(f"/job/{job}").text) if form.action.endswith("/say")
    )
    page = client.post(say.action, data={**say.fields, "text": "volts engine 0.0, key off"}).text
    said = words(page)
    assert "It cannot tell: " in said
    # with the key on the glow plugs load the engine strap, as the starter does
    loaded = ("cranking", "key on, engine stopped")
    reading = "Read it under load: volts at bare metal of the engine"
    assert any(f"{reading}, {how}." in said for how in loaded)
