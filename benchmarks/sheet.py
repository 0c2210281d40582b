"""What an answer costs on the job sheet: processor time of the engine, and of all the rest.

`PYTHONPATH=tests python benchmarks/sheet.py`: the washed dumper of the demo shop, its first checks
answered over HTTP as a phone does it (form, redirect, new sheet). Processor time of this process,
so that other programs do not count; the test client's own share is in it.
"""

from __future__ import annotations

import sys
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import process_time, thread_time

from starlette.testclient import TestClient

from backprobe.shop.demo_shop import fill
from backprobe.shop.job import Job
from backprobe.shop.outlook import Outlook
from backprobe.shop.workshop import Shop
from backprobe.web import desk, views
from backprobe.web.app import make_app
from web.sheet_reader import answers

STEPS = 6
REPEATS = 5
PHONE = {"hx-request": "true"}


def main() -> None:
    """Answer, and print a line for each answer and the medians."""
    engine: list[float] = []
    ask = desk._outlook

    def timed(job: Job) -> Outlook:
        begun = thread_time()
        found = ask(job)
        engine.append(thread_time() - begun)
        return found

    desk._outlook = timed
    views.PATIENCE = views.LONG_PATIENCE = 600.0
    rows: list[tuple[float, float, float]] = []
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
                engine.clear()
                begun = process_time()
                reply = client.post(form.action, data=form.fields | typed)
                rest = process_time() - begun - sum(engine)
                page = reply.text
                again = min(_seconds(client, str(reply.url)) for _ in range(REPEATS))
                rows.append((sum(engine), rest, again))
                print(
                    f"{step + 1}. {form.fields['check'][:44]:44}  engine {1e3 * sum(engine):6.0f} ms, "
                    f"all else {1e3 * rest:4.0f} ms, the sheet again {1e3 * again:4.0f} ms"
                )
        shop.close()
    thought, rest, again = (1e3 * median(column) for column in zip(*rows, strict=True))
    print(
        f"median: engine {thought:.0f} ms, all else {rest:.0f} ms, the sheet again {again:.0f} ms"
    )


def _seconds(client: TestClient, address: str) -> float:
    begun = process_time()
    client.get(address)
    return process_time() - begun


if __name__ == "__main__":
    sys.exit(main())
