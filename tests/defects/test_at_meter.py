"""What a voltmeter shows of a lamp that is hardly lit, a bus that talks, a sensor that gives alternating
volts."""

from __future__ import annotations

from math import isnan, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.checks.layout import layout_of
from backprobe.checks.outcomes import Forecast
from backprobe.checks.readings import reading
from backprobe.checks.stories import stories_of
from backprobe.defects.model import TEMPERATURE_SD, Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Reading
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text
from backprobe.shop.expect import expect
from backprobe.suspects.meters import noise
from backprobe.suspects.readings import reading_factor
from backprobe.suspects.view import View
from backprobe.suspects.weigh import weigh

HEALTHY = np.zeros(1, np.int64)
SPREAD = np.array([0.3, 0.3, TEMPERATURE_SD])


@pytest.fixture(scope="module")
def dumper() -> Circuit:
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    return Circuit.of(book)


def volts(p: str, n: str = "battery minus") -> Probe:
    return Probe(kind="volts", p=p, n=n)


def off_by(circuit: Circuit, probe: Probe, there: Situation, value: float, row: int = 0) -> float:
    """By how many standard deviations a meter that shows `value` is off what a hypothesis reads."""
    seen = circuit.within(np.unique([0, row])).seen(there, [probe])
    mean, slope = seen.mean[-1, 0], seen.slope[-1, 0]
    own = float(noise("meter", np.array(mean), 0.01))
    return abs(value - mean) / sqrt(own + float(((slope * SPREAD) ** 2).sum()))


def hypothesis(circuit: Circuit, atom: str) -> int:
    """The worst severity of a defect."""
    names = [a.id for a in circuit.defects.atoms]
    return int(np.flatnonzero(circuit.defects.atom_of == names.index(atom))[0])


# -- a lamp ---------------------------------------------------------------------------------
FITTED = Lead(kind="lamp 55 W", p="F5.1", n="F5.2")
BEHIND = Situation(
    key="on", pulled=frozenset({"F5"}), unplugged=frozenset({"K5"}), fitted=(FITTED,)
)
SOCKET = volts("F5.1", "F5.2")


def by_the_law(feed: float, ohm: float, rated: float = 12.0, watts: float = 55.0) -> float:
    """Volts across a filament behind so many ohms: amperes to the power 0.55 of the volts (illuminating
    engineers' handbooks, from memory), solved by another way."""

    def too_many(v: float) -> float:
        return v + ohm * watts / rated * (v / rated) ** 0.55 - feed

    return float(brentq(too_many, 1e-9, feed))


def test_a_lamp_behind_24_ohms_is_nearly_cold(dumper: Circuit) -> None:
    """12 V 55 W behind the coils of what F5 still feeds: 0.21 V by the law of filaments, 1.24 V at its
    hot ohms."""
    healthy = dumper.within(HEALTHY).seen(BEHIND, [SOCKET])
    hot = 12.6 * 2.618 / 1.24 - 2.618
    assert healthy.mean[0, 0] == pytest.approx(by_the_law(12.6, hot), rel=0.15)
    assert off_by(dumper, SOCKET, BEHIND, 0.21) < 1.0
    assert off_by(dumper, SOCKET, BEHIND, 1.24) > 3.0
    assert off_by(dumper, SOCKET, BEHIND, 12.3) > 20.0


def test_a_lamp_on_a_short_is_as_bright_as_ever(dumper: Circuit) -> None:
    """Nothing else limits its current: it has the battery's volts, and 0.21 V is not that."""
    names = [a.id for a in dumper.defects.atoms if a.id.startswith("wire 31a/to ground")]
    short = hypothesis(dumper, names[0])
    assert off_by(dumper, SOCKET, BEHIND, 12.4, short) < 2.0
    assert off_by(dumper, SOCKET, BEHIND, 0.21, short) > 20.0


# -- a bus ----------------------------------------------------------------------------------
ON = Situation(key="on")


