"""What is known of a plug because somebody had it in his hands."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.findings.model import Act, Failing, Looked, Reading
from backprobe.suspects.looks import change_of
from backprobe.suspects.weigh import weigh

ON = Situation(key="on")
OFF = Situation(key="off")


@pytest.fixture
def plugged(bench: Any) -> Any:
    """A sensor with its plug: five things that may be wrong with either."""
    plug = {"group": "plug at sensor", "owners": ("sensor",)}
    return bench.defects(
        bench.atom("sensor drifts", group="sensor", owners=("sensor",)),
        bench.atom("off", kind="plug off", visible=0.95, **plug),
        bench.atom("half home", kind="half mated", visible=0.7, **plug),
        bench.atom("green pin", kind="bad contact", visible=0.5, **plug),
        bench.atom("water", kind="wet plug", visible=0.7, **plug),
    )


def ended(defects: Any, target: str) -> set[str]:
    change = change_of(defects, Act(act="replaced", target=target))
    return {defects.atoms[k].id for k in np.unique(defects.atom_of[change.mended])}


def test_a_new_part_ends_a_loose_plug_but_not_bad_pins_or_water(plugged: Any) -> None:
    # Common practice: the plug is pushed home with the new part; the loom's side stays as it was.
    assert ended(plugged, "sensor") == {"sensor drifts", "off", "half home"}
    assert ended(plugged, "plug at sensor") == {"off", "half home", "green pin", "water"}


def test_a_part_replaced_in_vain_leaves_its_bad_pins_in_the_lead(bench: Any, plugged: Any) -> None:
    predictor = bench.tables(plugged, volts={"A": [5.0, 0.6, 5.0, 5.0, 0.6, 5.0]})
    low = Reading(p="A", value=0.6, situation=ON)
    job = bench.job(
        low,
        Act(act="repaired", target="sensor", visit=2),
        Failing(answer="yes", visit=2, situation=ON),
        Reading(p="A", value=0.6, visit=2, situation=ON),
    )
    belief = weigh(bench.book(), predictor, job)
    chance = [float(belief.chance[belief.atom == n].sum()) for n in range(6)]
    assert chance[4] > 0.8
    assert chance[1] < 0.1


def without_a_word(bench: Any, plugged: Any, *more: Any) -> np.ndarray:
    """Chance of every defect once the sensor was unplugged, over the chance before."""
    flat = bench.tables(plugged, volts={"A": [5.0] * 6})
    pulled = Situation(key="on", unplugged=frozenset({"sensor"}))
    found = weigh(bench.book(), flat, bench.job(Reading(p="A", value=5.0, situation=pulled), *more))
    before = weigh(bench.book(), flat, bench.job(*more))
    ratio = found.chance / before.chance
    return ratio[:6] / ratio[0]


def test_who_pulls_a_plug_without_a_word_found_it_home(bench: Any, plugged: Any) -> None:
    # By hand: what is seen of it 95 and 70 times in 100 was not there.
    assert without_a_word(bench, plugged) == pytest.approx([1, 1, 0.05, 0.3, 1, 1], rel=1e-6)


def test_what_was_looked_at_is_not_told_twice(bench: Any, plugged: Any) -> None:
    for damage in (True, False):
        look = Looked(target="plug at sensor", damage=damage, situation=OFF)
        assert without_a_word(bench, plugged, look) == pytest.approx([1] * 6, rel=1e-6)


def test_a_plug_is_only_pulled_for_the_first_time_once(bench: Any, plugged: Any) -> None:
    pulled = Situation(key="on", unplugged=frozenset({"sensor"}))
    again = Reading(p="A", value=5.0, situation=pulled)
    assert without_a_word(bench, plugged, again) == pytest.approx([1] * 6, rel=1e-6)
