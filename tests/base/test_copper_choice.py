"""Which wire a fuse allows. Currents: a cable maker's catalogue (MK Global, ISO 6722 class B)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.base.copper import SIZES_MM2, carries, smallest_for

AMPS = st.floats(min_value=0.5, max_value=400.0)


@given(AMPS)
def test_the_smallest_wire_for_a_fuse_carries_it_and_the_next_smaller_does_not(amps: float) -> None:
    area = smallest_for(amps)
    assert carries(area) >= amps * (1 - 1e-9)
    smaller = [mm2 for mm2 in SIZES_MM2 if mm2 * 1e-6 < area * (1 - 1e-9)]
    assert all(carries(mm2 * 1e-6) < amps for mm2 in smaller)


@given(AMPS, AMPS)
def test_a_larger_fuse_never_needs_a_smaller_wire(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert smallest_for(low) <= smallest_for(high)


@pytest.mark.parametrize(
    ("fuse_a", "mm2"), [(5, 0.5), (10, 0.5), (15, 1.0), (20, 1.5), (25, 2.0), (30, 3.0), (50, 6.0)]
)
def test_usual_fuses_by_the_catalogue(fuse_a: float, mm2: float) -> None:
    assert smallest_for(fuse_a) == pytest.approx(mm2 * 1e-6)
