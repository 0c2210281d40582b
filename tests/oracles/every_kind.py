"""Machines with one part of every kind and a unit pin of every role, wired at random from a seed:
three with a third of the kinds each, one with a unit and one with a display.

Nobody's machine: a part's pins go to the feed through a resistor, to the frame, to the engine. What
matters is that every element, state and defect the kinds are written with is there.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from backprobe.book import read_book
from backprobe.defects.predict import Circuit
from backprobe.kinds import KINDS, ROLES

HEAD = """book format 1
machine one of each, 12 V
battery: battery 12 V
F0: fuse 60 A
bus: splice
strap: ground strap, on engine / frame
battery.- > frame, 35 mm2, 0.3 m, wire minus
battery.+ > F0 > bus, 10 mm2, 0.5 m, wire main / feed
"""
THERE = ("battery", "splice", "ground strap")
UNITS = ("control unit", "display")
WORDS = {"plug": "plug 2 ways", "ground stud": "ground stud, on frame"}
MORE = {"relay": ", suppressed resistor", "changeover relay": ", suppressed no"}


class _Text:
    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.parts: list[str] = []
        self.wires: list[str] = []

    def wire(self, a: str, b: str) -> None:
        metres, mm2 = self.rng.uniform(0.3, 3.0), self.rng.choice([0.75, 1.0, 2.5])
        self.wires.append(f"{a} > {b}, {mm2:g} mm2, {metres:.2f} m, wire {len(self.wires) + 1}")

    def fed(self, pin: str, ohm: float) -> None:
        """A pin on the feed, through a resistor of its own."""
        name = f"R{len(self.parts)}"
        self.parts.append(f"{name}: resistor {ohm:g} ohm")
        self.wire("bus", f"{name}.1")
        self.wire(f"{name}.2", pin)

    def anywhere(self, pin: str) -> None:
        if self.rng.random() < 0.5:
            self.fed(pin, float(self.rng.choice([1.0, 4.7, 47.0, 1000.0])))
        else:
            self.wire(pin, str(self.rng.choice(["frame", "engine"])))


MACHINES = (0, 1, 2, *UNITS)


@cache
def one_of_each(machine: int | str, seed: int) -> Circuit:
    """The circuit of one of MACHINES, with every defect. AssertionError lists what is wrong."""
    text = _Text(seed)
    for number, (name, kind) in enumerate(KINDS.items(), 1):
        if name in THERE + UNITS or number % 3 != machine:
            continue
        part = f"part {number}"
        words = WORDS.get(name, kind.words[0])
        on = "" if "on frame" in words else ", on engine"
        text.parts.append(f"{part}: {words}{on}{MORE.get(name, '')}")
        pins = kind.pins or ("1", "2") if name == "plug" else kind.pins or ("1",)
        for pin in pins:
            if name == "plug":
                text.anywhere(f"{part}.{pin}a")
                text.wire(f"{part}.{pin}b", "frame")
            else:
                text.anywhere(f"{part}.{pin}")
    if machine in UNITS:
        _unit(text, "unit", str(machine), seed)
    book, problems = read_book(HEAD + "\n".join([*text.parts, *text.wires, ""]), "one of each")
    assert book is not None, "\n".join(str(p) for p in problems if p.weight == "error")
    return Circuit.of(book)


def _unit(text: _Text, unit: str, kind: str, seed: int) -> None:
    text.parts.append(f"{unit}: {kind}, on frame")
    text.fed(f"{unit}.1", 0.1)
    text.wire(f"{unit}.2", "frame")
    text.parts += [f"{unit}.1: supply", f"{unit}.2: ground", f"{unit}.3: 5 V group A"]
    text.fed(f"{unit}.3", 1000.0)
    latches = ", latches" if seed % 2 else ""
    text.parts.append(f"group {unit} A: 5 V, limit 100 mA{latches}")
    for number, name in enumerate(ROLES, 4):
        if name in ("supply", "ground", "5 V group", "5 V supply"):
            continue
        more = ", pull up 4.7 kohm to group A" if "input" in name and "digital" not in name else ""
        more += ", in on crank run" if "driver" in name else ""
        text.parts.append(f"{unit}.{number}: {name}{more}")
        text.anywhere(f"{unit}.{number}")
