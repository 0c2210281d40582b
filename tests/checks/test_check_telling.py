"""Which functions are asked about first."""

from __future__ import annotations

from backprobe.book import read_book
from backprobe.checks.layout import layout_of
from backprobe.checks.telling import telling
from backprobe.kinds import KINDS

# the beacon and the horn share a fuse; the pump has one of its own and a relay
TEXT = """
machine small, 12 V
battery: battery 12 V, at box
G1: ground stud, on frame
battery.- > G1, 25 mm2, BK, wire 1
battery.+ > F1.1, 6 mm2, RD, wire 2
battery.+ > F2.1, 6 mm2, RD, wire 3
F1: fuse 10 A, at box
F2: fuse 15 A, at box
beacon: lamp 21 W, on frame
horn: horn, on frame
pump: lift pump, on frame
S1: switch
S2: push button
S3: switch
F1.2 > S1.1, 1.5 mm2, YE, wire 4a
F1.2 > S2.1, 1.5 mm2, YE, wire 4b
S1.2 > beacon.1, 1 mm2, YE, wire 5
S2.2 > horn.1, 1 mm2, YE, wire 6
F2.2 > S3.1, 1.5 mm2, GN, wire 7
S3.2 > pump.1, 1.5 mm2, GN, wire 8
beacon.2 > G1, 1 mm2, BK, wire 9
horn.2 > G1, 1 mm2, BK, wire 10
pump.2 > G1, 1 mm2, BK, wire 11
function beacon flashes: needs beacon, key on, with S1
function horn sounds: needs horn, key on, with S2
function pump runs: needs pump, key on, with S3
"""


def test_what_hangs_on_another_fuse_is_asked_before_what_hangs_on_the_same() -> None:
    book, problems = read_book(TEXT, "small")
    assert book is not None, problems
    layout = layout_of(book, KINDS)
    assert [f.name for f in telling(layout)] == ["beacon flashes", "pump runs", "horn sounds"]
    assert [f.name for f in telling(layout, 2)] == ["beacon flashes", "pump runs"]
