"""Base rates: their shapes, and the shares of root causes they give a usual machine."""

from __future__ import annotations

import pytest

from backprobe.kinds import GROUP, KINDS, ROLES, rates
from backprobe.kinds.records import CONTACT_CELLS

USUAL = {
    "battery": 1, "alternator": 1, "starter": 1, "isolator": 1, "key switch": 1, "fuse": 12,
    "fusible link": 2, "relay": 5, "suppressed relay": 1, "ground stud": 4, "ground strap": 2,
    "terminator": 2, "control unit": 1, "display": 1, "three-wire sensor": 7, "hall sensor": 1,
    "inductive sensor": 1, "thermistor": 3, "solenoid": 3, "PWM valve": 1, "pump": 1,
    "glow plug": 3,
}  # fmt: skip
"""A compact tracked machine with about 150 wires: how many parts of each kind."""

METRES = 372.0
"""150 wires of 1 m, and 25 places passed by some 6 wires each at 0.3 m x 5."""
PLUG_CONTACTS, SOCKET_CONTACTS, CRIMPS, LUGS, POSTS = 170, 45, 70, 34, 2
PLUGS, SOCKETS = 46, 18
SECTION_METRES = 24.0

CAUSES = {
    "battery and charging": 0.15,
    "wire": 0.22,
    "contact": 0.24,
    "ground": 0.12,
    "fuse, relay, key": 0.08,
    "sensor, actuator": 0.08,
    "CAN": 0.04,
    "unit": 0.01,
}
"""Shares of root causes among machines with several codes at once: common practice judgement
(the rest, fuel and mistakes in the book, is not electrical)."""


def own(kind: str) -> float:
    return sum(failure.rate for failure in KINDS[kind].failures)


def group_of(kind: str) -> str:
    if kind in ("battery", "alternator", "starter"):
        return "battery and charging"
    if kind in ("ground stud", "ground strap"):
        return "ground"
    if kind in ("fuse", "fusible link", "relay", "suppressed relay", "key switch", "isolator"):
        return "fuse, relay, key"
    if kind == "terminator":
        return "CAN"
    if kind in ("control unit", "display"):
        return "unit"
    return "sensor, actuator"


def expected() -> dict[str, float]:
    """Failures per 1000 machine years of the usual machine by root cause."""
    total = dict.fromkeys(CAUSES, 0.0)
    for kind, count in USUAL.items():
        total[group_of(kind)] += count * own(kind)
    total["wire"] += METRES * rates.WIRE_PER_METRE + SECTION_METRES * rates.SECTION_CUT.value
    whole = [rates.PLUG_OFF, rates.PLUG_HALF, rates.PLUG_WET]
    total["contact"] += PLUG_CONTACTS * rates.CONTACT.value + CRIMPS * rates.CRIMP.value
    total["contact"] += PLUGS * sum(rate.value for rate in whole)
    total["fuse, relay, key"] += SOCKET_CONTACTS * rates.CONTACT.value
    total["fuse, relay, key"] += SOCKETS * sum(
        rates.whole_plug_at(rate, "fuse").value for rate in whole
    )
    total["ground"] += 0.7 * LUGS * rates.LUG.value
    total["contact"] += 0.3 * LUGS * rates.LUG.value
    total["battery and charging"] += POSTS * rates.POST.value
    can = ("CAN high", "CAN low")
    total["CAN"] += 2 * sum(failure.rate for name in can for failure in ROLES[name].failures)
    total["unit"] += 2 * sum(failure.rate for failure in GROUP.failures)
    return total


@pytest.mark.parametrize("cause", CAUSES)
def test_a_usual_machine_shows_the_shares_of_root_causes_of_practice(cause: str) -> None:
    total = expected()
    share = total[cause] / sum(total.values()) * sum(CAUSES.values())
    assert share == pytest.approx(CAUSES[cause], rel=0.3, abs=0.005), f"{cause}: {share:.3f}"


