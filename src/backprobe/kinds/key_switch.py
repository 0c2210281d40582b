"""Key switches."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from backprobe.kinds.records import Branch, Failure, Kind, State
from backprobe.kinds.switching import OHM
from backprobe.kinds.usual import IN, KEY, MODES, WITH, sticks, supply_volts, worn

_KEY_OHM: Final = replace(OHM, default=0.005)


def _key_failure(branch: str, words: str, rate: float) -> Failure:
    return replace(worn(branch, words, rate, MODES, moved=2.0), name=f"bad contact {branch}")


KEY_SWITCH: Final = Kind(
    name="key switch",
    words=("key switch", "ignition switch", "ignition", "start switch"),
    letter="S",
    meaning="key switch by DIN 72552: 30 feed, 15 on, 50 start, 19 glow (held)",
    attributes=(_KEY_OHM, IN, WITH),
    pins=("30", "15", "50", "19"),
    aliases={"B": "30", "BAT": "30", "IG": "15", "ON": "15", "ST": "50", "17": "19", "GLOW": "19"},
    states=(
        KEY,
        State(name="glow", words=("released", "held"), rest="released"),
    ),
    branches=(
        Branch(
            name="15",
            p="30",
            n="15",
            ohm="ohm",
            when={"key": ("on", "crank", "run")},
            contact=True,
        ),
        Branch(name="50", p="30", n="50", ohm="ohm", when={"key": ("crank",)}, contact=True),
        Branch(name="19", p="30", n="19", ohm="ohm", when={"glow": ("held",)}, contact=True),
    ),
    failures=(
        _key_failure("15", "contact 15 (on) burnt or worn", 3.5),
        _key_failure("50", "contact 50 (start) burnt or worn", 2.0),
        _key_failure("19", "contact 19 (glow) burnt or worn", 0.7),
        replace(
            sticks("30", "15", "contact 15 stuck, stays on", 0.7, MODES),
            name="15 stuck closed",
        ),
        replace(
            sticks("30", "50", "contact 50 stuck, keeps cranking", 0.5, MODES),
            name="50 stuck closed",
        ),
    ),
    tasks=(
        supply_volts("30", "volts at 30 of the key switch"),
        supply_volts("15", "volts at 15, key on"),
        supply_volts("50", "volts at 50, key held at start", "crank-limit"),
    ),
    operated="glow",
)
