"""How instruments err, and what a figure is worth that has nothing to do with the machine.

Accuracies are those of ordinary handheld instruments plus a share for what the book does not
know about lengths and parts. Figures: judgement, unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf, log, pi, sqrt

import numpy as np
from scipy.special import ndtr

from backprobe.circuit.compiled import compiled
from backprobe.defects.model import Floats
from backprobe.findings.model import Instrument

LAMP_OHM = 30.0
"""A small 12 V test lamp, hot; its 24 V kin of the same watts has four times as much. Common
practice, no source."""
LOW_IMPEDANCE_OHM = 3000.0
"""Input of a voltmeter that loads what it reads, against stray volts. Handheld meters' data
sheets, from memory."""
OVERLOAD_OHM = 20e6
"""Above this an ordinary ohmmeter shows OL."""
MILLIOHM_OVERLOAD = 20.0
"""Above this a four-wire milliohm meter shows OL. Data sheets, from memory."""
DIODE_OVERLOAD_V = 2.0
"""Above this a diode tester shows OL. Data sheets, from memory."""
INSULATION_OHM = 2e6
"""From here on an ohmmeter reads damp and dirt (and a network its own leaks to metal, 1 GOhm a
node), not a path: any such figure means "no connection". Judgement."""
BEEP_OHM, BEEP_WIDTH = 40.0, 0.5
"""An ohmmeter's beeper sounds below about this, give or take this in ln: makers choose 20 to
100 ohm (handheld meters' data sheets, from memory)."""
OHM_RANGE = (0.1, 2e7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """`floor` in the reading's unit, `share` of the value: one standard deviation together."""

    floor: float
    share: float


METERS: dict[Instrument, Meter] = {
    # Milliohms along a loom: the four-wire meter's own 1 %, but lengths are typed to a quarter metre in
    # one or two, and IEC 60228 and ISO 6722 limit the ohms of a wire from above only.
    "meter": Meter(floor=0.02, share=0.01),
    "low-impedance meter": Meter(floor=0.03, share=0.015),
    "min-max": Meter(floor=0.05, share=0.02),
    "lamp": Meter(floor=0.5, share=0.10),
    "ohmmeter": Meter(floor=0.2, share=0.08),
    "beeper": Meter(floor=0.2, share=0.08),
    "milliohm meter": Meter(floor=0.0005, share=0.20),
    "diode tester": Meter(floor=0.05, share=0.05),
    "clamp": Meter(floor=0.1, share=0.05),
    "millivolts": Meter(floor=0.0005, share=0.15),
}


def normal(value: float, mean: Floats, variance: Floats) -> Floats:
    """Density of a normal at `value`. NaN means (no reading) give 0."""
    with np.errstate(invalid="ignore", over="ignore"):
        density = np.exp(-0.5 * (value - mean) ** 2 / variance) / np.sqrt(2.0 * pi * variance)
    return np.where(density < inf, density, 0.0)


def noise(instrument: Instrument, mean: Floats, cell: float) -> Floats:
    """Variance of a reading of `mean`; `cell` is the last digit's worth."""
    meter = METERS[instrument]
    size = np.abs(mean)
    size = np.where(size < inf, size, 0.0)
    variance: Floats = meter.floor**2 + (meter.share * size) ** 2 + cell**2 / 12.0
    return variance


def likelihood(
    instrument: Instrument, value: float, cell: float, background: float
) -> Callable[[Floats, Floats], Floats]:
    """The shape that turns a column into ratios to `background` (a density, or a chance for OL).

    A clamp does not say which way the current flows: sizes are compared. Ohms are compared as
    logarithms, because an ohmmeter's range spans eight decades.
    """

    def shape(mean: Floats, variance: Floats) -> Floats:
        if instrument == "beeper":
            beep = beeps(mean)
            return (beep if value == 0.0 else 1.0 - beep) / background
        if instrument in ("ohmmeter", "milliohm meter"):
            return _ohms(instrument, value, np.abs(mean), variance, cell) / background
        if instrument == "diode tester":
            over = ndtr((mean - DIODE_OVERLOAD_V) / (2.0 * METERS[instrument].floor))
            if value >= DIODE_OVERLOAD_V:
                return np.asarray(over / background, float)
            shown = normal(value, mean, noise(instrument, mean, cell) + variance)
            return np.asarray((1.0 - over) * shown / background, float)
        if instrument == "clamp":
            mean = np.abs(mean)
        figure = abs(value) if instrument == "clamp" else value
        meter, density = METERS[instrument], np.empty(mean.shape)
        own = meter.floor**2, meter.share, cell**2 / 12.0
        wide = np.empty(mean.shape)
        _shares(figure, mean, variance, own, wide, density)
        np.exp(density, out=density)
        _densities(wide, background, density)
        return density

    return shape


@compiled
def _shares(
    value: float,
    mean: Floats,
    variance: Floats,
    own: tuple[float, float, float],
    wide: Floats,
    power: Floats,
) -> None:
    """Fills in the exponents of normal() (N, W) and the variances, a meter's `own` among them: noise()
    and what is unknown besides (N, 1)."""
    floor, share, digit = own
    for n in range(len(mean)):
        for w in range(mean.shape[1]):
            size = abs(mean[n, w])
            size = size if size < np.inf else 0.0
            part = share * size
            around = floor + part * part + digit + variance[n, 0]
            off = value - mean[n, w]
            wide[n, w] = around
            power[n, w] = -0.5 * (off * off) / around


@compiled
def _densities(wide: Floats, background: float, density: Floats) -> None:
    """From exponentials (N, W) to densities of normal() over the `background`."""
    for n in range(len(wide)):
        for w in range(wide.shape[1]):
            found = density[n, w] / np.sqrt(2.0 * pi * wide[n, w])
            density[n, w] = (found if found < np.inf else 0.0) / background


def beeps(ohm: Floats) -> Floats:
    """Chance that a beeper sounds across so many ohms."""
    size = np.where(np.isfinite(ohm), np.maximum(np.abs(ohm), 1e-6), 1e12)
    chance: Floats = ndtr(np.log(BEEP_OHM / size) / BEEP_WIDTH)
    return chance


def _ohms(
    instrument: Instrument, value: float, mean: Floats, variance: Floats, cell: float
) -> Floats:
    """Chance of OL, or density of a reading in ohms."""
    most = MILLIOHM_OVERLOAD if instrument == "milliohm meter" else OVERLOAD_OHM
    finite = np.isfinite(mean) & (mean < INSULATION_OHM)
    size = np.where(finite, np.maximum(mean, 1e-6), 1e12)
    over = ndtr(np.log(size / most) / 0.5)
    if value >= min(INSULATION_OHM, most):
        return over
    around = noise(instrument, size, cell) + np.where(finite, variance, 0.0)
    # From ten floors up the error is one of proportion: the density in ln(ohm) over the ohms.
    floor = METERS[instrument].floor
    ratio_sd2 = np.minimum(around / size**2, 4.0)
    wide = normal(log(max(value, 1e-6)), np.log(size), ratio_sd2) / max(value, 1e-6)
    near = normal(value, size, around)
    density: Floats = np.where(size > 10.0 * floor, wide, near) * (1.0 - over)
    return density


LEAST_DENSITY = 1e-12
"""No figure is impossible to misread, however far off."""


def background(instrument: Instrument, value: float, volts: float, *, stud: bool = False) -> float:
    """Density of a figure that has nothing to do with where the lead should be.

    Volts: a quarter each near ground, near the feed, near 5 V, anywhere; at a `stud`, where no 5 V pin
    is beside, a third each of the others. Ohms: a quarter near zero, a third OL, the rest anywhere on
    a logarithmic scale.
    """
    return max(LEAST_DENSITY, _anything(instrument, value, volts, stud=stud))


def _anything(instrument: Instrument, value: float, volts: float, *, stud: bool) -> float:
    if instrument == "beeper":
        return 0.5
    if instrument == "diode tester":
        if value >= DIODE_OVERLOAD_V:
            return 1.0 / 3.0
        return (1.0 / 6.0) * (_bell(value, 0.0, 0.1) + _bell(value, 0.6, 0.1)) + 1.0 / 6.0
    if instrument == "milliohm meter":
        if value >= MILLIOHM_OVERLOAD:
            return 1.0 / 3.0
        return 1.0 / 3.0 * _bell(value, 0.0, 0.05) * 2.0 + 1.0 / 3.0 / MILLIOHM_OVERLOAD
    if instrument == "ohmmeter":
        if value >= INSULATION_OHM:
            return 1.0 / 3.0
        low, high = OHM_RANGE
        spread = (5.0 / 12.0) / (max(value, low) * log(high / low))
        return 0.25 * _bell(value, 0.0, 0.5) * 2.0 + spread
    if instrument == "clamp":
        return 0.5 * _bell(value, 0.0, 0.2) * 2.0 + 0.5 * exp(-abs(value) / 20.0) / 20.0
    if instrument == "millivolts":
        anywhere = 1.0 / (2.6 * volts * 1.05) if abs(value) < 1.4 * volts else 1e-3
        return 0.45 * _bell(value, 0.0, 0.01) + 0.45 * _bell(value, 0.0, 0.2) + 0.1 * anywhere
    feed = volts * 1.05
    anywhere = 1.0 / (1.3 * feed) if -0.1 * feed <= value <= 1.2 * feed else 1e-3 / feed
    near = _bell(value, 0.0, 0.1) + _bell(value, feed, 0.03 * volts)
    if stud:
        return (near + anywhere) / 3.0
    return 0.25 * (near + _bell(value, 5.0, 0.1) + anywhere)


def _bell(value: float, mean: float, sd: float) -> float:
    if value in (inf, -inf):
        return 0.0
    return exp(-0.5 * ((value - mean) / sd) ** 2) / (sd * sqrt(2.0 * pi))
