"""What kind a part is, told from its printed name alone.

Names of kinds first ("glow relay" ends in a kind), then the words technicians use, then the
letter in front of a number. Word table and letters: common practice; letters follow
IEC 81346-2 where it has one in use, with F, X, K, S, M, B as most makers print them.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import Final

from backprobe.kinds import kind_named
from backprobe.kinds.records import Kind

WORDS: Final[tuple[tuple[str, str], ...]] = (
    (r"(battery|main) (isolator|switch)|disconnect", "isolator"),
    (r"\bbattery\b", "battery"),
    (r"\b(alternator|generator)\b", "alternator"),
    (r"\bstarter (motor )?relay\b|\brelay\b", "relay"),
    (r"\bstarter\b", "starter"),
    (r"\b(key|ignition|start) switch\b|\bignition\b", "key switch"),
    (r"\bfusible link\b|\bmain fuse\b", "fusible link"),
    (r"\bbreaker\b", "circuit breaker"),
    (r"\bfuse\b", "fuse"),
    (r"\bseat\b.*\bswitch\b", "seat switch"),
    (r"\boil pressure switch\b", "oil pressure switch"),
    (r"\b(pressure|brake|level|temp\w*) switch\b", "pressure switch"),
    (r"\bproximity\b", "proximity switch"),
    (r"\b(switch|button|lever|pedal)\b", "switch"),
    (r"\b(glow plug|heater|preheat\w*)\b", "glow plug"),
    (r"\b(metering valve|proportional|pwm)\b", "PWM valve"),
    (r"\b(coolant|oil|air|fuel|intake|exhaust)? ?temp\w*\b", "thermistor"),
    (r"\b(crank\w*|cam\w*|speed|rpm|hall)\b", "hall sensor"),
    (r"\b(pressure|boost|rail|position|angle|level|joystick)\b.*\b(sensor|sender)\b",
     "three-wire sensor"),
    (r"\b(sensor|sender)\b", "three-wire sensor"),
    (r"\bled\b", "LED lamp"),
    (r"\b(lights?|lamps?|beacon|headlights?|indicator|flasher)\b", "lamp"),
    (r"\b(pump|motor|fan|blower|wiper|washer)\b", "motor"),
    (r"\b(valve|solenoid|coil|lock|cut-?off|horn)\b", "solenoid"),
    (r"\bsplice\b", "splice"),
    (r"\b(plug|connector|socket)\b", "plug"),
    (r"\b(strap)\b", "ground strap"),
    (r"\b(ground|earth|stud)\b", "ground stud"),
    (r"\bdiode\b", "diode"),
    (r"\b(terminator|resistor)\b", "resistor"),
    (r"\b(ecu|ecm|controller|control unit|module|display|dash|cluster|telematics)\b",
     "control unit"),
)  # fmt: skip
"""A pattern in the name and the kind it stands for; the first that fits wins."""

LETTERS: Final[tuple[tuple[str, str], ...]] = (
    ("F", "fuse"),
    ("X", "plug"),
    ("C", "plug"),
    ("CN", "plug"),
    ("CN-", "plug"),
    ("K", "relay"),
    ("G", "ground stud"),
    ("GND", "ground stud"),
    ("J", "splice"),
    ("SP", "splice"),
    ("S", "switch"),
    ("E", "lamp"),
    ("H", "lamp"),
    ("M", "motor"),
    ("B", "three-wire sensor"),
    ("Y", "solenoid"),
    ("A", "control unit"),
    ("R", "resistor"),
    ("V", "diode"),
)
"""A letter in front of a number ("F12") and the kind it stands for."""

_LETTERED = re.compile(r"^([A-Za-z]+-?)[A-Za-z]?\d+[A-Za-z]?$")
_PATTERNS = tuple((re.compile(pattern, re.IGNORECASE), kind) for pattern, kind in WORDS)
_BY_LETTER = dict(LETTERS)


@cache
def _kind(words: str) -> Kind | None:
    return kind_named(words)


@lru_cache(maxsize=4096)
def kind_from_name(name: str) -> tuple[Kind, str] | None:
    """The likely kind of a part of this name and why, or None."""
    words = name.split()
    for start in range(len(words)):
        for end in (len(words), len(words) - 1):
            tail = " ".join(words[start:end])
            if end > start and (kind := _kind(tail)) and (end == len(words) or len(words[-1]) < 3):
                return kind, f'its name says "{tail}"'
    for pattern, words_of_kind in _PATTERNS:
        match = pattern.search(name)
        if match and (kind := _kind(words_of_kind)):
            return kind, f'its name has "{match.group().strip()}" in it'
    match = _LETTERED.match(name)
    if match:
        letter = match.group(1).upper()
        found = _BY_LETTER.get(letter) or _BY_LETTER.get(letter[:1])
        if found and (kind := _kind(found)):
            return kind, f"names with {letter} and a number usually are"
    return None
