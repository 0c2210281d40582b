"""An unloaded reading that cannot tell the suspects apart is answered with the loaded one that can,
whoever is told. That a meter without current reads full voltage through any resistance is common
practice, no source (the voltage divider of two resistances, any textbook)."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from backprobe.book import read_book
from backprobe.findings.model import AnyFinding, Reading
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.demo_shop import fill
from backprobe.shop.job import Job, start
from backprobe.shop.noting import note_words
from backprobe.shop.say import hear
from backprobe.shop.workshop import Shop

UNLOADED = "volts engine 0.0, key off"
LOADED = "Read it under load: volts at bare metal of the engine, cranking."
"""The starter is the load; its current goes back through the strap."""


@cache
def no_crank() -> Job:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return start(book).note(*JOBS[1].arrival)


def heard(text: str) -> tuple[AnyFinding, ...]:
    job = no_crank()
    return tuple(f for f in hear(text, job.book, state=job.state) if isinstance(f, Reading))


def test_a_reading_without_load_names_the_loaded_one() -> None:
    (said,) = no_crank().remarks(*heard(UNLOADED))
    assert said.startswith("It cannot tell: ")
    assert "Without current, a meter reads the full voltage through any resistance." in said
    assert said.endswith(LOADED)


def test_the_loaded_reading_itself_tells() -> None:
    assert no_crank().remarks(*heard("volts engine 0.0, cranking")) == ("",)


def test_a_reading_nobody_expected_tells_something() -> None:
    assert no_crank().remarks(*heard("volts engine 7.5, key off")) == ("",)


def test_a_note_is_kept_with_its_remark(tmp_path: Path) -> None:
    shop = Shop.open(tmp_path / "demo.backprobe", clock=lambda: 1_700_000_000.0)
    fill(shop)
    kept = note_words(shop, "J-0002", f"{UNLOADED}; works horn sounds")
    assert [getattr(one, "remark", "").endswith(LOADED) for one in kept] == [True, False]
    shop.close()
