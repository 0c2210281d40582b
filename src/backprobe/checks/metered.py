"""Readings as an instrument or a display shows them, many checks side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from backprobe.book.model import DisplayValue
from backprobe.checks.model import Check
from backprobe.defects.model import Floats
from backprobe.findings.model import Instrument
from backprobe.suspects.meters import INSULATION_OHM, METERS, OVERLOAD_OHM
from backprobe.suspects.readings import DISPLAY_SD, on_scale

OHMMETER = METERS["ohmmeter"]


def metered(checks: Sequence[Check], value: Floats, blur: Floats) -> tuple[Floats, Floats]:
    """Readings and variances (c, n) as instruments show them; ohms, up to OL, in steps of their own
    error: even ones where the meter's floor decides, then those of a logarithm."""
    names: dict[str, Instrument] = {"ohms": "ohmmeter", "amps": "clamp", "millivolts": "millivolts"}
    meters = [
        METERS[names.get(check.does, "min-max" if check.instrument == "min-max" else "meter")]
        for check in checks
    ]
    floor = np.array([meter.floor for meter in meters])[:, None]
    share = np.array([meter.share for meter in meters])[:, None]
    amps = np.array([check.does == "amps" for check in checks], bool)[:, None]
    shown = np.where(amps, np.abs(value), value)
    variance = floor**2 + (share * np.where(np.isfinite(value), np.abs(value), 0.0)) ** 2 + blur
    ohms = np.flatnonzero([check.does == "ohms" for check in checks])
    if ohms.size:
        size = np.nan_to_num(np.abs(value[ohms]), nan=0.0, posinf=1e12)
        path = size < INSULATION_OHM
        size = np.where(path, size, 2.0 * OVERLOAD_OHM)
        steps = np.arcsinh(OHMMETER.share * size / OHMMETER.floor) / OHMMETER.share
        around = 1.0 + np.where(path, blur[ohms], 0.0) / own_error(size) ** 2
        shown[ohms] = np.where(np.isnan(value[ohms]), np.nan, steps)
        variance[ohms] = np.minimum(around, (2.0 / OHMMETER.share) ** 2)
    return shown, variance


def ohms_of(steps: Floats | float) -> Floats:
    """Ohms from steps of an ohmmeter's error, as metered() has them."""
    ohms = np.sinh(OHMMETER.share * np.asarray(steps)) * OHMMETER.floor / OHMMETER.share
    result: Floats = np.maximum(ohms, 0.0)
    return result


def own_error(ohms: Floats | float) -> Floats:
    """Standard error of an ohmmeter that shows so many ohms."""
    error: Floats = np.hypot(OHMMETER.floor, OHMMETER.share * np.asarray(ohms))
    return error


def on_display(display: DisplayValue, value: Floats, blur: Floats) -> tuple[Floats, Floats]:
    """Value and variance of volts (n,) as a display of a unit shows them, none beyond its scale."""
    shown = on_scale(display, value, stops=True)
    return shown, blur * display.per_volt**2 + (DISPLAY_SD * (display.high - display.low)) ** 2
