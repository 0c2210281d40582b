"""The records a kind of part is written in. Data only: the circuit, the defects and the
checks interpret them, so a new kind is one new file.

Values
    A `Value` is a number in SI, the name of an attribute, or a plain function of the part's
    attributes (a formula, with its source in its docstring). The word SEVERITY stands for the
    resistance of the severity cell at hand, SEVERITY_EMF for the volts it adds.

Nodes inside a part
    Elements join the part's terminals (by their pin name) and inner nodes (any other word).
    "@body" is the metal the part is bolted to (`on frame`), "@minus" the battery's minus post.
    A part that joins two bodies (`on frame / engine`) meets the first at "@body", the second at
    "@body2".
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import inf
from typing import Final, Literal

Attrs = Mapping[str, float | str]
Value = float | str | Callable[[Attrs], float]
SEVERITY: Final = "severity"
SEVERITY_EMF: Final = "severity emf"
ABSENT: Final = inf
"""Ohms of a branch the part's attributes leave out (no pull-up, no terminator inside): the circuit
drops such a branch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attribute:
    """One attribute of a kind, stated once; the reader, the form and the manual use it.

    `unit` is the SI unit ("ohm", "A", "V", "W", "m", "m2", "s", "kg", "%", "1") or "word".
    `bare` lets a quantity of that unit stand without the attribute's name: "fuse 10 A".
    """

    name: str
    unit: str
    default: Value | None
    meaning: str
    source: str
    low: float = -inf
    high: float = inf
    words: tuple[str, ...] = ()
    bare: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """A discrete state of a part. `set_by` "situation": key, load or hand; "circuit": by a Move."""

    name: str
    words: tuple[str, ...]
    rest: str
    set_by: Literal["situation", "circuit"] = "situation"


When = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A two-terminal element: v(p) - v(n) = emf + ohm * i, current i from p to n through it.

    `row`, when given, replaces the left side by a sum of (node, coefficient): a controlled
    source or regulator; a coefficient may be a formula (the duty of a driver). `column`, when given,
    says where the current goes: (node, coefficient), +1 leaving the node. Without them both are p - n. `when` lists the words of each state in
    which it conducts; otherwise it is absent (i = 0). Lead = the one wires and contacts use.
    `warms` marks copper: its resistance follows temperature.
    """

    name: str
    p: str
    n: str
    ohm: Value = 0.0
    emf: Value = 0.0
    when: When = field(default_factory=dict)
    row: tuple[tuple[str, Value], ...] = ()
    column: tuple[tuple[str, Value], ...] = ()
    contact: bool = False
    warms: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Injection:
    """A current source: `amps` flow out of node p and into node n, in the given states."""

    name: str
    p: str
    n: str
    amps: Value
    when: When = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Across:
    """The voltage v(p) - v(n)."""

    p: str
    n: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Through:
    """The current of a branch of this part, p to n."""

    branch: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A state change the circuit makes: state leaves `leaves` for `to` beyond a limit.

    `size` compares the magnitude. `pace`: 0 instant (diode, regulator), 1 fuse (only the worst
    overloaded one at a time), 2 relay or unit. `lasting`: survives the situation (blown fuse).
    """

    state: str
    leaves: str
    to: str
    quantity: Across | Through
    above: Value | None = None
    below: Value | None = None
    size: bool = False
    pace: Literal[0, 1, 2] = 2
    lasting: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Adds `ohm` to a branch (inf = open; a negative value shortens it)."""

    branch: str
    ohm: Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """Joins two nodes through `ohm`, with an optional emf (p above n) in it."""

    p: str
    n: str
    ohm: Value
    emf: Value = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """Adds `emf` volts to a branch's own emf (a worn cell, a drifted regulator)."""

    branch: str
    emf: Value


