"""What an answer costs on the job sheet: processor time until what it changed is known, of the plan
after it, and of all the rest.

`PYTHONPATH=tests python benchmarks/sheet.py`: the washed dumper of the demo shop, its first checks
answered over HTTP as a phone does it (form, redirect, new sheet). Processor time of this process,
so that other programs do not count; the test client's own share is in it.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import process_time, thread_time

from starlette.testclient import TestClient

from backprobe.shop.demo_shop import fill
from backprobe.shop.job import Job
from backprobe.shop.workshop import Shop
from backprobe.web import desk, views
from backprobe.web.app import make_app
from web.sheet_reader import answers

STEPS = 6
REPEATS = 5
PHONE = {"hx-request": "true"}


def main() -> None:
    """Answer, and print a line for each answer and the medians."""
    weighed, planned = _timed("_verdict"), _timed("_outlook")
    views.PATIENCE = views.LONG_PATIENCE = 600.0
    rows: list[tuple[float, ...]] = []
    with TemporaryDirectory() as folder:
        shop = Shop.open(Path(folder) / "demo.backprobe")
        fill(shop)
        with TestClient(make_app(shop), base_url="http://127.0.0.1:8787") as client:
            client.headers.update(PHONE)
            page = client.get("/job/J-0001?wait=1").text
            for step in range(STEPS):
                form = answers(page)[0]
                word = [one for one in form.buttons if one not in ("", "cannot", "OL", "reading")]
                typed = {"value": "4,9"} if "value" in form.fields else {"word": word[-1]}
                weighed.clear()
                planned.clear()
                begun = process_time()
                reply = client.post(form.action, data=form.fields | typed)
                engine = sum(weighed), sum(planned)
                rest = process_time() - begun - sum(engine)
                page = reply.text
                again = min(_seconds(client, str(reply.url)) for _ in range(REPEATS))
                rows.append((*engine, rest, again))
                print(f"{step + 1}. {form.fields['check'][:44]:44}  {_words(rows[-1])}")
        shop.close()
    print(f"median: {_words([median(column) for column in zip(*rows, strict=True)])}")


def _timed(name: str) -> list[float]:
    """Where the processor time of each call of a half of the engine's work is written down."""
    took: list[float] = []
    ask = getattr(desk, name)

    def timed(job: Job) -> object:
        begun = thread_time()
        found = ask(job)
        took.append(thread_time() - begun)
        return found

    setattr(desk, name, timed)
    return took


def _words(row: Sequence[float]) -> str:
    names = ("weighing", "planning", "all else", "the sheet again")
    return ", ".join(f"{name} {1e3 * s:4.0f} ms" for name, s in zip(names, row, strict=True))


def _seconds(client: TestClient, address: str) -> float:
    begun = process_time()
    client.get(address)
    return process_time() - begun


if __name__ == "__main__":
    sys.exit(main())