@pytest.mark.parametrize(
    ("pin", "value"), [("ECU.71", 2.1), ("ECU.71", 2.4), ("ECU.70", 2.9), ("display.3", 2.6)]
)
def test_a_busy_bus_is_a_healthy_one(dumper: Circuit, pin: str, value: float) -> None:
    """Running machines show low 1.7-2.3, high 2.7-3.3 (a tractor maker's page)."""
    assert off_by(dumper, volts(pin), ON, value) < 2.0


@pytest.mark.parametrize("pin", ["ECU.70", "ECU.71", "display.3", "display.4"])
@pytest.mark.parametrize("value", [0.0, 0.7, 5.0, 12.4])
def test_a_held_line_is_no_busy_one(dumper: Circuit, pin: str, value: float) -> None:
    """Low to ground 0 V, high to ground 0.3-0.5 V, either to the battery its volts (car maker's CAN
    table)."""
    assert off_by(dumper, volts(pin), ON, value) > 5.0


def test_high_is_not_low(dumper: Circuit) -> None:
    """However busy, high is above low; with the key off nothing talks."""
    assert off_by(dumper, volts("ECU.70", "ECU.71"), ON, 0.8) < 2.0
    assert off_by(dumper, volts("ECU.70", "ECU.71"), ON, 2.5) > 4.0
    assert off_by(dumper, volts("ECU.71"), Situation(key="off"), 0.25) > 5.0


def test_a_pair_shorted_together_stays_at_rest(dumper: Circuit) -> None:
    """High to low: both 2.45 V (car maker's CAN table), busy or not."""
    pair = hypothesis(dumper, "ECU.70/pair shorted")
    assert off_by(dumper, volts("ECU.70"), ON, 2.5, pair) < 2.0
    assert off_by(dumper, volts("ECU.70"), ON, 2.9, pair) > 4.0


# -- alternating volts ----------------------------------------------------------------------
TURNING = [Situation(key="crank"), Situation(key="run")]
PLACES = [
    ("crank sensor.1", "battery minus"),
    ("X10.16a", "battery minus"),
    ("ECU.34", "ECU.35"),
]


@pytest.mark.parametrize("there", TURNING, ids=lambda s: s.key)
@pytest.mark.parametrize(("p", "n"), PLACES)
def test_no_steady_volts_are_expected_of_alternating_ones(
    dumper: Circuit, there: Situation, p: str, n: str
) -> None:
    """A direct-current range shows their mean, about 0. Common practice, no source."""
    (row,) = expect(dumper, volts(p, n), defect="healthy", situation=there)
    assert isnan(row.value)
    assert not row.steady
    layout, belief = layout_of(dumper.book, KINDS), weigh(dumper.book, dumper, fold([]))
    stories = stories_of(dumper.defects, belief)
    near = dumper.within(stories.rows, rough=True)
    check = reading(layout, "volts", volts(p, n), there)
    assert Forecast(dumper.book, near, stories).of([check]) == (None,)


def test_what_the_unit_senses_of_them_stays(dumper: Circuit) -> None:
    """2 V over its pair, less what its input loads."""
    pair = Probe(kind="inner", p="ECU:34", n="ECU:35")
    for there in TURNING:
        assert dumper.within(HEALTHY).seen(there, [pair]).mean[0, 0] == pytest.approx(2.0, abs=0.1)


@pytest.mark.parametrize(
    "there", [ON, Situation(key="crank", unplugged=frozenset({"crank sensor"}))]
)
def test_steady_volts_are_read_where_nothing_alternates(dumper: Circuit, there: Situation) -> None:
    seen = dumper.within(HEALTHY).seen(there, [volts("ECU.34")])
    assert np.isfinite(seen.mean).all()


@pytest.mark.parametrize("value", [0.0, -0.96, 2.0])
def test_a_figure_typed_all_the_same_says_nothing(dumper: Circuit, value: float) -> None:
    """Neither for nor against any suspect."""
    found = Reading(id="r", p="ECU.34", n="ECU.35", value=value, situation=TURNING[0])
    view = View(dumper.book, dumper.within(np.arange(40)))
    reading_factor(view, found, found.situation)  # asks
    view.fetch()
    factor = reading_factor(view, found, found.situation)
    assert factor is not None
    assert np.ptp(factor.present) == np.ptp(factor.gone) == 0.0
    assert factor.present.max() == pytest.approx(1.0)