Change = Series | Bridge | Lift


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One severity: a resistance, the factor it stands for up and down, its weight, and the volts it
    adds where a change asks for SEVERITY_EMF. Cells of one failure rise in ohms."""

    ohm: float
    spread: float
    weight: float
    emf: Value = 0.0


CONTACT_CELLS: Final = (
    Cell(ohm=0.1, spread=2.0, weight=0.10),
    Cell(ohm=0.5, spread=2.2, weight=0.13),
    Cell(ohm=2.5, spread=2.2, weight=0.15),
    Cell(ohm=15.0, spread=2.5, weight=0.13),
    Cell(ohm=100.0, spread=2.6, weight=0.11),
    Cell(ohm=1e3, spread=3.2, weight=0.08),
    Cell(ohm=2e4, spread=5.0, weight=0.05),
    Cell(ohm=inf, spread=1.0, weight=0.25),
)
"""Severities of a bad contact. Weights: judgement, no source."""

LUG_CELLS: Final = (
    Cell(ohm=0.02, spread=2.2, weight=0.12),
    Cell(ohm=0.1, spread=2.0, weight=0.10),
    Cell(ohm=0.5, spread=2.2, weight=0.12),
    Cell(ohm=2.5, spread=2.2, weight=0.13),
    Cell(ohm=15.0, spread=2.5, weight=0.11),
    Cell(ohm=100.0, spread=2.6, weight=0.09),
    Cell(ohm=1e3, spread=3.2, weight=0.06),
    Cell(ohm=2e4, spread=5.0, weight=0.04),
    Cell(ohm=inf, spread=1.0, weight=0.23),
)
"""Severities of a bad lug, clamp or strap: 20 mohm is 4 V at 200 A, and the engine turns slowly. By the
trade's limit of 0.2 V per 100 A 2 mohm are too much already. Weights: judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """One way a part fails. `rate`: expected failures per part and 1000 machine years
    (relative size is what counts). `words` completes "rail sensor ...": "signal stuck low".
    `sometimes`: the share that comes and goes. `wet`, `hot`, `moved`: factor in that condition.
    `opens`: what a technician would open or replace, "" = the part itself, "plug" = its plug.
    `visible`: chance that a close look shows it.
    """

    name: str
    words: str
    changes: tuple[Change, ...]
    rate: float
    source: str
    cells: tuple[Cell, ...] = ()
    sometimes: float = 0.2
    wet: float = 1.0
    hot: float = 1.0
    moved: float = 1.0
    opens: str = ""
    visible: float = 0.2
    mend_s: float = 900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """A danger and the usual caution, shown at the step."""

    slug: str
    words: str
    authority: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A check this kind supports, to be turned into checks with pins and minutes.

    `does`: what is measured. `p`, `n`: pins ("@minus" = battery minus). `needs`: "on" = the part
    commanded or live, "off" = key off, "dead" = battery minus off. `seconds`: the check alone,
    without opening and closing.
    """

    name: str
    does: Literal[
        "volts", "drop", "amps", "ohms", "millivolts", "look", "swap", "unplug", "lamp", "works"
    ]
    words: str
    seconds: float
    source: str
    p: str = ""
    n: str = "@minus"
    needs: Literal["", "on", "off", "dead"] = ""
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of part.

    `words`: names a person may use, the first is the one shown; `letter`: IEC 81346-2 class.
    `pins`: fixed pin names in order; () = pins come from the book (plug ways, unit pins).
    A two-pin kind may stand in a chain without pins. `joint` "plug" (its pins part together),
    "stud" (each wire has its own lug), "crimp", "none". `load`: the branch whose power says
    whether the part works. `operated`: the situation state moved when the part is commanded.
    `mend`: what to do before it is renewed, and after. `aliases`: other names of its pins, DIN 72552 welcome.
    """

    name: str
    words: tuple[str, ...]
    letter: str
    meaning: str
    attributes: tuple[Attribute, ...]
    pins: tuple[str, ...] = ()
    aliases: Mapping[str, str] = field(default_factory=dict)
    joint: Literal["plug", "stud", "crimp", "none"] = "plug"
    states: tuple[State, ...] = ()
    branches: tuple[Branch, ...] = ()
    injections: tuple[Injection, ...] = ()
    moves: tuple[Move, ...] = ()
    failures: tuple[Failure, ...] = ()
    tasks: tuple[Task, ...] = ()
    hazards: tuple[str, ...] = ()
    load: str = ""
    operated: str = ""
    mend: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Role:
    """What stands behind one pin of a control unit: as a Kind, with the nodes "pin" (this pin),
    "ground" and "supply" (the unit's own inner rails), "group" (the 5 V rail it hangs on).
    `states` of the unit itself ("power": off / on) may be used in `when`.
    """

    name: str
    words: tuple[str, ...]
    meaning: str
    attributes: tuple[Attribute, ...]
    states: tuple[State, ...] = ()
    branches: tuple[Branch, ...] = ()
    injections: tuple[Injection, ...] = ()
    moves: tuple[Move, ...] = ()
    failures: tuple[Failure, ...] = ()
    tasks: tuple[Task, ...] = ()
    senses: bool = False
    operated: str = ""
