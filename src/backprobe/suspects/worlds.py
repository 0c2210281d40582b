"""The few unknowns all readings of a job share, as a handful of worlds.

Battery voltage, the quality of all healthy contacts and the temperature of the copper shift many
readings together. Taken as independent errors they would make two readings look like twice the
evidence; taken as worlds they do not. A world is one point of a normal quantiser: the real line
is cut into cells, each stands for its mean, keeps its weight, and what it blurs is added to the
variance of every reading.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from backprobe.defects.model import TEMPERATURE_SD, Floats

BATTERY_SD = 0.3 / 12.0
"""Standard deviation of the battery's own voltage per volt of the system. Judgement: 11.9 to
12.9 V is what a parked 12 V machine is usually found with."""
CONTACTS_SD = 0.5
"""Standard deviation of ln(scale of all healthy contacts). Judgement."""
COARSE = (5, 2)
"""Cells for battery and contacts while every hypothesis is in play."""
FINE = (41, 3)
"""Cells for the likeliest hypotheses. Few wide cells mistake "the battery is between two points"
for evidence: with five, one of two suspects .25 V apart is claimed in a third of all cases."""
FINE_REACH = 3.0
"""Fine cells are even out to so many standard deviations."""

EDGES = {
    1: (),
    2: (0.0,),
    3: (-0.6120, 0.6120),
    5: (-1.2444, -0.3823, 0.3823, 1.2444),
}
"""Cell edges of the normal quantiser with the least mean square error, by number of cells.
Source: J. Max, Quantizing for Minimum Distortion, IRE Trans. Inf. Theory, 1960, table I."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worlds:
    """W worlds. `points` (W, 3) in the units of defects.SLOPES; `weight` (W,) sums to 1; `left`
    (3,) the variance of each unknown that stays within a world."""

    points: Floats
    weight: Floats
    left: Floats


def quantised(cells: int) -> tuple[Floats, Floats, float]:
    """Means and weights of the cells of a standard normal, and the variance left within them."""
    inner = EDGES[cells] if cells in EDGES else np.linspace(-FINE_REACH, FINE_REACH, cells - 1)
    edges = np.array([-np.inf, *inner, np.inf])
    weight = np.diff(ndtr(edges))
    density = np.exp(-0.5 * edges**2) / np.sqrt(2.0 * np.pi)
    means = -np.diff(density) / weight
    return means, weight, float(1.0 - np.sum(weight * means**2))


def worlds(volts: float, battery: int, contacts: int) -> Worlds:
    """The worlds of a `volts` system by the number of cells of each unknown; one cell for what no
    reading of the job feels. Temperature always stays a blur."""
    b, b_weight, b_left = quantised(battery)
    c, c_weight, c_left = quantised(contacts)
    points = np.zeros((b.size * c.size, 3))
    points[:, 0] = np.repeat(b, c.size) * BATTERY_SD * volts
    points[:, 1] = np.tile(c, b.size) * CONTACTS_SD
    left = np.array([BATTERY_SD * volts, CONTACTS_SD, TEMPERATURE_SD]) ** 2
    return Worlds(
        points=points,
        weight=np.outer(b_weight, c_weight).ravel(),
        left=left * np.array([b_left, c_left, 1.0]),
    )
