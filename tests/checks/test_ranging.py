"""From the verdict to centimetres: worked examples, laws, and how often the stated piece holds."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backprobe.base.copper import wire_ohm
from backprobe.book import read_book
from backprobe.checks.ranging import Clamped, Drop, Ohms, Parted, ranged
from backprobe.suspects.along import at_spots, look_first, shortest, spread_along
from backprobe.suspects.line import line_between, line_of, reversed_line
from oracles.bench import Bench, battery, resistor

TEXT = """
machine example, 12 V
battery: battery 12 V, at box
G1: ground stud, on frame
battery.- > G1, 35 mm2, BK, wire 2
battery.+ > F7.1, 2.5 mm2, RD, wire 3
F7: fuse 10 A, at box
X20: plug 4 ways, at step
J3: splice, at ladder
F7.2 > X20.2 > horn.1, 1.0 mm2, BKYE, wire 50a / 50b
horn: horn 4 A, at nose
horn.2 > G1, 1.0 mm2, BN, wire 51
X20.3 > J3 > X21.1, 0.75 mm2, GN, wire 60a / 60b
X21: plug 2 ways, at nose
section ladder run: box to step, 1.2 m
section nose run: step to nose, 1.6 m
spot ladder lip: in ladder run at 0.5 m, edge
spot nose clip: in nose run at 1.0 m, clip
"""
PLACED = TEXT.replace("box to step", "F7 to X20").replace("step to nose", "X20 to horn")


@pytest.fixture(scope="module")
def book():
    found, problems = read_book(PLACED)
    assert found is not None, problems
    return found


@pytest.fixture(scope="module")
def line(book):
    return line_of(book, "50a")


def test_a_line_runs_on_through_plugs_metre_by_metre(line):
    assert line.wires == ("50a", "50b")
    assert line.length_m == pytest.approx(2.8)
    assert line.points["F7:2"].joints == 0
    assert (line.points["F7.2"].at_m, line.points["F7.2"].joints) == (0.0, 1)
    assert (line.points["X20.2a"].at_m, line.points["X20.2a"].joints) == (1.2, 1)
    assert (line.points["X20.2b"].at_m, line.points["X20.2b"].joints) == (1.2, 2)
    assert line.points["horn.1"].at_m == pytest.approx(2.8)
    assert [name for name, _ in line.landmarks] == ["F7", "X20", "horn"]
    assert line.where("nose run", 1.0) == pytest.approx(2.2)


def test_a_line_is_the_same_whichever_of_its_wires_is_asked(book, line):
    assert line_of(book, "50b") == line


def test_a_line_between_two_parts_goes_through_a_splice_and_ends_where_wire_ends(book):
    through = line_between(book, "X20", "X21")
    assert through is not None
    assert through.wires == ("60a", "60b")
    assert line_between(book, "F7", "X21") is None


def test_turning_a_line_twice_gives_it_back(line, book):
    assert reversed_line(book, reversed_line(book, line)) == line
    assert reversed_line(book, line).points["X20.2b"].at_m == pytest.approx(1.6)


# -- by hand ---------------------------------------------------------------------------------


def test_a_plain_line_looks_to_its_spots_by_their_metres(line):
    """Judged shares by hand: spots count 0.3 m x 5 = 1.5 m each, plain runs 1.2 and 1.6 m: each
    spot 1.5 / 5.8."""
    spots = at_spots(spread_along(line))
    assert [spot.chance for spot in spots] == pytest.approx([1.5 / 5.8] * 2)


def test_the_suspects_share_of_each_section_is_kept(line):
    told = {("50a", "ladder run"): 0.1, ("50b", "nose run"): 0.3}
    spread = spread_along(line, told)
    ladder = spread.chance[spread.at_m < 1.2].sum()
    assert ladder == pytest.approx(0.25)


def test_millivolts_over_amps_and_ohms_of_a_metre_by_hand(line):
    """IEC 60228 class 5 allows 19.5 mohm/m at 1 mm2 and 20 C; a metre of ours is 18.1, within it.
    4.6 A through 0.70 m of it and no contact: 4.6 x 0.0181 x 0.70 = 58.3 mV."""
    assert line.ohm_per_m[0] == pytest.approx(0.0181, rel=1e-3)
    assert line.ohm_per_m[0] < 0.0195
    found = ranged(
        spread_along(line), [Drop(p="F7.2", n="X20.2a", volts=0.0583, amps=4.6, fed="F7.2")]
    )
    assert found.within.from_m <= 0.70 <= found.within.to_m
    assert found.within.to_m - found.within.from_m < 0.25
    best = found.after.at_m[np.argmax(found.told[0].likelihood)]
    assert best == pytest.approx(0.70, abs=0.02)


def test_astm_b258_gauge_18_by_hand():
    """ASTM B258 and the usual table: solid 18 AWG is 6.385 ohm per 1000 ft = 20.95 mohm/m; stranded
    5 % more, 22.0. 1.75 A over 1.50 m: 57.7 mV, ranged to within a hand."""
    text = PLACED.replace("1.0 mm2, BKYE", "18 AWG, BKYE")
    book, problems = read_book(text)
    assert book is not None, problems
    line = line_of(book, "50a")
    assert line.ohm_per_m[0] == pytest.approx(1.05 * 6.385 / 304.8, rel=2e-3)
    contact = 1.75 * 0.0036
    reading = Drop(p="F7.2", n="horn.1", volts=0.0577 + contact, amps=1.75, fed="F7.2")
    found = ranged(spread_along(line), [reading])
    best = found.after.at_m[np.argmax(found.told[0].likelihood)]
    assert best == pytest.approx(1.50, abs=0.06)


def test_a_circuit_solved_another_way_is_ranged_to_where_it_was_shorted(line):
    """The whole loop as a bench of resistors: battery, 55 W lamp (2.6 ohm hot), contacts, wire,
    short, metal; read by a 10 Mohm meter."""
    at_m, metre = 2.2, wire_ohm(1e-6, 1.0)
    circuit = Bench(
        battery("0", "plus", 12.6),
        resistor("lamp", "plus", "F7:2", 12.0**2 / 55.0),
        resistor("socket", "F7:2", "F7.2", 0.003),
        resistor("50a", "F7.2", "X20.2a", 1.2 * metre),
        resistor("way 2", "X20.2a", "X20.2b", 0.003),
        resistor("50b", "X20.2b", "bare", (at_m - 1.2) * metre),
        resistor("short", "bare", "0", 0.05),
        resistor("beyond", "bare", "horn.1", 0.6 * metre),
        resistor("meter", "F7.2", "horn.1", 10e6),
    )
    amps = circuit.volts("plus", "F7:2") / (12.0**2 / 55.0)
    volts = circuit.volts("F7.2", "horn.1")
    found = ranged(
        spread_along(line), [Drop(p="F7.2", n="horn.1", volts=volts, amps=amps, fed="F7.2")]
    )
    assert found.looks[0].from_m <= at_m <= found.looks[0].to_m
    assert found.looks[0].spots == ("nose clip",)
    assert "in section nose run, at nose clip" in found.looks[0].words
    assert found.within.chance >= 0.8


def test_beyond_the_short_the_millivolts_stay_and_say_no_more_than_that(line):
    """From X20 to the horn without a millivolt: the short is before X20."""
    found = ranged(
        spread_along(line), [Drop(p="X20.2b", n="horn.1", volts=0.0, amps=4.6, fed="F7.2")]
    )
    assert found.after.chance[found.after.at_m < 1.25].sum() > 0.95


def test_two_ends_by_milliohms_cancel_the_short_itself(line):
    """x = (L + (Ra - Rb) / r) / 2 (the short's own ohms fall out): L 2.8 m, x 0.9 m."""
    metre = line.ohm_per_m[0]
    short = 0.08
    one = Ohms(p="F7.2", ohm=0.9 * metre + short)
    other = Ohms(p="horn.1", ohm=1.9 * metre + 0.003 + short)
    alone = ranged(spread_along(line), [one]).within
    both = ranged(spread_along(line), [one, other]).within
    assert both.from_m <= 0.9 <= both.to_m
    assert both.to_m - both.from_m < 0.5 * (alone.to_m - alone.from_m)


def test_clamp_and_plug_tell_the_side(line):
    spread = spread_along(line)
    gone = ranged(spread, [Parted(at="X20.2a", lamp_out=True, fed="F7.2")])
    stays = ranged(spread, [Parted(at="X20.2a", lamp_out=False, fed="F7.2")])
    beyond = spread.at_m > 1.2
    assert gone.after.chance[beyond].sum() > 0.95
    assert stays.after.chance[beyond].sum() < 0.05
    dead = Clamped(at=("nose run", 0.6), amps=0.0, fed="F7.2", fed_amps=4.6)
    live = Clamped(at=("nose run", 0.2), amps=4.5, fed="F7.2", fed_amps=4.6)
    between = ranged(spread, [live, dead]).within
    assert 1.3 <= between.from_m <= between.to_m <= 1.9


def test_two_readings_are_narrower_than_one(line):
    """The first piece by itself says what a metre reads on this loom today."""
    metre = line.ohm_per_m[0]
    near = Drop(p="F7.2", n="X20.2a", volts=4.6 * 1.2 * metre, amps=4.6, fed="F7.2")
    whole = Drop(p="F7.2", n="horn.1", volts=4.6 * (1.7 * metre + 0.003), amps=4.6, fed="F7.2")
    rest = Drop(p="X20.2b", n="horn.1", volts=4.6 * 0.5 * metre, amps=4.6, fed="F7.2")
    one, two = (ranged(spread_along(line), r).within for r in ([whole], [near, rest]))
    assert one.from_m <= 1.7 <= one.to_m
    assert two.from_m <= 1.7 <= two.to_m
    assert two.to_m - two.from_m < 0.5 * (one.to_m - one.from_m)


def test_a_poor_contact_on_the_way_widens_and_does_not_fool(line):
    """30 mohm in the plug is 1.7 m of wire: millivolts over ohms alone point 1.5 m too far."""
    metre = line.ohm_per_m[0]

    def drop(p, n, ohm):
        return Drop(p=p, n=n, volts=4.6 * ohm, amps=4.6, fed="F7.2")

    whole = drop("F7.2", "horn.1", 1.3 * metre + 0.030)
    plug = drop("X20.2a", "X20.2b", 0.030)
    alone = ranged(spread_along(line), [whole])
    both = ranged(spread_along(line), [whole, plug])
    assert alone.after.chance[alone.after.at_m < 2.2].sum() > 0.05, "it may be a poor contact"
    assert both.within.from_m <= 1.3 <= both.within.to_m
    assert both.within.to_m < 1.8

    around = [drop("F7.2", "X20.2a", 1.2 * metre), drop("X20.2b", "horn.1", 0.1 * metre)]
    sharp = ranged(spread_along(line), around).within
    assert sharp.from_m <= 1.3 <= sharp.to_m
    assert sharp.to_m - sharp.from_m < 0.5 * (both.within.to_m - both.within.from_m)


def test_a_contact_between_the_leads_widens(line):
    """The same metres, with the plug between the leads and without it."""
    metre = line.ohm_per_m[0]
    spread = spread_along(line, {("50b", "nose run"): 1.0})
    inside = Drop(p="X20.2b", n="horn.1", volts=4.6 * 0.4 * metre, amps=4.6, fed="F7.2")
    across = Drop(p="X20.2a", n="horn.1", volts=4.6 * (0.4 * metre + 0.003), amps=4.6, fed="F7.2")
    narrow, wide = (ranged(spread, [one]).within for one in (inside, across))
    assert wide.from_m <= 1.6 <= wide.to_m
    assert wide.to_m - wide.from_m > 2.0 * (narrow.to_m - narrow.from_m)


def test_a_reading_from_elsewhere_is_found_out(line):
    metre = line.ohm_per_m[0]
    good = [
        Drop(p="F7.2", n="X20.2a", volts=4.6 * 0.5 * metre, amps=4.6, fed="F7.2"),
        Drop(p="F7.2", n="X20.2b", volts=4.6 * 0.5 * metre, amps=4.6, fed="F7.2"),
        Parted(at="X20.2a", lamp_out=False, fed="F7.2"),
    ]
    odd = Drop(p="F7.2", n="horn.1", volts=0.25, amps=4.6, fed="F7.2")
    found = ranged(spread_along(line), [*good, odd])
    assert found.told[3].wrong > 0.9
    assert max(told.wrong for told in found.told[:3]) < 0.1
    assert found.within.from_m <= 0.5 <= found.within.to_m


def test_a_warm_loom_has_more_ohms_to_a_metre(line):
    reading = Drop(p="F7.2", n="horn.1", volts=0.12, amps=4.6, fed="F7.2")
    cold, warm = (
        ranged(spread_along(line), [reading], celsius=t).told[0].likelihood for t in (0.0, 80.0)
    )
    assert np.argmax(warm) < np.argmax(cold)


# -- laws ------------------------------------------------------------------------------------

volts = st.floats(0.0, 0.25)
place = st.sampled_from(["F7.2", "X20.2a", "X20.2b", "horn.1"])


@settings(max_examples=25, deadline=None)
@given(
    drops=st.lists(st.tuples(place, place, volts), min_size=1, max_size=3),
    fed=st.sampled_from(["F7:2", "horn:1"]),
    ohm=st.one_of(st.none(), st.floats(0.001, 5.0)),
)
def test_a_line_followed_from_its_other_end_gives_the_same_places(drops, fed, ohm):
    book, _ = read_book(PLACED)
    line = line_of(book, "50a")
    readings = [Drop(p=p, n=n, volts=v, amps=4.6, fed=fed) for p, n, v in drops]
    readings += [] if ohm is None else [Ohms(p="F7.2", ohm=ohm)]
    one = ranged(spread_along(line), readings)
    other = ranged(spread_along(reversed_line(book, line)), readings)
    assert other.after.chance == pytest.approx(one.after.chance[::-1], abs=1e-9)
    assert [s.chance for s in other.spots] == pytest.approx([s.chance for s in one.spots], abs=1e-9)


def test_nothing_read_leaves_the_chance_as_it_was(line):
    spread = spread_along(line)
    found = ranged(spread, [])
    assert found.after.chance == pytest.approx(spread.chance)
    assert found.within == shortest(spread)
    assert found.looks == look_first(spread)


# -- how often it holds -----------------------------------------------------------------------


@dataclass
class Truth:
    """A shorted line and what meters read on it, walked hop by hop."""

    line: object
    rng: np.random.Generator

    def __post_init__(self):
        rng, line = self.rng, self.line
        spread = spread_along(line)
        cell = rng.choice(spread.at_m.size, p=spread.chance)
        self.at_m = spread.at_m[cell] + (rng.random() - 0.5) * spread.step_m
        alike = (1 + 0.04 * rng.normal()) * (1 + 0.00393 * 12 * rng.normal())
        self.metre = [r * alike * (1 + 0.03 * rng.normal()) for r in line.ohm_per_m]
        poor = rng.random(len(line.joints)) < 0.1
        self.joint = [
            joint.ohm * (abs(10 + 6 * rng.normal()) if bad else exp(0.5 * rng.normal()))
            for joint, bad in zip(line.joints, poor, strict=True)
        ]
        cells = [(0.02, 3, 0.5), (1, 3, 0.14), (20, 3, 0.14), (300, 4, 0.12), (5e3, 4, 0.1)]
        ohm, spread_of, _ = cells[rng.choice(5, p=[c[2] for c in cells])]
        self.short = exp(log(ohm) + log(spread_of) * rng.normal())

    def ohms(self, p, n, fed):
        """Ohms of the path the current takes, as far as it lies between two places (p to the short
        when n is None)."""
        line = self.line
        low, high = sorted((self.at_m, fed.at_m))
        first, last = (p, n) if n is None or p.at_m <= n.at_m else (n, p)
        if n is not None:
            low, high = max(low, first.at_m), min(high, last.at_m)
        total = 0.0
        for number, metre in enumerate(self.metre):
            a, b = line.edges_m[number], line.edges_m[number + 1]
            total += metre * max(0.0, min(high, b) - max(low, a))
        for number, joint in enumerate(line.joints):
            inside = n is None or first.joints <= number < last.joints
            onward = fed.joints <= number and joint.at_m < self.at_m > fed.at_m
            back = number < fed.joints and joint.at_m > self.at_m < fed.at_m
            total += self.joint[number] * (inside and (onward or back))
        return total

    def drop(self, p, n, fed, told, true):
        points = self.line.points
        volts = true * (self.ohms(points[p], points[n], points[fed]) + self.ends())
        noisy = volts * (1 + 0.01 * self.rng.normal()) + 0.0003 * self.rng.normal()
        return Drop(p=p, n=n, volts=abs(noisy), amps=told, fed=fed)

    def ends(self):
        """2 cm more or less, in ohms."""
        return 0.02 * self.line.ohm_per_m[0] * self.rng.normal()

    def milliohms(self, p):
        point = self.line.points[p]
        ohm = self.ohms(point, None, point) + self.short * (1 + 0.05 * self.rng.normal())
        noisy = (ohm + self.ends()) * (1 + 0.02 * self.rng.normal()) + 0.0005 * self.rng.normal()
        return Ohms(p=p, ohm=max(0.0, noisy))


def readings_of(truth):
    """One to four readings as a technician would take them."""
    rng = truth.rng
    amps = 4.6
    true = amps * (1 + 0.03 * rng.normal())
    kind = rng.integers(4)
    spans = [("F7.2", "X20.2a"), ("X20.2b", "horn.1"), ("F7.2", "horn.1")]
    if kind == 0:
        return [truth.drop("F7.2", "horn.1", "F7.2", amps, true)]
    if kind == 1:
        return [truth.drop(*span, "F7.2", amps, true) for span in spans[:2]]
    if kind == 2 and truth.short < 10.0:
        return [truth.milliohms("F7.2"), truth.milliohms("horn.1")]
    at = float(rng.uniform(0.1, 1.5))
    flows = truth.at_m > 1.2 + at
    found = [truth.drop(*spans[2], "F7.2", amps, true)]
    seen = (true if flows else 0.0) * (1 + 0.05 * rng.normal()) + 0.1 * rng.normal()
    return [*found, Clamped(at=("nose run", at), amps=abs(seen), fed="F7.2", fed_amps=amps)]


def test_the_stated_piece_holds_the_damage_eight_times_in_ten(line):
    """300 shorts drawn from the shares; every error drawn as it is stated. Binomial: 75 to 85 %
    is two standard deviations either side."""
    held = hands = 0
    widths = []
    for seed in range(300):
        truth = Truth(line, np.random.default_rng(seed))
        found = ranged(spread_along(line), readings_of(truth))
        within = found.within
        held += within.from_m <= truth.at_m <= within.to_m
        hands += found.looks[0].from_m <= truth.at_m <= found.looks[0].to_m
        widths.append(within.to_m - within.from_m)
    assert 0.75 <= held / 300 <= 0.85
    assert hands / 300 > 0.6
    assert np.median(widths) < 0.35


@pytest.mark.parametrize("wrong", ["a poor plug", "a tenth more ohms", "no spot at all"])
def test_it_still_holds_seven_times_in_ten_when_the_book_is_a_little_wrong(line, wrong):
    held = 0
    for seed in range(100):
        truth = Truth(line, np.random.default_rng(seed))
        if wrong == "a poor plug":
            truth.joint[1] = 0.03 * abs(1 + 0.3 * truth.rng.normal())
        elif wrong == "a tenth more ohms":
            truth.metre = [1.1 * metre for metre in truth.metre]
        else:
            truth.at_m = truth.rng.uniform(0.0, line.length_m)
        within = ranged(spread_along(line), readings_of(truth)).within
        held += within.from_m <= truth.at_m <= within.to_m
    assert held >= 62, "seven times in ten less two standard deviations"
