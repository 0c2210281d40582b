"""The rules a book is checked by: one function each, in one list.

A rule looks at a draft and the book made from it, and reports by slug. What a line by itself
gets wrong (an unknown pin, a unit that cannot be read) is reported where it is read.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from backprobe.book.rules import faces, loom, paths, sensors, units, wiring
from backprobe.book.rules.context import Checked

Rule = Callable[[Checked], None]

RULES: Final[tuple[Rule, ...]] = (
    wiring.pin_used_twice,
    wiring.feeds_joined,
    wiring.fuse_too_large,
    wiring.wire_name_reused,
    wiring.unconnected_part,
    paths.no_way,
    sensors.sensor_pins_changed,
    units.group_without_source,
    units.unknown_group,
    units.code_pin_not_sensed,
    units.open_wire_not_seen,
    units.unknown_code,
    units.unknown_command,
    loom.section_not_passed,
    faces.face_and_pins,
    faces.face_half,
)
