"""Copper wire: what it resists and what it carries. SI: ohm, m, m2, A, kelvin or Celsius."""

from __future__ import annotations

from typing import Final

RESISTIVITY: Final = 17.241e-9
"""Annealed copper, 100 % IACS, ohm m at 20 C. IEC 60028."""

TEMPERATURE_COEFFICIENT: Final = 0.00393
"""Of annealed copper, 1/K at 20 C. IEC 60028."""

STRANDING: Final = 1.05
"""Extra length of the strands in flexible wire (IEC 60228 class 5). Cable-engineering practice
gives 1.05 to 1.08; 1.05 keeps every size below the class 5 limit."""

CARRIES: Final[tuple[tuple[float, float], ...]] = (
    (0.5, 11.0),
    (0.75, 14.0),
    (1.0, 16.5),
    (1.5, 21.0),
    (2.0, 25.0),
    (2.5, 29.0),
    (3.0, 33.0),
    (4.0, 39.0),
    (6.0, 50.0),
    (8.5, 63.0),
    (10.0, 70.0),
)
"""mm2 and continuous amperes of thin-wall ISO 6722 class B wire. A cable maker's catalogue table
(MK Global); the standard itself gives no currents."""

AMPS_PER_MM2: Final = 5.0
"""Rule of thumb for continuous current in wire too thick for the table. A published workshop
page (kewet.de electrical notes)."""

SIZES_MM2: Final = (
    0.5,
    0.75,
    1.0,
    1.5,
    2.0,
    2.5,
    3.0,
    4.0,
    6.0,
    10.0,
    16.0,
    25.0,
    35.0,
    50.0,
    70.0,
)
"""Usual metric wire sizes, mm2."""


def wire_ohm(area_m2: float, length_m: float, celsius: float = 20.0) -> float:
    """Resistance of a flexible copper wire, ohm: 17.241 * 1.05 / A (mm2) ohm per km at 20 C."""
    warm = 1.0 + TEMPERATURE_COEFFICIENT * (celsius - 20.0)
    return RESISTIVITY * STRANDING * length_m / area_m2 * warm


def carries(area_m2: float) -> float:
    """Continuous amperes a wire carries: the catalogue table, linear in between and below;
    above 10 mm2 the rule of 5 A/mm2, but never less than the table's last figure."""
    mm2 = area_m2 * 1e6
    (low, low_a), *rest = CARRIES
    if mm2 <= low:
        return low_a * mm2 / low
    for high, high_a in rest:
        if mm2 <= high * (1 + 1e-9):
            return low_a + (high_a - low_a) * (mm2 - low) / (high - low)
        low, low_a = high, high_a
    return max(low_a, AMPS_PER_MM2 * mm2)


def smallest_for(fuse_a: float) -> float:
    """The smallest usual wire size, m2, that a fuse of so many amperes protects."""
    for mm2 in SIZES_MM2:
        if carries(mm2 * 1e-6) >= fuse_a - 1e-9:
            return mm2 * 1e-6
    return max(SIZES_MM2[-1], fuse_a / AMPS_PER_MM2) * 1e-6
