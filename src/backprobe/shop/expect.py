"""What a reading would be: healthy, or under one defect at each of its severities."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np

from backprobe.base.units import show
from backprobe.book.situations import Situation
from backprobe.checks.model import Check
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.shop.effects import day, effects

UNITS = {
    "volts": "V",
    "inner": "V",
    "amps": "A",
    "ohms": "ohm",
    "transfer": "ohm",
    "share": "1",
    "diode": "V",
}
USUAL_SPREAD = (0.3, 0.3, 15.0)
"""One standard deviation of the shared unknowns: battery V, ln of contacts, copper K. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """One expected reading: `value` +- `tolerance` in `unit` (SI), for `severity` in words.
    `steady` False: relays would chatter, the meter shows no steady value. `chance`: weight of the
    severity within its defect. `does`: what it does there beyond the reading: fuses it opens and how
    soon, wires it overheats, whether any reading tells it, "" for nothing."""

    defect: str
    severity: str
    value: float
    tolerance: float
    unit: str
    steady: bool
    chance: float
    does: str = ""


def expect(
    circuit: Circuit, what: Probe | Check, *, defect: str, situation: Situation | None
) -> tuple[Expected, ...]:
    """Rows for every severity of a defect (see Job.expect). KeyError names what is unknown."""
    probe = what.probe if isinstance(what, Check) else what
    if probe is None:
        raise KeyError(f"{what.words if isinstance(what, Check) else what} reads nothing")
    there = situation or (what.situation if isinstance(what, Check) else Situation())
    atom = _atom(circuit, defect)
    rows = np.flatnonzero(circuit.defects.atom_of == atom)
    chosen = np.unique(np.concatenate([[0], rows]))
    near = circuit.within(chosen)
    seen = near.seen(there, [probe])
    sd = np.sqrt(((seen.slope[:, 0, :] * np.array(USUAL_SPREAD)) ** 2).sum(axis=1))
    unit = UNITS[probe.kind]
    does = dict(zip(rows, effects(circuit, [rows[k : k + 1] for k in range(len(rows))], [there])))
    return tuple(
        Expected(
            defect=circuit.defects.atoms[atom].words,
            severity=_severity(circuit, int(row)),
            value=float(seen.mean[k, 0]),
            tolerance=float(2.0 * sd[k]),
            unit=unit,
            steady=bool(seen.settled[k]),
            chance=float(circuit.defects.weight[row]),
            does=does[row] if atom else "",
        )
        for k, row in enumerate(chosen)
        if row in rows
    )


def _severity(circuit: Circuit, row: int) -> str:
    ohm = float(circuit.defects.ohm[row])
    if ohm == 0.0:
        return ""
    return "open" if ohm == inf else show(ohm, "ohm")


def _atom(circuit: Circuit, defect: str) -> int:
    """Number of the atom with this id or whose words begin so."""
    for number, atom in enumerate(circuit.defects.atoms):
        if defect == atom.id:
            return number
    for number, atom in enumerate(circuit.defects.atoms):
        if atom.words.startswith(defect):
            return number
    raise KeyError(f"no defect {defect!r} in this book")


def defects_at(circuit: Circuit, place: str) -> tuple[tuple[str, str], ...]:
    """(id, words) of every defect that sits on a part, plug, wire or section."""
    atoms = circuit.defects.atoms
    return tuple((atoms[number].id, atoms[number].words) for number in _at(circuit, place))


def effects_at(circuit: Circuit, place: str) -> tuple[str, ...]:
    """What every defect of a place does, in the order of defects_at: fuses it opens and how soon,
    wires it overheats, whether any reading tells it, whether it settles. Looked at with the key
    off, on, cranking, running, and running with everything switched on."""
    of = [np.flatnonzero(circuit.defects.atom_of == number) for number in _at(circuit, place)]
    return effects(circuit, of, day(circuit.book))


def _at(circuit: Circuit, place: str) -> tuple[int, ...]:
    wanted = {place, f"wire {place}"}
    return tuple(
        number for number, atom in enumerate(circuit.defects.atoms) if wanted & set(atom.owners)
    )
