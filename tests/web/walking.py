"""A demo job worked on the page by a simulated technician, as a person would, by its forms alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import isinf

import numpy as np
from playwright.sync_api import Page, expect

from backprobe.shop.answer import SCALE, unit_of
from backprobe.shop.demo.jobs import DemoJob
from backprobe.shop.outlook import engine
from backprobe.shop.workshop import Shop
from oracles.technician import Machine

A_CHECK = 4 * 60.0
MOST = 14
"""Answers after which a job that is not mended is lost."""


@dataclass(slots=True)
class Clock:
    """A clock that goes on by so much a check: equal walks have equal findings, and the second
    one takes the engine no time."""

    now: float = 1_760_000_000.0

    def __call__(self) -> float:
        return self.now


def worked_out(page: Page, address: str, job: str) -> None:
    """Open a sheet and wait until the engine has said what it thinks."""
    page.goto(f"{address}/job/{job}?wait=1", timeout=120_000)
    page.wait_for_selector("form.answer", timeout=120_000)


def machine_of(shop: Shop, job: str, demo: DemoJob) -> Machine:
    """The machine of a demo job with its hidden defect."""
    circuit = shop.card(job).job.circuit
    truth = demo.truth
    atom = next(k for k, a in enumerate(circuit.defects.atoms) if a.id == truth.atom)
    rows = np.flatnonzero(circuit.defects.atom_of == atom)
    row = rows[np.argmin(np.abs(np.log(circuit.defects.ohm[rows] / truth.ohm)))]
    gone = shop.card(job).job.state.failing in ("gone", "only when")
    return Machine(
        circuit,
        int(row),
        gone=gone,
        condition=truth.condition if gone else "",
        places=("hinge", truth.spot) if gone else (),
    )


@dataclass(slots=True)
class Walk:
    """One job on one page. `seen`: called after every answer with what was done."""

    page: Page
    shop: Shop
    clock: Clock
    job: str
    machine: Machine
    seen: Callable[[int], None] = lambda _: None
    done: list[str] = field(default_factory=list)

    def to_the_proof(self) -> None:
        """Follow the first proposal until the repair is proven."""
        proven = self.page.locator(".done")
        while not proven.count():
            assert len(self.done) < MOST, self.done
            self.answer()
            self.seen(len(self.done))

    def answer(self) -> None:
        """Answer the big check as its form asks."""
        page, check = self.page, self.shop.card(self.job).job.proposal.next[0].check
        with engine():  # the page reads the same circuit
            reply = self.machine.answer(check)
        self.clock.now += A_CHECK
        form = page.locator("form.answer").first
        once = form.locator('input[name="once"]').input_value()
        if reply.word:
            form.locator(f'button[name="word"][value="{reply.word}"]').click()
        elif reply.value is not None and isinf(reply.value):
            form.locator('button[value="OL"]').click()
        else:
            typed = reply.value / SCALE.get(unit_of(check), 1.0)
            form.locator('input[name="value"]').fill(f"{typed:.4f}".replace(".", ","))
            form.locator("button.go").first.click()
        page.wait_for_function(
            """once => { const mark = document.querySelector('#sheet input[name=once]');
                         return mark && mark.value !== once && !document.querySelector('.working') }""",
            arg=once,
            timeout=120_000,
        )
        self.done.append(f"{check.words} -> {reply.word or reply.value}")

    def put_everything_back(self) -> None:
        """Press until the put-back list is empty."""
        things = self.page.locator(".put-back li")
        for left in range(things.count() - 1, -1, -1):
            things.first.get_by_role("button").click()
            expect(things).to_have_count(left, timeout=120_000)

    def close(self, done: str, parts: str) -> None:
        """Close the job and come to its write-up."""
        self.page.get_by_role("link", name="Close the job").first.click()
        self.page.get_by_label("What was done").fill(done)
        self.page.get_by_label("Parts fitted").fill(parts)
        self.seen(-1)
        self.page.get_by_role("button", name="Close and write up").click()
        self.page.wait_for_url("**/write-up")
