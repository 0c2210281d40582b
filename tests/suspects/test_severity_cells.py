"""What a severity cell leaves open is one unknown, shared by all readings of a job."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.model import CodeRule, Test
from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import CodesFound, Reading
from backprobe.suspects.meters import METERS
from backprobe.suspects.severity import Ladder
from backprobe.suspects.weigh import weigh

CELLS = {"A": [(1.0, 2.0, 0.5), (4.0, 2.0, 0.5)], "B": [(1.0, 2.0, 0.5), (4.0, 2.0, 0.5)]}
READS = {"A": (10.0, 8.0), "B": (9.3, 6.5)}
ENDS = {"A": ((11.0, 10.0, 9.0), (9.0, 8.0, 7.0)), "B": ((10.65, 9.3, 7.9), (7.9, 6.5, 5.1))}
"""By hand: ln 2 is half of ln 4, so a cell reaches half the way to its neighbour; outwards as far, but
at most half the way to the healthy 12 V."""
HEALTHY = 12.0
PRESS = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
GP1: ground stud, on frame
X1: plug 2 ways
lamp 1: lamp 21 W, at lamp bar
G1.+ > F1 > X1.1 > lamp 1.1, 1.0 mm2, RD, wire 1a / 1b / 1c
lamp 1.2 > GP1, 1.0 mm2, BN, wire 2
GP1 > G1.-, 16 mm2, BK, wire 3
section trunk: F1 to X1, 4 m
"""


def two_suspects(bench: Any, places: int) -> Any:
    defects = bench.defects(bench.atom("A"), bench.atom("B"), cells=CELLS)
    row = [HEALTHY, *READS["A"], *READS["B"]]
    return bench.tables(defects, volts={f"X.{k}": row for k in range(places)})


def test_a_reading_moves_to_both_ends_of_its_cell(bench: Any) -> None:
    tables = two_suspects(bench, 1)
    mean = np.array(tables.volts["X.0"])
    up, down = Ladder(tables.defects).moves(mean)
    ends = np.array([*ENDS["A"], *ENDS["B"]])
    assert mean[1:] + down[1:] == pytest.approx(ends[:, 0])
    assert mean[1:] + up[1:] == pytest.approx(ends[:, 2])
    assert Ladder(tables.defects).width(mean)[1:] == pytest.approx(ends[:, 0] - ends[:, 2])


LAW = {"A": (6.0, 2.0), "B": (8.4045, 2.1127)}
"""By hand: 12 V less a s / (s + b), the law of a divider, through both rungs."""


PLACES = tuple(f"X.{k}" for k in range(5))


def by_law(atom: str, ohm: float) -> float:
    a, b = LAW[atom]
    return HEALTHY - a * ohm / (ohm + b)


def integral(law: tuple[float, float], value: float, times: int) -> float:
    """Chance density of `times` equal readings, the severity integrated out on a fine grid."""
    total, (a, b) = 0.0, law
    for rung, _, _ in CELLS["A"]:
        ohm = rung * 2.0 ** np.linspace(-1.0, 1.0, 4000)
        volts = HEALTHY - a * ohm / (ohm + b)
        sigma = np.hypot(METERS["meter"].floor, METERS["meter"].share * volts)
        density = np.exp(-0.5 * ((value - volts) / sigma) ** 2) / sigma
        total += 0.5 * float((density**times).mean())
    return total


@pytest.mark.parametrize("value", [9.05, 8.6, 10.4])
@pytest.mark.parametrize("times", [2, 5])
def test_readings_along_one_path_are_weighed_as_the_integral_over_severity(
    bench: Any, value: float, times: int
) -> None:
    """Without it every further reading of the same volts speaks for the suspect whose grid of
    severities happens to lie nearer."""
    laws = {
        f"X.{k}": lambda atom, ohm: HEALTHY - LAW[atom][0] * ohm / (ohm + LAW[atom][1])
        for k in range(times)
    }
    tables = replace(two_suspects(bench, times), laws=laws)
    readings = [Reading(id=f"r{k}", p=f"X.{k}", value=value) for k in range(times)]
    belief = weigh(bench.book(), tables, bench.job(*readings))
    chance = [float(belief.chance[belief.atom == number].sum()) for number in (1, 2)]
    expected = integral(LAW["A"], value, times) / integral(LAW["B"], value, times)
    assert np.log(chance[0] / chance[1]) == pytest.approx(np.log(expected), abs=0.35)


