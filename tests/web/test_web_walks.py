"""The demo jobs worked to their end in a real browser: from what the driver says to the proven
repair, the closed job and its write-up, on a phone and on a desk. The phone's pictures are those of
the guide."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.demo.jobs import DemoJob
from backprobe.shop.history import closed_of
from backprobe.shop.workshop import Shop
from web.browser_tools import DESK, picture
from web.guide_tools import Album, named
from web.walking import Clock, Walk, machine_of, worked_out

WASHED, NO_CRANK, LIGHTS = JOBS
MOST_CHECKS = {WASHED.name: 5, NO_CRANK.name: 5, LIGHTS.name: 8}
"""Checks before the right thing is mended."""
DONE = {
    WASHED.name: ("Lead replaced, sleeve put over the hinge pin.", "lead, sleeve"),
    NO_CRANK.name: ("Lug and frame cleaned bright, greased.", ""),
    LIGHTS.name: ("Lead replaced, edge of the panel covered.", "lead, F5"),
}
"""What was done, and the parts, as they are typed."""
SCREEN = {"width": 390, "height": 760}
"""The part of a phone's screen that the pictures of the guide show."""


@pytest.fixture(scope="module")
def clock() -> Clock:
    return Clock()


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory, clock: Clock) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("walks") / "s.backprobe", clock)
    opened.add_book(WASHED.book, book_text(WASHED.book))
    yield opened
    opened.close()


@pytest.fixture
def complaints() -> list[str]:
    """What a browser complains about; nothing, at the end."""
    return []


def listened(page: Page, complaints: list[str]) -> Page:
    page.set_default_timeout(120_000)  # the engine's first look, on a busy computer
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    return page


def taken_in(page: Page, address: str, take: Callable[[str, str], None]) -> str:
    """The washed dumper as its driver brings it, typed into the start form. Its job."""
    page.goto(f"{address}/start/{WASHED.book}")
    page.get_by_label("Serial number").fill(WASHED.serial)
    page.get_by_label("Hours").fill("1312")
    page.get_by_label("What the driver says").fill(WASHED.complaint)
    page.get_by_role("radio", name="Gone now").check()
    page.get_by_role("checkbox", name="wet").check()
    page.get_by_label("Active now").first.fill("none")
    page.get_by_label("Stored, not active").first.fill("3509/4 157/4 102/4 94/4 91/4")
    take("intake", "h1")
    page.get_by_role("button", name="Start the job").click()
    page.wait_for_url("**/job/*")
    job = page.url.split("/job/")[1][:6]
    worked_out(page, address, job)
    return job


def proven_and_closed(walk: Walk, demo: DemoJob, take: Callable[[str, str], None]) -> None:
    """From the first check to the write-up."""
    walk.to_the_proof()
    page = walk.page
    checks = next(k for k, done in enumerate(walk.done) if done.endswith("-> passes"))
    assert checks <= MOST_CHECKS[demo.name], walk.done
    assert not any(done.endswith("-> fails") for done in walk.done), walk.done  # nothing in vain
    mended = next(s for s in walk.shop.card(walk.job).job.suspects).group
    assert demo.truth.target in mended, walk.done
    expect(page.locator(".done")).to_contain_text(f"Mended and proven: {mended}.")
    take("proven", "#next")
    walk.put_everything_back()
    walk.seen = lambda _: take("closing", "h1")
    done, parts = DONE[demo.name]
    walk.close(done, parts)
    write_up = page.locator(".write-up")
    expect(write_up).to_contain_text(done)
    expect(write_up.get_by_role("heading", name="Proof")).to_be_visible()
    take("write-up", "h1")
    closed = closed_of(walk.shop.findings(walk.job))
    assert closed is not None
    assert mended in closed.cause


def test_the_washed_dumper_on_a_phone_and_every_picture_of_the_guide(
    browser: Browser, shop: Shop, clock: Clock, address: str, complaints: list[str]
) -> None:
    context = browser.new_context(viewport=SCREEN, has_touch=True)
    page = listened(context.new_page(), complaints)
    album = Album(page)
    job = taken_in(page, address, album.take)
    walk = Walk(page, shop, clock, job, machine_of(shop, job, WASHED))
    album.take("check", "#next")
    page.locator("#around summary").click()
    expect(page.locator("#around svg")).to_be_visible(timeout=60_000)
    album.take("around", "#around")

    def seen(count: int) -> None:
        picture(page, f"phone-washing-{count}")
        if count == 1:
            assert "What that changed" in page.locator("#news").inner_text()
            album.take("changed", "#news")
        if page.locator(".put-back").count():
            album.once("put-back", ".put-back")
        if page.locator(".check.repair").count():
            album.once("repair", ".check.repair .steps")

    walk.seen = seen
    proven_and_closed(walk, WASHED, album.take)
    page.goto(f"{address}/job/{job}/loom")
    album.take("loom", "h1")
    page.goto(f"{address}/job/{job}/course")
    album.take("course", "h1")
    context.close()
    assert complaints == []
    assert album.missing(named()) == {}


@pytest.mark.parametrize(
    ("demo", "place"),
    [
        (WASHED, "desk"),
        (NO_CRANK, "desk"),
        (NO_CRANK, "phone"),
        (LIGHTS, "desk"),
        (LIGHTS, "phone"),
    ],
    ids=lambda value: value if isinstance(value, str) else value.name,
)
def test_a_demo_job_is_worked_to_its_write_up(
    browser: Browser, shop: Shop, clock: Clock, address: str, complaints: list[str],
    demo: DemoJob, place: str,
) -> None:  # fmt: skip
    screen = DESK if place == "desk" else SCREEN
    page = listened(
        browser.new_page(viewport=screen, has_touch=place == "phone"),  # type: ignore[arg-type]
        complaints,
    )

    def take(name: str, _: str) -> None:
        picture(page, f"{place}-{demo.name}-{name}")

    if demo is WASHED:
        job = taken_in(page, address, take)
    else:
        job = shop.start_job(demo.book, demo.complaint, findings=demo.arrival)
        worked_out(page, address, job)
    take("check", "")
    walk = Walk(page, shop, clock, job, machine_of(shop, job, demo))
    proven_and_closed(walk, demo, take)
    page.close()
    assert complaints == []
