"""Findings survive the trip through JSON; what is damaged comes back as a problem."""

from __future__ import annotations

import json
import math
from dataclasses import fields
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backprobe.base.problems import Problem
from backprobe.book.situations import Lead, Situation
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Approved,
    Bet,
    Closed,
    CodesFound,
    DisplayRead,
    Failing,
    FuseFound,
    Looked,
    Mentioned,
    NotPossible,
    Photo,
    Provoked,
    Reading,
    Recalled,
    Withdrawn,
    Works,
)
from backprobe.findings.wire import TYPES, from_plain, to_plain

WORDS = st.text(max_size=8)
NUMBERS = st.floats(allow_nan=False)
LEADS = st.builds(Lead, kind=WORDS, p=WORDS, n=WORDS)
SETS = st.frozensets(WORDS, max_size=3)


@st.composite
def situations(draw: st.DrawFn) -> Situation:
    now: Situation | None = None
    for _ in range(draw(st.integers(1, 3))):
        now = Situation(
            key=draw(st.sampled_from(["off", "on", "crank", "run"])),
            on=draw(SETS),
            unplugged=draw(SETS),
            pulled=draw(SETS),
            battery_off=draw(st.booleans()),
            fitted=tuple(draw(st.lists(LEADS, max_size=2))),
            renewed=draw(SETS),
            after=now,
        )
    assert now is not None
    return now


SHARED = {
    "id": WORDS,
    "visit": st.integers(1, 99),
    "at_s": NUMBERS,
    "situation": situations(),
    "trusted": st.booleans(),
    "note": WORDS,
}
CODES = st.lists(WORDS, max_size=3).map(tuple)


def choice(cls: type, name: str) -> st.SearchStrategy[str]:
    import typing

    return st.sampled_from(get_args(typing.get_type_hints(cls)[name]))


FINDINGS: dict[type, st.SearchStrategy[AnyFinding]] = {
    CodesFound: st.builds(
        CodesFound, unit=WORDS, active=CODES, stored=CODES, complete=st.booleans(), by_test=CODES, absent=CODES,
        **SHARED,
    ),
    Reading: st.builds(
        Reading, instrument=choice(Reading, "instrument"), p=WORDS, n=WORDS, value=NUMBERS,
        to=st.none() | NUMBERS, cell=NUMBERS, **SHARED,
    ),
    DisplayRead: st.builds(DisplayRead, unit=WORDS, name=WORDS, value=NUMBERS, **SHARED),
    Works: st.builds(Works, target=WORDS, works=st.booleans(), **SHARED),
    FuseFound: st.builds(FuseFound, fuse=WORDS, state=choice(FuseFound, "state"), **SHARED),
    Looked: st.builds(Looked, target=WORDS, damage=st.booleans(), **SHARED),
    Act: st.builds(Act, act=choice(Act, "act"), target=WORDS, **SHARED),
    Failing: st.builds(
        Failing, answer=choice(Failing, "answer"), condition=choice(Failing, "condition"), **SHARED
    ),
    Provoked: st.builds(
        Provoked, places=CODES, condition=choice(Provoked, "condition"), shown_at=WORDS, **SHARED
    ),
    NotPossible: st.builds(NotPossible, check=WORDS, words=WORDS, **SHARED),
    Approved: st.builds(Approved, seconds=st.floats(0.0, 1e6), **SHARED),
    Bet: st.builds(Bet, target=WORDS, **SHARED),
    Recalled: st.builds(
        Recalled, what=st.sampled_from(["after wash", "display went out", "started again"]), **SHARED
    ),
    Mentioned: st.builds(Mentioned, about=WORDS, words=WORDS, **SHARED),
    Photo: st.builds(Photo, digest=WORDS, of=WORDS, words=WORDS, **SHARED),
    Closed: st.builds(
        Closed,
        cause=WORDS,
        done=WORDS,
        parts=WORDS,
        left=WORDS,
        minutes=st.none() | st.floats(0.0, 1e4),
        **SHARED,
    ),
    Withdrawn: st.builds(Withdrawn, finding=WORDS, **SHARED),
}  # fmt: skip
ANY = st.one_of(list(FINDINGS.values()))