def test_the_hardest_short_alone_on_its_footing_is_open_to_both_sides(bench: Any) -> None:
    """By hand: 1 V of 5 is left at 15 ohm, of which the cell goes to a third and to three times: behind a
    resistance it goes with the 0.8th power of its ohms there."""
    cells = {"A": [(15.0, 3.0, 0.5), (50.0, 3.0, 0.5)]}
    ladder = Ladder(bench.defects(bench.atom("A"), cells=cells))
    up, down = ladder.moves(np.array([5.0, 1.0, 5.0]), np.array([5, 7, 5]))
    assert 1.0 + up[1] == pytest.approx(3.0**0.8)
    assert 1.0 + down[1] == pytest.approx(3.0**-0.8)


def test_between_two_severities_a_unit_may_still_be_on(bench: Any) -> None:
    """Worked out: a cell of 2.5 ohm goes 44 % of the way to 15 ohm. On that side, half of the cell, what gives
    in anywhere on the way has given in at the mean of all shares of the way up to there. Where nothing
    differs nothing is mixed, exact severities never are."""
    cells = {"A": [(0.5, 2.2, 0.3), (2.5, 2.2, 0.3), (15.0, 2.2, 0.2), (np.inf, 1.0, 0.2)]}
    ladder = Ladder(bench.defects(bench.atom("A"), bench.atom("B"), cells=cells))
    on = ladder.beside(np.array([1.0, 1.0, 1.0, 0.0, 0.0, 0.0]))
    share = np.linspace(0.0, np.log(2.2) / np.log(6.0), 100_001)
    early = 0.5 * float(share.mean())
    assert share[-1] == pytest.approx(0.44, abs=0.001)
    assert on == pytest.approx([1.0, 1.0, 1.0 - early, early, 0.0, 0.0], abs=1e-6)


def test_a_code_between_the_severities_that_set_it_and_reset_its_unit(bench: Any) -> None:
    """At 2.5 ohm the supply is not low yet, at 15 ohm the unit is off: in between it says so. Before, the
    list left next to nothing of it beside a suspect that sets no code at all."""
    cells = {"A": [(0.5, 2.2, 0.3), (2.5, 2.2, 0.4), (15.0, 2.2, 0.3)]}
    defects = bench.defects(bench.atom("A"), bench.atom("B"), cells=cells)
    off = {("U", "power"): [1, 1, 1, 0, 1]}
    low, rail = (
        CodeRule(unit="U", code=kind, words=kind, tests=(Test(kind=kind, low=9.0, other="A"),))
        for kind in ("supply", "rail")
    )
    volts = {"U:supply": [12.0, 11.5, 10.0, 8.0, 12.0], "U:group A": [12.0, 12.0, 12.0, 0.0, 12.0]}
    tables = bench.tables(defects, volts=volts, states=off)
    chance = {}
    for rule in (low, rail):
        found = CodesFound(id="c", unit="U", active=(rule.code,), situation=Situation(key="on"))
        belief = weigh(bench.book(rule), tables, bench.job(found))
        chance[rule.code] = belief.chance[belief.atom == 1].sum()
    assert chance["supply"] > 0.85
    # Its 5 V are gone because it is off: they are not while it can still say so.
    assert chance["rail"] < 0.2


def test_a_severity_between_two_is_weighed_by_readings_along_one_path(bench: Any) -> None:
    """Four readings of one resistance of 5 ohm, between rungs of 2.5 and 15, each over another load:
    straight lines in ln(ohm) are off by several errors of the meter, each by its own."""
    cells = {n: [(o, 2.2, 0.25) for o in (0.1, 0.5, 2.5, 15.0)] for n in ("A", "B")}
    defects = bench.defects(bench.atom("A"), bench.atom("B"), cells=cells)
    ohms = np.array([0.1, 0.5, 2.5, 15.0])
    volts, laws, readings = {}, {}, []
    for k, load in enumerate((1.0, 3.0, 8.0, 20.0)):

        def law(atom: str, ohm: float, k: int = k, load: float = load) -> float:
            # B tells nothing of the first two, A of none of them too little.
            return 12.0 if atom == "B" and k < 2 else 12.0 * load / (load + ohm)

        volts[f"X.{k}"] = [12.0, *(law(atom, ohm) for atom in cells for ohm in ohms)]
        laws[f"X.{k}"] = law
        readings.append(Reading(id=f"r{k}", p=f"X.{k}", value=12.0 * load / (load + 5.0)))
    tables = bench.tables(defects, volts=volts, laws=laws)
    belief = weigh(bench.book(), tables, bench.job(*readings))
    assert belief.chance[belief.atom == 1].sum() > 0.95


