"""From a job to centimetres: the demo machine, a fuse that blew, a lamp and three readings."""

from __future__ import annotations

import numpy as np
import pytest

import backprobe as bp
from backprobe.base.copper import wire_ohm
from backprobe.shop.demo import book_text
from backprobe.shop.whereabouts import whereabouts

TAIL = ", key on, F4 pulled, metering valve unplugged, lamp 55 W from F4.1 to F4.2"


@pytest.fixture(scope="module")
def job():
    book, _ = bp.read_book(book_text("tracked-dumper"))
    assert book is not None
    return bp.start(book)


def hear(job, *sentences):
    for words in sentences:
        heard = bp.hear(words, job.book, state=job.state)
        assert not isinstance(heard[0], bp.Problem), heard[0]
        job = job.note(*heard)
    return job


def test_before_anything_is_ranged_the_sections_have_the_suspects_chances(job):
    noted = hear(job, "fuse F4 blown")
    found = whereabouts(noted)
    assert found is not None
    assert found.wires == ("wire 29b (F4 to X10)", "wire 29c (X10 to metering valve)")
    assert found.used == ()
    belief, sections = noted.belief, {"hinge": 0.0}
    for number, atom in enumerate(noted.circuit.defects.atoms):
        if "/to ground/" in atom.id or "/to wire " in atom.id:
            for _ in {"wire 29b", "wire 29c"}.intersection(atom.owners):
                chance = float(belief.chance[belief.atom == number].sum())
                sections[atom.owners[-1]] = sections.get(atom.owners[-1], 0.0) + chance
    total = sum(sections.values())
    assert found.chance == pytest.approx(total)
    after = found.placed.after
    in_hinge = after.chance[after.at_m < after.line.bits[0].to_m].sum()
    assert in_hinge == pytest.approx(sections["hinge"] / total)


def test_a_lamp_and_millivolts_lead_to_the_stay(job):
    """A short 25 cm beyond X10, at the bonnet stay: 4.4 A through 0.9 m and 0.25 m of 1 mm2."""
    metre = wire_ohm(1e-6, 1.0)
    noted = hear(
        job,
        "fuse F4 blown",
        f"amps wire 29b 4.4{TAIL}",
        f"millivolts F4.2 to X10.1 {4400 * 0.9 * metre:.0f}{TAIL}",
        f"millivolts X10.1b to metering valve.1 {4400 * 0.25 * metre:.0f}{TAIL}",
    )
    found = whereabouts(noted)
    assert found is not None
    assert found.used == ("f3", "f4")
    assert found.chance > 0.9
    assert found.placed.looks[0].spots == ("bonnet stay",)
    within = found.placed.within
    assert within.from_m <= 0.9 + 0.25 <= within.to_m
    assert within.to_m - within.from_m < 0.15
    assert "cm from X10 towards head right in section engine trunk" in within.words
    assert max(told.wrong for told in found.placed.told) < 0.05


def test_the_prior_of_the_sections_does_not_hold_the_ranging_readings_again(job):
    noted = hear(job, "fuse F4 blown")
    before = whereabouts(noted, "29b")
    ranged = whereabouts(hear(noted, f"millivolts X10.1b to metering valve.1 0{TAIL}"), "29b")
    assert before is not None
    assert ranged is not None
    assert ranged.placed.before.chance == pytest.approx(before.placed.before.chance, abs=1e-9)
    assert not np.allclose(ranged.placed.after.chance, before.placed.after.chance)


def test_a_reading_with_the_load_still_plugged_is_not_used_and_it_is_said(job):
    loaded = TAIL.replace(", metering valve unplugged", "")
    found = whereabouts(hear(job, f"millivolts F4.2 to X10.1 72{loaded}"), "29b")
    assert found is not None
    assert found.used == ()
    assert found.unused == (("f1", "metering valve not unplugged, so the current had another way"),)


def test_an_unknown_wire_is_named(job):
    with pytest.raises(KeyError, match="nowhere"):
        whereabouts(job, "nowhere")


def test_the_sentences_it_offers_range_the_line_when_the_figures_are_in(job):
    noted = hear(job, "fuse F4 blown")
    before = whereabouts(noted)
    assert before is not None
    assert before.say[0] == f"amps wire 29b ...{TAIL}"
    figures = ["4.4", "72", "20"]
    said = [one.replace("...", figure) for one, figure in zip(before.say, figures, strict=True)]
    after = whereabouts(hear(noted, *said), "29b")
    assert after is not None
    assert after.used == ("f3", "f4")
    assert after.placed.looks[0].spots == ("bonnet stay",)


def test_a_line_without_a_fuse_is_fed_from_the_battery(job):
    found = whereabouts(job, "26")
    assert found is not None
    assert (found.how.source, found.how.fed, found.how.pulled) == ("battery.+", "K4.87", "")
    assert found.how.unplugged == ("lift pump", "K4")
    assert found.how.steps[2] == (
        "Unplug K4. Feed K4 pin 87 (wire 26, green/red) from battery plus through a 10 A fuse and a "
        "55 W lamp."
    )
    said = [
        one.replace("...", figure) for one, figure in zip(found.say, ["4.4", "40"], strict=True)
    ]
    after = whereabouts(hear(job, *said), "26")
    assert after is not None
    assert after.used == ("f2",)
