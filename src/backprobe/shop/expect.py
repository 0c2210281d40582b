"""What a reading would be: healthy, or under one defect at each of its severities."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, isnan
from typing import Final

import numpy as np

from backprobe.base.units import show
from backprobe.book.situations import Situation
from backprobe.checks.model import Check
from backprobe.defects.model import TEMPERATURE_SD, Floats, Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.model import Instrument
from backprobe.shop.effects import day, effects
from backprobe.suspects.meters import noise

UNITS = {
    "volts": "V",
    "inner": "V",
    "amps": "A",
    "ohms": "ohm",
    "transfer": "ohm",
    "share": "1",
    "diode": "V",
}
INSTRUMENTS: Final[Mapping[str, Instrument]] = {
    "volts": "meter",
    "amps": "clamp",
    "ohms": "ohmmeter",
    "diode": "diode tester",
}
"""The usual meter for what a probe reads."""
USUAL_SPREAD = (0.3, 0.3, TEMPERATURE_SD)
"""One standard deviation of the shared unknowns: battery V, ln of contacts, copper K. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """One expected reading: `value` +- `tolerance` in `unit` (SI), for `severity` in words; `meter`: what
    a usual meter may be off by beside that.
    `steady` False: relays would chatter or the volts alternate, the meter shows no steady value. `chance`: weight of the
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
    meter: float = 0.0


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
    unit, off = UNITS[probe.kind], _meter_off(probe, seen.mean[:, 0])
    does = dict(zip(rows, effects(circuit, [rows[k : k + 1] for k in range(len(rows))], [there])))
    return tuple(
        Expected(
            defect=circuit.defects.atoms[atom].words,
            severity=_severity(circuit, int(row)),
            value=float(seen.mean[k, 0]),
            tolerance=float(2.0 * sd[k]),
            unit=unit,
            steady=bool(seen.settled[k] and not isnan(seen.mean[k, 0])),
            chance=float(circuit.defects.weight[row]),
            does=does[row] if atom else "",
            meter=float(2.0 * off[k]),
        )
        for k, row in enumerate(chosen)
        if row in rows
    )


def _meter_off(probe: Probe, mean: Floats) -> Floats:
    """One standard deviation of the usual meter at each reading."""
    instrument = INSTRUMENTS.get(probe.kind)
    off: Floats = (
        np.zeros(mean.size) if instrument is None else np.sqrt(noise(instrument, mean, 0.0))
    )
    return off


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
