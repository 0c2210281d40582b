"""What an answer costs on the job sheet: processor time until what it changed is known, of the plan
after it, and of all the rest.

`PYTHONPATH=tests python benchmarks/sheet.py`: the jobs of the demo shop, their first checks answered over
HTTP as a phone does it (form, redirect, new sheet). A reading is what a sound machine reads there, or what
the likeliest suspect reads; a word the first or the last on its buttons. Once with nothing worked ahead, as
if the answer came the moment the check stood there, and once as an open page has it: after a second and a
half it fetches what would follow on every outcome, long before anybody has opened a plug. Processor time of
this process, so that other programs do not count; the test client's own share is in it.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from statistics import median, quantiles
from tempfile import TemporaryDirectory
from time import process_time, thread_time

from starlette.testclient import TestClient

from backprobe.checks.model import Priced
from backprobe.shop.answer import SCALE, unit_of
from backprobe.shop.demo_shop import fill
from backprobe.shop.job import Job
from backprobe.shop.workshop import Shop
from backprobe.web import desk, views
from backprobe.web.app import make_app
from web.sheet_reader import Form, answers

JOBS = ("J-0001", "J-0002", "J-0003")
STEPS = 6
REPEATS = 5
MUST_MS = 300.0
PHONE = {"hx-request": "true"}
HARDLY = ("", "cannot", "OL", "reading", "not now")


def main() -> None:
    """Answer, and print a line for each answer, the medians and how many take longer than they must."""
    weighed, planned = _timed("_verdict"), _timed("_outlook")
    views.PATIENCE = views.LONG_PATIENCE = 600.0
    for ahead in (False, True):
        print("what follows was worked ahead:" if ahead else "nothing was worked ahead:")
        rows: list[tuple[float, ...]] = []
        for found in (False, True):
            rows += _walked(weighed, planned, found=found, ahead=ahead)
        print(f"median: {_words([median(column) for column in zip(*rows, strict=True)])}")
        whole = sorted(1e3 * sum(row[:3]) for row in rows)
        late = sum(ms >= MUST_MS for ms in whole)
        print(
            f"an answer: median {median(whole):.0f} ms, nine in ten {quantiles(whole, n=10)[-1]:.0f} ms, "
            f"worst {whole[-1]:.0f} ms; {late} of {len(whole)} take {MUST_MS:.0f} ms or more"
        )


def _walked(
    weighed: list[float], planned: list[float], *, found: bool, ahead: bool
) -> list[tuple[float, ...]]:
    rows: list[tuple[float, ...]] = []
    with TemporaryDirectory() as folder:
        shop = Shop.open(Path(folder) / "demo.backprobe")
        fill(shop)
        with TestClient(make_app(shop), base_url="http://127.0.0.1:8787") as client:
            client.headers.update(PHONE)
            for job in JOBS:
                page = client.get(f"/job/{job}?wait=1").text
                for step in range(STEPS):
                    if not (forms := answers(page)):
                        break
                    form, offer = forms[0], shop.card(job).job.proposal.next[0]
                    if ahead:
                        at = len(shop.card(job).job.findings)
                        for nth in range(3):
                            client.get(f"/job/{job}/ahead?at={at}&nth={nth}").raise_for_status()
                    weighed.clear()
                    planned.clear()
                    begun = process_time()
                    reply = client.post(
                        form.action, data=form.fields | _answer(form, offer, found=found)
                    )
                    engine = sum(weighed), sum(planned)
                    rest = process_time() - begun - sum(engine)
                    page = reply.text
                    again = min(_seconds(client, str(reply.url)) for _ in range(REPEATS))
                    rows.append((*engine, rest, again))
                    print(f"{job} {step + 1}. {form.fields['check'][:44]:44}  {_words(rows[-1])}")
        shop.close()
    return rows


def _answer(form: Form, offer: Priced, *, found: bool) -> dict[str, str]:
    """What is typed or pressed: what a sound machine shows, or (`found`) what is wrong with it."""
    words = [one for one in form.buttons if one not in HARDLY]
    if "value" not in form.fields:
        return {"word": words[0 if found else -1]}
    value = offer.healthy or 0.0
    wrong = [
        one
        for one in offer.outcomes
        if one.typical is not None and not (one.low or 0.0) <= value <= (one.high or 0.0)
    ]
    if found and wrong:
        value = max(wrong, key=lambda one: one.chance).typical or 0.0
    if value == float("inf"):
        return {"word": "OL"}
    return {"value": f"{value / SCALE.get(unit_of(offer.check), 1.0):.3f}"}


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