def test_where_a_fuse_blows_a_reading_jumps_and_is_not_smeared(bench: Any) -> None:
    """By hand: bare metal at 1 ohm has blown the fuse, at 4 ohm it has not; 0 V is 0 V, and no figure
    in between is read."""
    tables = two_suspects(bench, 1)
    mean = np.array([HEALTHY, 0.0, 11.0, 9.3, 6.5])
    stand = np.array([7, 5, 7, 7, 7])
    up, down = Ladder(tables.defects).moves(mean, stand)
    assert up[1] == down[1] == 0.0
    assert up[2] == down[2] == 0.0
    smooth = Ladder(tables.defects).moves(mean)
    assert (up[3:].tolist(), down[3:].tolist()) == (smooth[0][3:].tolist(), smooth[1][3:].tolist())
    assert smooth[0][1] == pytest.approx(5.5)


def test_a_reading_drifts_on_where_something_else_gives_in(bench: Any) -> None:
    """By hand: a unit resets between 1 and 4 ohm, the reading goes from 2 V off to 4 V off, less than
    the ohms would let it. The mild end then reaches half the way to the healthy 12 V."""
    tables = two_suspects(bench, 1)
    mean = np.array([HEALTHY, *READS["A"], *READS["B"]])
    up, down = Ladder(tables.defects).moves(mean, np.array([7, 7, 5, 7, 7]))
    smooth = Ladder(tables.defects).moves(mean)
    assert (up[1], down[2]) == pytest.approx((-1.0, 1.0))
    assert down[1] == pytest.approx(1.0)
    assert (up[3:].tolist(), down[3:].tolist()) == (smooth[0][3:].tolist(), smooth[1][3:].tolist())


def test_a_reading_goes_on_up_to_where_it_jumps(bench: Any) -> None:
    """By hand: ground volts of a unit, 0.5 V at 0.1 ohm and 2 V at 0.4 ohm, fall to 0.3 V where it
    resets, by 1.6 ohm: until then they go with the ohms, to 8 V, and no figure between is odd."""
    cells = {"G1": [(0.1, 2.0, 0.3), (0.4, 2.0, 0.3), (1.6, 2.0, 0.2), (6.4, 2.0, 0.2)]}
    defects = bench.defects(bench.atom("G1"), cells=cells)
    stand = np.array([7, 7, 7, 5, 4])
    up, down = Ladder(defects).moves(np.array([0.0, 0.5, 2.0, 0.3, 12.0]), stand)
    assert up[2] == pytest.approx(6.0)
    assert down[3] > -0.3  # alone on its footing, it does not go below nothing
    low, _ = Ladder(defects).moves(np.array([0.0, 0.5, 2.0, 0.3, 5.0]), stand)
    assert low[2] == pytest.approx(3.0)  # no further than with the worst of all


def test_a_severity_alone_on_its_footing_goes_as_a_divider_does(bench: Any) -> None:
    """By hand: 12 V behind 0.5 ohm into 0.4 ohm, where neither the milder nor the harder severity beside it
    leaves the relays as they are; from the load's side and from the contact's own."""
    cells = {"lug": [(0.1, 2.0, 0.3), (0.5, 2.0, 0.3), (2.5, 2.0, 0.2), (np.inf, 1.0, 0.2)]}
    ladder = Ladder(bench.defects(bench.atom("lug"), cells=cells))
    stand = np.array([7, 7, 5, 4, 4])
    load = {times: 12.0 * 0.4 / (0.4 + 0.5 * times) for times in (0.5, 1.0, 2.0)}
    lost = {times: 12.0 - volts for times, volts in load.items()}
    for volts, healthy, harder, worst in ((load, 12.0, 9.0, 0.0), (lost, 0.0, 3.0, 12.0)):
        up, down = ladder.moves(np.array([healthy, healthy, volts[1.0], harder, worst]), stand)
        assert volts[1.0] + up[2] == pytest.approx(volts[2.0])
        assert volts[1.0] + down[2] == pytest.approx(volts[0.5])