def test_every_finding_type_has_a_name_and_is_tried_here() -> None:
    assert set(get_args(AnyFinding)) == set(TYPES.values()) == set(FINDINGS)


@given(ANY)
def test_round_trip_through_json_changes_nothing(finding: AnyFinding) -> None:
    text = json.dumps(to_plain(finding), allow_nan=False)
    assert from_plain(json.loads(text)) == finding


def test_every_field_is_written_even_when_it_has_its_default() -> None:
    plain = to_plain(Works(target="lift pump", works=True))
    assert set(plain) == {"type", *(field.name for field in fields(Works))}
    assert (plain["type"], plain["visit"], plain["trusted"]) == ("works", 1, True)
    (situation,) = plain["situation"]
    assert set(situation) == {field.name for field in fields(Situation)} - {"after", "showing"}
    assert (situation["key"], situation["on"], situation["battery_off"]) == ("on", [], False)


def test_ol_is_a_word_in_the_dict() -> None:
    plain = to_plain(Reading(instrument="ohmmeter", p="J5.1", value=math.inf))
    assert plain["value"] == "OL"


def test_ten_thousand_situations_in_a_row_do_not_break_it() -> None:
    flat = to_plain(Works(target="x", works=True))
    flat["situation"] = flat["situation"] * 10_000
    finding = from_plain(flat)
    assert isinstance(finding, Works)
    length = 0
    now: Situation | None = finding.situation
    while now is not None:
        length, now = length + 1, now.after
    assert length == 10_000


def test_not_a_number_is_refused_before_it_is_stored() -> None:
    with pytest.raises(ValueError, match="a finding cannot hold a value that is not a number"):
        to_plain(Reading(value=math.nan))


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"type": "guess"}, "type: expected one of " + ", ".join(TYPES) + ", found 'guess'"),
        ({"value": "12"}, "value: expected a number, found '12'"),
        ({"value": True}, "value: expected a number, found True"),
        ({"value": math.nan}, 'value: expected a number or "OL", found nan'),
        ({"visit": True}, "visit: expected a whole number, found True"),
        ({"colour": "red"}, "colour: expected no such entry, found 'red'"),
        ({"situation": []}, "situation: expected at least one situation, found list"),
        (
            {"situation": [{"key": "park"}]},
            "situation[0].key: expected one of 'off', 'on', 'crank', 'run', found 'park'",
        ),
        (
            {"situation": [{"fitted": [{"kind": "jumper", "p": "X1.1"}]}]},
            "situation[0].fitted[0].n: expected an entry, found nothing",
        ),
    ],
)
def test_a_damaged_finding_says_where_and_what(change: dict[str, object], what: str) -> None:
    problem = from_plain({**to_plain(Reading(p="X1.1", value=12.0)), **change})
    assert isinstance(problem, Problem)
    assert str(problem) == (
        f"error: this finding cannot be read: {what} [finding-unreadable]\n"
        "  why: it was damaged, or written by a newer version of Backprobe; it is kept in the job "
        "but not weighed\n"
        "  do:  update Backprobe; if that does not help, enter the finding again"
    )


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=8,
)


@given(JSON)
def test_any_json_is_a_problem_not_a_crash(plain: object) -> None:
    assert isinstance(from_plain(plain), Problem)


@settings(max_examples=200)
@given(ANY, st.data())
def test_a_finding_with_one_entry_spoilt_never_raises(
    finding: AnyFinding, data: st.DataObject
) -> None:
    plain = to_plain(finding)
    key = data.draw(st.sampled_from(sorted(plain)))
    plain[key] = data.draw(JSON)
    assert isinstance(from_plain(plain), Problem | AnyFinding)