def test_a_chafed_wire_becomes_what_practice_expects() -> None:
    """Short to ground .65, open .2, to another wire .1, high resistance .05; a touching pair of
    wires is met from both sides."""
    parts = (
        rates.WIRE_TO_GROUND.value,
        rates.WIRE_OPEN.value,
        2.0 * rates.WIRE_TO_WIRE.value,
        rates.WIRE_THIN.value,
    )
    assert sum(parts) == pytest.approx(rates.WIRE_PER_METRE)
    shares = [part / rates.WIRE_PER_METRE for part in parts]
    assert shares == pytest.approx([0.65, 0.20, 0.10, 0.05])
    assert 0.3 <= rates.WIRE_TO_GROUND.sometimes <= 0.5, "30-50 % come and go at first visit"


@pytest.mark.parametrize(
    ("exposure", "factor"),
    [("hinge", 5.0), ("edge", 5.0), ("clip", 5.0), ("splice", 5.0), ("hot", 3.0), ("wet", 3.0)],
)
def test_exposed_places_are_likelier_by_the_factors_of_practice(
    exposure: str, factor: float
) -> None:
    assert rates.exposure_factor(exposure) == factor


def test_an_unknown_exposure_changes_nothing() -> None:
    assert rates.exposure_factor("") == 1.0
    assert rates.condition_factor("", "wet") == 1.0
    assert rates.condition_factor("hinge", "moved") > 1.0
    assert rates.condition_factor("hinge", "wet") == 1.0


@pytest.mark.parametrize(
    "cells",
    [
        CONTACT_CELLS,
        rates.SHORT_CELLS,
        rates.THIN_CELLS,
        rates.HALF_MATED_CELLS,
        rates.WET_CELLS,
    ],
)
def test_severities_weigh_one_in_all(cells: tuple[object, ...]) -> None:
    assert sum(cell.weight for cell in cells) == pytest.approx(1.0)  # type: ignore[attr-defined]
    ohms = [cell.ohm for cell in cells]  # type: ignore[attr-defined]
    assert ohms == sorted(ohms)
    assert ohms[0] > 0.0


def test_each_joint_has_its_own_rate() -> None:
    assert rates.contact_at("plug", "plug") is rates.CONTACT
    assert rates.contact_at("splice", "crimp") is rates.CRIMP
    assert rates.contact_at("ground stud", "stud") is rates.LUG
    assert rates.contact_at("battery", "stud") is rates.POST


def test_a_socket_is_seldom_off_or_wet() -> None:
    assert rates.whole_plug_at(rates.PLUG_WET, "relay").value < rates.PLUG_WET.value
    assert rates.whole_plug_at(rates.PLUG_WET, "plug") is rates.PLUG_WET


def test_lead_acid_batteries_fail_as_the_handbook_says() -> None:
    """Degraded 70, short 20, intermittent 10 % (reliability handbook, failure modes)."""
    modes = {failure.name: failure.rate / own("battery") for failure in KINDS["battery"].failures}
    assert modes["discharged"] == pytest.approx(0.70, abs=0.03)
    assert modes["shorted cell"] == pytest.approx(0.20, abs=0.03)
    assert modes["open"] == pytest.approx(0.10, abs=0.03)


def test_relays_fail_as_the_handbook_says() -> None:
    """MIL-HDBK-338B: fails to trip .55, spurious .26, short .19."""
    modes = {failure.name: failure.rate / own("relay") for failure in KINDS["relay"].failures}
    assert modes["bad contact"] + modes["coil open"] == pytest.approx(0.55, abs=0.03)
    assert modes["stuck closed"] == pytest.approx(0.26, abs=0.03)
    assert modes["shorted turns"] == pytest.approx(0.19, abs=0.03)


def test_switches_fail_as_the_handbook_says() -> None:
    """MIL-HDBK-338B: open .65, sticks .19, short .16."""
    modes = {failure.name: failure.rate / own("switch") for failure in KINDS["switch"].failures}
    assert modes["bad contact"] == pytest.approx(0.65)
    assert modes["stuck closed"] == pytest.approx(0.19 + 0.16)
