"""What is told is heard again as the same finding, for any finding the demo book allows."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.book import read_book
from backprobe.book.model import MINUS, Book
from backprobe.book.situations import KEYS, Lead, Situation
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    DisplayRead,
    Failing,
    Finding,
    FuseFound,
    JobState,
    Looked,
    Provoked,
    Reading,
    Withdrawn,
    Works,
)
from backprobe.shop.demo import BOOKS, JOBS, book_text
from backprobe.shop.say import hear, told
from backprobe.shop.say.names import Names
from backprobe.shop.say.situation import LEADS
from backprobe.shop.say.states import FUSE_STATES, FUSES


def the(name: str) -> Book:
    book, _ = read_book(book_text(name), name)
    assert book is not None
    return book


BOOK = the("tracked-dumper")
NAMES = Names(BOOK)
PLACES = sorted(set(NAMES.places.values()))
PLUGS = sorted(NAMES.plugged)
UNDONE = JobState(findings=(Works(id="f7", target="horn", works=True),))

places = st.sampled_from(PLACES)
notes = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Zl", "Zp", "Cs"]), max_size=30
)


def sets(names: list[str]) -> st.SearchStrategy[frozenset[str]]:
    return st.frozensets(st.sampled_from(names), max_size=3)


leads = st.builds(Lead, kind=st.sampled_from(LEADS), p=places, n=places)
dead = st.builds(
    Situation,
    key=st.just("off"),
    unplugged=sets(PLUGS),
    pulled=sets(PLUGS),
    battery_off=st.booleans(),
)
situations = st.builds(
    Situation,
    key=st.sampled_from(KEYS),
    on=sets(sorted(NAMES.commands)),
    unplugged=sets(PLUGS),
    pulled=sets(PLUGS),
    battery_off=st.booleans(),
    fitted=st.lists(leads, max_size=2, unique=True).map(tuple),
    # a new fuse is in its holder: it is not pulled as well
    renewed=sets([n for n, p in BOOK.parts.items() if p.kind == "fuse"]),
).map(lambda s: replace(s, pulled=s.pulled - s.renewed))


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    """Figures as a meter shows them: a whole number of its last digits."""
    instrument = draw(
        st.sampled_from(["meter", "min-max", "lamp", "ohmmeter", "beeper", "clamp", "millivolts"])
    )
    if instrument == "beeper":
        return Reading(
            situation=draw(dead),
            instrument=instrument,
            p=draw(places),
            n=draw(places),
            value=draw(st.sampled_from([0.0, float("inf")])),
        )
    digits = draw(st.integers(1, 4) if instrument == "millivolts" else st.integers(0, 3))
    cell = float(f"1e-{digits + 3 * (instrument == 'millivolts')}")
    if instrument == "ohmmeter":
        cell = float(f"1e{draw(st.integers(-3, 4))}")
    exponent = f"{cell:.0e}".partition("e")[2]

    def figure() -> float:
        return float(f"{draw(st.integers(0 if ohms else -9999, most))}e{exponent}")

    ohms = instrument == "ohmmeter"
    most = 9999
    value = float("inf") if ohms and draw(st.booleans()) else figure()
    to = figure() if draw(st.booleans()) else None
    wires = instrument == "clamp"
    return Reading(
        situation=draw(dead if ohms else situations),
        instrument=instrument,
        p=draw(st.sampled_from(sorted(BOOK.wires)) if wires else places),
        n=MINUS if wires else draw(places),
        value=value,
        to=to,
        cell=cell if to is not None or value != float("inf") else 0.0,
    )


codes = st.lists(st.sampled_from(sorted(NAMES.codes("ECU"))), max_size=4, unique=True).map(tuple)
findings: st.SearchStrategy[AnyFinding] = st.one_of(
    readings(),
    st.builds(
        CodesFound,
        situation=situations,
        unit=st.just("ECU"),
        active=codes,
        stored=codes,
        by_test=codes,
        complete=st.booleans(),
    ),
    st.builds(
        CodesFound,
        situation=situations,
        unit=st.just("ECU"),
        active=codes,
        absent=codes.filter(bool),
        complete=st.just(False),
    ),
    st.builds(
        DisplayRead,
        situation=situations,
        unit=st.just("ECU"),
        name=st.sampled_from([name for unit, name in BOOK.displays if unit == "ECU"]),
        value=st.integers(0, 10000).map(lambda n: n / 100),
    ),
    st.builds(
        Works,
        situation=situations,
        target=st.sampled_from(sorted(NAMES.workers)),
        works=st.booleans(),
    ),
    st.builds(
        FuseFound,
        situation=situations,
        fuse=st.sampled_from([n for n, p in BOOK.parts.items() if p.kind in FUSES]),
        state=st.sampled_from(FUSE_STATES),
    ),
    st.builds(
        Looked,
        situation=situations,
        target=st.sampled_from(sorted(set(NAMES.looks.values()))),
        damage=st.booleans(),
    ),
    st.builds(
        Act,
        situation=situations,
        act=st.sampled_from(["replaced", "repaired"]),
        target=st.sampled_from(sorted(BOOK.parts)),
    ),
    st.builds(
        Act,
        situation=situations,
        act=st.just("repaired"),
        target=st.sampled_from(sorted(set(NAMES.mends.values()))),
    ),
    st.builds(
        Act,
        situation=situations,
        act=st.sampled_from(["unplugged", "plugged", "pulled", "fitted"]),
        target=st.sampled_from(PLUGS),
    ),
    st.builds(
        Act,
        situation=situations,
        act=st.just("codes cleared"),
        target=st.sampled_from(["", "ECU", "display"]),
    ),
    st.builds(
        Failing,
        situation=situations,
        answer=st.sampled_from(["yes", "gone"]),
        condition=st.sampled_from(["", "wet", "hot", "moved"]),
    ),
    st.builds(
        Failing,
        situation=situations,
        answer=st.just("only when"),
        condition=st.sampled_from(["wet", "hot", "moved"]),
    ),
    st.builds(
        Provoked,
        situation=situations,
        places=st.lists(
            st.sampled_from(sorted(BOOK.sections)), min_size=1, max_size=3, unique=True
        ).map(tuple),
        condition=st.sampled_from(["wet", "hot", "moved"]),
    ).flatmap(lambda p: st.sampled_from(["", *p.places]).map(lambda at: replace(p, shown_at=at))),
    st.just(Withdrawn(finding="f7", situation=Situation())),
)


def settled(finding: AnyFinding) -> AnyFinding:
    """An act's situation is the one after it: what was unplugged is off, what was fitted is in."""
    if not isinstance(finding, Act) or finding.act == "codes cleared":
        return finding
    one, situation = frozenset({finding.target}), finding.situation
    off = situation.unplugged - one
    out = situation.pulled - one
    if finding.act == "unplugged":
        off, out = situation.unplugged | one, situation.pulled
    elif finding.act == "pulled":
        off, out = situation.unplugged, situation.pulled | one
    return replace(finding, situation=replace(situation, unplugged=off, pulled=out))


