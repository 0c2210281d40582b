"""Readings far from anything expected weigh little but never break the weighing."""

from __future__ import annotations

from math import inf, isfinite, log
from typing import get_args

import pytest

from backprobe.findings.model import Instrument
from backprobe.suspects.meters import background


@pytest.mark.parametrize("instrument", get_args(Instrument))
@pytest.mark.parametrize("value", [-1e6, -12.6, -1e-9, 0.0, 12.6, 400.0, 1e7, 1e12, inf])
def test_every_figure_has_a_chance_of_being_misread(instrument: Instrument, value: float) -> None:
    assert isfinite(log(background(instrument, value, 12.0)))


def test_battery_volts_across_a_blown_fuse_are_a_plausible_misreading() -> None:
    assert background("millivolts", 12.6, 12.0) > 1e-3
