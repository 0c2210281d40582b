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
    assert found.unused == (("f1", "metering valve not off, so the current had another way"),)


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
    feed = found.how.feed
    assert (feed.source, feed.touches, feed.fed) == ("battery.+", "K4.87", "K4.87")
    assert (feed.unplugged, feed.pulled) == (("K4", "lift pump"), ())
    assert found.how.steps[2] == (
        "Feed K4 pin 87 (wire 26, green/red) from battery plus through a 10 A fuse and a 55 W lamp."
    )
    figures = ["4.4", "40"]
    said = [one.replace("...", figure) for one, figure in zip(found.say, figures, strict=True)]
    after = whereabouts(hear(job, *said), "26")
    assert after is not None
    assert after.used == ("f2",)


def test_a_line_beyond_a_splice_is_fed_through_it_from_its_fuse(job):
    found = whereabouts(job, "33c")
    assert found is not None
    feed = found.how.feed
    assert (feed.fuse, feed.touches, feed.fed) == ("F5", "F5.2", "SP3:1")
    assert feed.unplugged == ("K5", "S2", "S3", "display")
    figures = ["4.4", "20"]
    said = [one.replace("...", figure) for one, figure in zip(found.say, figures, strict=True)]
    after = whereabouts(hear(job, *said), "33c")
    assert after is not None
    assert after.used == ("f2",)


def test_what_is_downstream_of_a_bar_is_pulled_and_the_key_feeds_it(job):
    found = whereabouts(job, "11a")
    assert found is not None
    assert found.how.feed.fuse == ""
    assert found.how.feed.pulled == ("F5", "F6", "F7", "F8", "F9")


def test_no_lamp_on_a_wire_that_is_grounded_by_design(job):
    found = whereabouts(job, "2")
    assert found is not None
    assert found.say == ()
    assert found.how.feed.barred == (
        "No lamp here: this wire is joined to metal as it should be, so a current does not tell a bare "
        "place from its own ground."
    )


def test_what_the_circuit_reads_over_a_short_is_ranged_to_where_it_put_it(job):
    """Every line of the demo machine that a fuse feeds: the circuit is solved with the lamp, the
    loads off and the wire shorted at its likeliest place; the readings lead back there."""
    tried = 0
    for wire in job.book.wires:
        found = whereabouts(job, wire)
        assert found is not None
        line, how, feed = found.placed.before.line, found.how, found.how.feed
        if feed.barred or line.wires[0] != wire or line.length_m < 0.5 or not feed.fuse:
            continue
        there = bp.Situation(
            key="run",
            pulled=frozenset(feed.pulled),
            unplugged=frozenset(feed.unplugged),
            fitted=(bp.Lead(kind=how.lamp, p=feed.source, n=feed.touches),),
        )
        for atom in job.circuit.defects.atoms:
            if "/to ground/" not in atom.id or atom.owners[0] not in [
                f"wire {w}" for w in line.wires
            ]:
                continue
            at_m = line.where(atom.places[0].section, atom.places[0].at_m)

            def reads(probe, atom=atom, there=there):
                return job.expect(probe, defect=atom.id, situation=there)[0].value

            amps = abs(
                reads(bp.Probe(kind="amps", p=line.wires[-1 if feed.fed == line.end else 0]))
            )
            if amps < 1.0:
                continue  # the key or a switch feeds it otherwise
            drops = tuple(
                bp.Drop(
                    p=one.p,
                    n=one.n,
                    volts=reads(bp.Probe(kind="volts", p=one.p, n=one.n)),
                    amps=amps,
                    fed=feed.fed,
                )
                for one in how.readings
            )
            placed = whereabouts(job, wire, drops).placed
            assert placed.within.from_m - 0.03 <= at_m <= placed.within.to_m + 0.03, atom.id
            tried += 1
    assert tried >= 15


def test_a_five_volt_line_is_ranged_with_a_milliohm_meter_from_both_ends(job):
    """At the hinge pin, 0.55 m into the hinge: 0.75 mm2 has 24.1 mohm a metre."""
    before = whereabouts(job, "41a")
    assert before is not None
    assert before.how.feed.by == "milliohm meter"
    assert before.how.feed.barred.startswith("No lamp here: ECU pin 44 (5 V group)")
    assert before.how.steps[:2] == (
        "Key off, wait 30 seconds.",
        "Lift the battery minus cable and keep it away from the post.",
    )
    assert before.how.hazards[0] == "ohms-live"
    line = before.placed.before.line
    at_m = line.where("hinge", 0.55)
    metre, short, contact = line.ohm_per_m[0], 0.03, 0.004
    ohms = [at_m * metre + short, (line.length_m - at_m) * metre + contact + short]
    said = [one.replace("...", f"{ohm:.3f}") for one, ohm in zip(before.say, ohms, strict=True)]
    after = whereabouts(hear(job, *said), "41a")
    assert after is not None
    assert after.used == ("f1", "f2")
    assert after.placed.looks[0].spots[0] == "hinge pin"
    assert after.placed.within.from_m <= at_m <= after.placed.within.to_m
