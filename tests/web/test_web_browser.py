"""The page in a real browser: a demo job worked to its lead, accessibility, weight, no scripts."""

from __future__ import annotations

from collections.abc import Iterator
from math import isinf

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from backprobe.shop.demo import JOBS
from backprobe.shop.demo_shop import fill
from backprobe.shop.workshop import Shop
from oracles.technician import Machine
from web.browser_tools import DESK, PHONE, SMALL, faults, picture

WEIGHT = 150_000
AFTER_WASHING = JOBS[0]


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "demo.backprobe")
    fill(opened)
    yield opened
    opened.close()


def washing(shop: Shop) -> str:
    return next(row.id for row in shop.jobs() if row.serial == AFTER_WASHING.serial)


def worked_out(page: Page, address: str, job: str) -> None:
    page.goto(f"{address}/job/{job}?wait=1")
    page.wait_for_selector("form.answer", timeout=60_000)


def machine_of(shop: Shop, job: str, seed: int) -> Machine:
    circuit = shop.card(job).job.circuit
    truth = AFTER_WASHING.truth
    atom = next(k for k, a in enumerate(circuit.defects.atoms) if a.id == truth.atom)
    rows = np.flatnonzero(circuit.defects.atom_of == atom)
    row = rows[np.argmin(np.abs(np.log(circuit.defects.ohm[rows] / truth.ohm)))]
    return Machine(
        circuit,
        int(row),
        gone=True,
        condition=truth.condition,
        places=("hinge", truth.spot),
        seed=seed,
    )


def answer_on_the_page(page: Page, shop: Shop, job: str, machine: Machine) -> str:
    """Answer the big check by hand, as its form asks. Returns what was done."""
    check = shop.card(job).job.proposal.next[0].check
    reply = machine.answer(check)
    form = page.locator("form.answer").first
    once = form.locator('input[name="once"]').input_value()
    if reply.word:
        form.locator(f'button[name="word"][value="{reply.word}"]').click()
    elif reply.value is not None and isinf(reply.value):
        form.locator('button[value="OL"]').click()
    else:
        form.locator('input[name="value"]').fill(f"{reply.value:.4f}".replace(".", ","))
        form.locator("button.go").first.click()
    page.wait_for_function(
        """once => { const mark = document.querySelector('form.answer input[name=once]');
                     return mark && mark.value !== once }""",
        arg=once,
        timeout=60_000,
    )
    return f"{check.words} -> {reply.word or reply.value}"


def test_the_washed_dumper_is_worked_to_the_rubbed_lead_on_a_phone(
    browser: Browser, shop: Shop, address: str
) -> None:
    # a job of its own: it ends mended, the other tests need the demo jobs as they came in
    job = shop.start_job(
        AFTER_WASHING.book, AFTER_WASHING.complaint, findings=AFTER_WASHING.arrival
    )
    machine = machine_of(shop, job, seed=0)
    page = browser.new_page(viewport=PHONE)
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    worked_out(page, address, job)
    picture(page, "phone-washing-start")
    done: list[str] = []
    said: list[str] = []
    while len(done) < 5:
        first = shop.card(job).job.proposal.next[0].check
        if first.does == "repair":
            break
        done.append(answer_on_the_page(page, shop, job, machine))
        said.append(page.locator("#news").inner_text())
        picture(page, f"phone-washing-{len(done)}")
    card = shop.card(job).job
    assert card.suspects[0].group == "wire 41a (ECU to X10)", done
    assert "wire 41a" in page.locator("#could").inner_text()
    assert "What that changed" in said[0]
    mended = page.get_by_role("button", name="The proof passes")
    while not mended.count() and len(done) < 8:
        done.append(answer_on_the_page(page, shop, job, machine))
    mended.first.click()
    expect(page.locator(".done")).to_contain_text(
        "Mended and proven: wire 41a (ECU to X10).", timeout=60_000
    )
    picture(page, "phone-washing-done")
    assert complaints == []
    page.close()


@pytest.mark.parametrize(
    ("size", "scheme"), [(PHONE, "light"), (PHONE, "dark"), (DESK, "light"), (SMALL, "dark")]
)
def test_no_page_breaks_the_rules_of_accessibility(
    browser: Browser, shop: Shop, address: str, axe_script: str, size: dict[str, int], scheme: str
) -> None:
    context = browser.new_context(viewport=size, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    found: dict[str, list[str]] = {}
    jobs = [row.id for row in shop.jobs() if row.serial in {demo.serial for demo in JOBS}]
    for path in (
        "/",
        "/start/tracked-dumper",
        "/book/tracked-dumper",
        *(f"/job/{j}" for j in jobs),
    ):
        if path.startswith("/job"):
            worked_out(page, address, path.rpartition("/")[2])
            page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        else:
            assert page.goto(address + path).status == 200, path
        found[path] = faults(page, axe_script)
        name = path.strip("/").replace("/", "-") or "jobs"
        picture(page, f"{scheme}-{size['width']}-{name}")
    assert {path: bad for path, bad in found.items() if bad} == {}
    context.close()


def test_a_sheet_weighs_less_than_150_kb_with_everything_it_needs(
    browser: Browser, shop: Shop, address: str
) -> None:
    page = browser.new_page(viewport=PHONE)
    sizes: list[int] = []
    page.on("response", lambda response: sizes.append(len(response.body())))
    worked_out(page, address, washing(shop))
    page.wait_for_load_state("networkidle")
    assert 0 < sum(sizes) < WEIGHT
    page.close()


def test_a_reading_can_be_given_without_scripts(browser: Browser, shop: Shop, address: str) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    job = next(row.id for row in shop.jobs() if row.serial == JOBS[1].serial)
    page.goto(f"{address}/job/{job}?wait=1")
    before = len(shop.card(job).job.findings)
    form = page.locator("form.answer").first
    box = form.locator('input[name="value"]')
    if box.count():
        box.fill("12,4")
        form.locator("button.go").first.click()
    else:
        form.locator('button[name="word"]').first.click()
    page.wait_for_load_state()
    assert len(shop.card(job).job.findings) > before
    assert "Noted" in page.inner_text("body") or "Working it out" in page.inner_text("body")
    context.close()


def test_everything_to_press_is_big_enough_for_gloves(
    browser: Browser, shop: Shop, address: str
) -> None:
    page = browser.new_page(viewport=PHONE)
    worked_out(page, address, washing(shop))
    low = page.evaluate(
        """[...document.querySelectorAll('button, a.button, summary, input:not([type=hidden])')]
           .filter(e => e.offsetParent && e.type !== 'radio' && e.type !== 'checkbox')
           .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect().height])
           .filter(([, height]) => height < 47.5)"""
    )
    assert low == []
    page.close()