def test_a_reading_that_comes_back_as_the_defect_gets_worse_has_jumped(bench: Any) -> None:
    """By hand: ground volts rise with the ohms, 1 V, 4 V; at 5 ohm lamps have gone out and 2 V are left. That
    says nothing of what is read at 2 ohm: more than 4 V."""
    cells = {"lug": [(0.2, 2.2, 0.3), (1.0, 2.2, 0.3), (5.0, 2.2, 0.2), (np.inf, 1.0, 0.2)]}
    ladder = Ladder(bench.defects(bench.atom("lug"), cells=cells))
    up, _ = ladder.moves(np.array([0.0, 1.0, 4.0, 2.0, 12.0]), np.array([7, 7, 7, 5, 4]))
    assert up[2] > 2.0


def test_what_a_short_leaves_of_a_limited_rail_goes_with_the_ohms_until_it_is_held(
    bench: Any,
) -> None:
    """By hand: a supply limited to 0.1 A keeps 0.1 V over 1 ohm and 2 V over 20 ohm, where another
    one is not limited any more: 0.75 V is a short of 7.5 ohm, and no code of less than 0.5 V is sure."""
    cells = {"5 V": [(0.05, 3.0, 0.3), (1.0, 3.0, 0.3), (20.0, 3.0, 0.4)]}
    defects = bench.defects(bench.atom("5 V"), cells=cells)
    stand = np.array([7, 5, 5, 7])
    up, down = Ladder(defects).moves(np.array([5.0, 0.005, 0.1, 5.0]), stand)
    assert up[2] == pytest.approx(1.9)
    assert down[3] == 0.0


def test_a_drift_without_ohms_is_half_as_much_or_half_as_much_again(bench: Any) -> None:
    """By hand: a rail that should have 5 V and is given as 4.4 V may have 4.1 or 4.7 V."""
    defects = bench.defects(bench.atom("5 V"), cells={"5 V": [(1.0, 2.0, 1.0)]})
    up, down = Ladder(defects).moves(np.array([5.0, 4.4]))
    assert (up[1], down[1]) == pytest.approx((-0.3, 0.3))


def test_the_worst_rung_reaches_away_from_healthy_though_it_resets_a_unit(bench: Any) -> None:
    tables = two_suspects(bench, 1)
    mean = np.array([HEALTHY, *READS["A"], *READS["B"]])
    up, _ = Ladder(tables.defects).moves(mean, np.array([7, 7, 5, 7, 7]))
    assert up[2] == pytest.approx(Ladder(tables.defects).moves(mean)[0][2])
    assert up[2] < 0.0


def test_a_flat_battery_that_resets_a_unit_is_found_by_one_reading(bench: Any) -> None:
    """Cranking volts between those of two severities, of which the worse one resets the unit: no
    bad lug beside it takes them away from the battery."""
    cells = {"battery": [(0.02, 2.0, 0.5), (0.08, 2.0, 0.5)], "lug": [(0.02, 2.0, 1.0)]}
    defects = bench.defects(bench.atom("battery"), bench.atom("lug"), cells=cells)
    tables = bench.tables(defects, volts={"K1.87": [10.6, 7.5, 4.3, 9.0]})
    stands = replace(tables, stand=(7, 7, 5, 7))
    reading = Reading(id="r", p="K1.87", value=6.1)
    chance = [weigh(bench.book(), one, bench.job(reading)).chance[1] for one in (tables, stands)]
    assert min(chance) > 0.75


def test_a_short_that_blew_its_fuse_is_believed_as_a_broken_fuse_is() -> None:
    """By hand: no volts behind the fuse, its element open or the lead on metal; how often each comes
    decides, and a further reading of 0 V leaves it there."""
    book, problems = read_book(PRESS, "press")
    assert book is not None, problems
    circuit = Circuit.of(book)
    chance = []
    for count in (1, 3):
        places = ("F1.2", "X1.1a", "lamp 1.1")[:count]
        on = Situation(key="on")
        job = fold([Reading(id=p, p=p, value=0.0, situation=on) for p in places])
        belief = weigh(book, circuit, job)
        by_name = {
            a.id: belief.hypothesis[circuit.defects.atom_of == n].sum()
            for n, a in enumerate(circuit.defects.atoms)
        }
        shorts = sum(c for name, c in by_name.items() if name.startswith("wire 1b/to ground"))
        chance.append(shorts / by_name["F1/open"])
    rate = {a.id: a.rate for a in circuit.defects.atoms}
    shorts = sum(r for name, r in rate.items() if name.startswith("wire 1b/to ground"))
    assert chance[0] > 0.3 * shorts / rate["F1/open"]
    assert chance[1] == pytest.approx(chance[0], rel=0.3)
