"""A new fuse that blew is blown for the rest of the visit, until another is fitted."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.checks.scene import history
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, FuseFound, Reading, Works
from backprobe.kinds import KINDS
from backprobe.suspects.weigh import weigh

PRESS = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
S1: key switch, at dash
S2: switch, at dash
GP1: ground stud, on frame
X1: plug 2 ways
lamp 1: lamp 21 W, at lamp bar
G1.+ > S1.30, 4.0 mm2, RD, wire 9
S1.15 > F1 > S2 > X1.1 > lamp 1.1, 1.0 mm2, RD, wire 1a / 1b / 1c / 1d
lamp 1.2 > GP1, 1.0 mm2, BN, wire 2
GP1 > G1.-, 16 mm2, BK, wire 3
section trunk: S2 to X1, 4 m
"""
ON = Situation(key="on")
LIT = Situation(key="on", on=frozenset({"S2"}))
NEW = frozenset({"F1"})
BEHIND = ("wire 1c/to ground/trunk", "wire 1d/to ground/run", "lamp 1/shorted")


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    book, problems = read_book(PRESS, "press")
    assert book is not None, problems
    return Circuit.of(book)


def blew(state: str = "blew") -> tuple[Act, FuseFound]:
    return (
        Act(id="new", act="replaced", target="F1", situation=Situation(key="off")),
        FuseFound(
            id=state, fuse="F1", state=state, situation=Situation(key="on", on=LIT.on, renewed=NEW)
        ),
    )


def behind(value: float, **facts: frozenset[str]) -> Reading:
    """Volts behind the fuse with the switch off."""
    return Reading(id="r", p="F1.2", value=value, situation=Situation(key="on", **facts))


def shorts(circuit: Circuit, *findings: object) -> tuple[float, float]:
    """Chance of a short behind the switch, and of "not in this book"."""
    belief = weigh(circuit.book, circuit, fold(findings))  # type: ignore[arg-type]
    names = [circuit.defects.atoms[n].id for n in circuit.defects.atom_of]
    chance = dict.fromkeys(names, 0.0)
    for name, share in zip(names, belief.hypothesis, strict=True):
        chance[name] += float(share)
    return sum(chance[name] for name in BEHIND), float(belief.chance[belief.atom < 0].sum())


def behind_it(circuit: Circuit, situation: Situation, *, gone: bool = False) -> set[str]:
    """What has blown the fuse there."""
    state = circuit.state(situation, "F1", "element", gone=gone)
    atoms = circuit.defects.atoms
    return {atoms[n].id.partition("/")[0] for n in circuit.defects.atom_of[state > 0] if n}


def test_nothing_behind_it_with_the_load_off_is_what_a_blown_fuse_shows(circuit: Circuit) -> None:
    """Without the memory 0 V would clear every short behind the switch."""
    before, _ = shorts(circuit, *blew())
    after, outside = shorts(circuit, *blew(), behind(0.0))
    assert 0.4 < before < after
    assert after > 0.7
    assert outside < 0.05


def test_volts_behind_a_fuse_that_blew_do_not_fit(circuit: Circuit) -> None:
    fits, fits_outside = shorts(circuit, *blew(), behind(0.0))
    odd, odd_outside = shorts(circuit, *blew(), behind(12.4))
    assert odd_outside > 5.0 * fits_outside
    assert odd < fits


def test_one_that_held_feeds_what_is_behind_it(circuit: Circuit) -> None:
    _, outside = shorts(circuit, *blew("held"), behind(12.4))
    assert outside < 0.05


def test_a_situation_noted_with_the_fuse_still_new_is_one_after_it_blew(circuit: Circuit) -> None:
    """Typed words keep "F1 new" until something else is said."""
    plain = shorts(circuit, *blew(), behind(0.0))
    assert shorts(circuit, *blew(), behind(0.0, renewed=NEW)) == pytest.approx(plain, rel=1e-6)


def test_another_new_fuse_starts_sound(circuit: Circuit) -> None:
    again = Act(id="again", act="replaced", target="F1", situation=Situation(key="off"))
    _, before = shorts(circuit, *blew())
    sound, outside = shorts(circuit, *blew(), again, behind(12.4))
    assert sound > 0.5
    assert outside < before


def test_what_is_proposed_next_starts_from_the_blown_fuse(circuit: Circuit) -> None:
    next_one = history(layout_of(circuit.book, KINDS), fold(blew()))
    past = next_one.after
    assert past is not None
    assert (past.on, past.renewed, next_one.renewed) == (LIT.on, NEW, frozenset())
    assert "wire 1d" in behind_it(circuit, Situation(key="on", after=past))
    assert circuit.state(Situation(key="on", after=past), "F1", "element")[0] == 0


def test_a_word_that_is_not_trusted_leaves_the_fuse_alone(circuit: Circuit) -> None:
    act, found = blew()
    doubtful = FuseFound(
        id="d", fuse="F1", state="blew", situation=found.situation, trusted=False
    )  # fmt: skip
    next_one = history(layout_of(circuit.book, KINDS), fold((act, doubtful)))
    assert (next_one.after, next_one.renewed) == (None, NEW)


def test_a_new_fuse_with_which_the_load_was_tried_may_be_blown(circuit: Circuit) -> None:
    """Nobody looked at it since: 0 V behind it is then what a short left; before, it cleared them all."""
    act, _ = blew()
    tried = Works(id="w", target="lamp 1", works=False, situation=LIT)
    first, _ = shorts(circuit, act, behind(0.0), tried)
    then, _ = shorts(circuit, act, tried, behind(0.0))
    assert first < 0.05
    assert then > 0.1


def test_what_was_tried_blows_a_new_fuse_while_the_fault_shows_alone(circuit: Circuit) -> None:
    act, _ = blew()
    tried = Works(id="w", target="lamp 1", works=False, situation=LIT)
    after = history(layout_of(circuit.book, KINDS), fold((act, tried)))
    assert (after.after, after.renewed) == (None, NEW)
    another = history(layout_of(circuit.book, KINDS), fold((act, tried, act)))
    assert behind_it(circuit, after) == {"wire 1b", "wire 1c", "wire 1d", "lamp 1"}
    assert behind_it(circuit, after, gone=True) == set()
    assert behind_it(circuit, another) == {"wire 1b"}  # the only one with the switch off


def test_a_situation_lived_through_with_the_fuse_noted_as_new_renews_it_once(
    circuit: Circuit,
) -> None:
    """The sheet goes on saying that it is new; the visit after, it is what it was left as."""
    act, _ = blew()
    tried = Works(id="w", target="lamp 1", works=False, situation=LIT)
    still = Reading(id="s", p="F1.1", value=12.4, situation=Situation(key="run", renewed=NEW))
    later = Reading(id="l", visit=2, p="F1.1", value=12.4, situation=ON)
    job = fold((act, tried, still, later))
    assert "wire 1d" in behind_it(circuit, history(layout_of(circuit.book, KINDS), job))
