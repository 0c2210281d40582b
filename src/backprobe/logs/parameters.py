"""A few measured values that units broadcast, and whether the unit trusts its own sensor.

Scale and place of each: SAE J1939-71 as in open signal tables (voltage_j1939, pretty_j1939).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from backprobe.logs.recording import Recording
from backprobe.logs.transport import assemble

State = Literal["valid", "error", "not available", "reserved"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """Where a value stands: `first` byte from 1, one or two bytes, value = raw * scale + offset."""

    spn: int
    name: str
    pgn: int
    first: int
    width: int
    scale: float
    offset: float
    unit: str


def _parameter(
    spn: int, name: str, pgn: int, at: tuple[int, int], scale: float, offset: float, unit: str
) -> Parameter:
    return Parameter(
        spn=spn,
        name=name,
        pgn=pgn,
        first=at[0],
        width=at[1] - at[0] + 1,
        scale=scale,
        offset=offset,
        unit=unit,
    )


# the byte place of SPN 157 is from memory
PARAMETERS: tuple[Parameter, ...] = (
    _parameter(190, "engine speed", 61444, (4, 5), 0.125, 0.0, "rpm"),
    _parameter(91, "accelerator pedal", 61443, (2, 2), 0.4, 0.0, "%"),
    _parameter(110, "coolant temperature", 65262, (1, 1), 1.0, -40.0, "°C"),
    _parameter(174, "fuel temperature", 65262, (2, 2), 1.0, -40.0, "°C"),
    _parameter(94, "fuel delivery pressure", 65263, (1, 1), 4.0, 0.0, "kPa"),
    _parameter(100, "oil pressure", 65263, (4, 4), 4.0, 0.0, "kPa"),
    _parameter(102, "intake manifold pressure", 65270, (2, 2), 2.0, 0.0, "kPa"),
    _parameter(105, "intake manifold temperature", 65270, (3, 3), 1.0, -40.0, "°C"),
    _parameter(157, "rail pressure", 65243, (3, 4), 1 / 256, 0.0, "MPa"),
    _parameter(168, "battery voltage", 65271, (5, 6), 0.05, 0.0, "V"),
    _parameter(158, "key switch voltage", 65271, (7, 8), 0.05, 0.0, "V"),
)
_OF_PGN: Mapping[int, tuple[Parameter, ...]] = {
    pgn: tuple(p for p in PARAMETERS if p.pgn == pgn) for pgn in {p.pgn for p in PARAMETERS}
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One value, in the parameter's unit; None when the unit sent a state instead."""

    time_s: float
    value: float | None
    state: State


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One parameter of one source over the recording. "error" means the unit knows that its own
    input is bad; "not available" that it has no such sensor or no value yet."""

    parameter: Parameter
    source: int
    samples: tuple[Sample, ...]

    def valid(self) -> tuple[float, ...]:
        """The values that are values."""
        return tuple(s.value for s in self.samples if s.value is not None)

    def count(self, state: State) -> int:
        """How many samples are in this state."""
        return sum(sample.state == state for sample in self.samples)


def decode_value(parameter: Parameter, data: bytes) -> tuple[float | None, State] | None:
    """A parameter from its message, or None when the message is too short for it.

    The highest byte decides: FF not available, FE error, FB to FD reserved (SAE J1939-71).
    """
    raw = data[parameter.first - 1 : parameter.first - 1 + parameter.width]
    if len(raw) < parameter.width:
        return None
    match raw[-1]:
        case 0xFF:
            return None, "not available"
        case 0xFE:
            return None, "error"
        case 0xFB | 0xFC | 0xFD:
            return None, "reserved"
    return int.from_bytes(raw, "little") * parameter.scale + parameter.offset, "valid"


def values(recording: Recording) -> tuple[Series, ...]:
    """Every known parameter in the recording, by number, then by source."""
    found: dict[tuple[int, int], list[Sample]] = {}
    known = {parameter.spn: parameter for parameter in PARAMETERS}
    for message in assemble(recording.frames).messages:
        for parameter in _OF_PGN.get(message.pgn, ()):
            decoded = decode_value(parameter, message.data)
            if decoded is not None:
                value, state = decoded
                found.setdefault((parameter.spn, message.source), []).append(
                    Sample(time_s=message.time_s, value=value, state=state)
                )
    return tuple(
        Series(parameter=known[spn], source=source, samples=tuple(samples))
        for (spn, source), samples in sorted(found.items())
    )
