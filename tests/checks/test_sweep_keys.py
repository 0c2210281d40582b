"""A sweep of functions tries with the engine running what needs it running, and says so at that step."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.answer import findings_of
from backprobe.checks.at_step import cautions_at
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.outcomes import places_of
from backprobe.checks.scene import key_of, scene_of
from backprobe.checks.steps import steps
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Failing
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text
from backprobe.suspects.weigh import weigh

ON = Situation(key="on")


@pytest.fixture(scope="module")
def dumper():
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    return book, Circuit.of(book)


def swept(dumper):
    book, circuit = dumper
    job = fold([Failing(answer="yes")], start=ON)
    scene = scene_of(layout_of(book, KINDS), job, circuit.defects, weigh(book, circuit, job))
    return scene.layout, job, next(c for c in from_scene(scene) if c.does == "sweep")


def test_what_needs_the_engine_is_tried_last_and_with_the_engine_started(dumper):
    book, _ = dumper
    layout, job, sweep = swept(dumper)
    keys = [key_of(book.functions[name]) for name in places_of(sweep)]
    assert {"on", "run"} <= {*keys}
    assert keys == sorted(keys), keys
    told = steps(layout, job, sweep)
    first = next(k for k, step in enumerate(told) if step.startswith("Try each"))
    start = next(k for k, step in enumerate(told) if step.startswith("Start the engine"))
    assert first < start
    for name, key in zip(places_of(sweep), keys, strict=True):
        assert name in told[start if key == "run" else first]
        assert name not in told[first if key == "run" else start]
    assert any("Belt and fan" in words for words, _ in cautions_at(sweep.hazards, told)[start])


def test_what_was_found_is_noted_with_the_key_it_was_tried_with(dumper):
    book, _ = dumper
    _, job, sweep = swept(dumper)
    found = findings_of(sweep, job, word=f"does not work: {places_of(sweep)[-1]}")
    assert [one.situation.key for one in found] == [
        key_of(book.functions[one.target]) for one in found
    ]