@given(findings, st.booleans(), notes)
def test_what_is_told_is_heard_as_the_same_finding(
    finding: AnyFinding, trusted: bool, note: str
) -> None:
    finding = replace(settled(finding), trusted=trusted, note=" ".join(note.split()).strip("# "))
    assert hear(told(finding), BOOK, state=UNDONE) == (finding,)


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.name)
def test_the_arrival_of_the_demo_jobs_can_be_typed(job) -> None:
    for finding in job.arrival:
        heard = hear(told(finding), BOOK, state=JobState())
        assert heard == (replace(finding, id=""),)


@given(st.text(max_size=60))
def test_any_text_at_all_gives_findings_or_problems(text: str) -> None:
    heard = hear(text, BOOK, state=JobState())
    assert heard
    assert len({isinstance(thing, Finding) for thing in heard}) == 1


WORDS = (
    *("volts", "ohms", "codes", "fuse", "works", "dead", "failing", "looked", "moved", "undo"),
    *("new visit", "unplugged", "amps", "display", "X10.3", "X10", "ECU", "F5", "frame", "to"),
    *("12.3", "OL", "4.9..0.2", "mV", ",", ";", "?", "#", "\n", '"', ":", "and", "key on", "on"),
    *("off", "hinge", "from", "lamp 21 W", "battery off", "with", "min-max", "none", "157/4"),
)


@given(st.lists(st.sampled_from(WORDS), max_size=12).map(" ".join))
def test_any_jumble_of_its_own_words_gives_findings_or_problems(text: str) -> None:
    heard = hear(text, BOOK, state=UNDONE)
    assert heard
    assert len({isinstance(thing, Finding) for thing in heard}) == 1
    for thing in heard:
        if isinstance(thing, Finding):
            told(thing)  # type: ignore[arg-type]
        else:
            assert thing.at is not None
            assert 1 <= thing.at.column <= len(thing.at.text) + 1


@pytest.mark.parametrize("name", BOOKS)
def test_every_name_of_a_demo_book_is_found_as_printed(name: str) -> None:
    names = Names(the(name))
    for place in names.places:
        assert names.place(place) is not None
