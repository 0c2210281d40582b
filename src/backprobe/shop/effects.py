"""What a defect does, in words: fuses it opens and how soon, wires it overheats, whether any
reading tells it, whether it ever settles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from backprobe.base.units import show
from backprobe.book.model import Book, Wire
from backprobe.book.situations import Situation
from backprobe.defects.consequences import (
    AT_ONCE,
    MAY,
    MINUTES,
    FuseFates,
    WireHeat,
    fuse_fates,
    wire_heat,
)
from backprobe.defects.model import Ints
from backprobe.defects.outcomes import TELLS_A, TELLS_V, Outcomes, outcomes
from backprobe.defects.predict import Circuit
from backprobe.shop.outlook import engine, usual_life

_FATE: Final = {
    AT_ONCE: "opens at once",
    MINUTES: "opens within minutes",
    MAY: "may open in time",
}
_WORST: Final = (AT_ONCE, MINUTES, MAY)


def day(book: Book) -> tuple[Situation, ...]:
    """The situations a defect is looked at in: key off, and the usual life of a machine."""
    return (Situation(key="off"), *usual_life(book))


def effects(
    circuit: Circuit, defects: Sequence[Ints], situations: Sequence[Situation]
) -> tuple[str, ...]:
    """What each defect, given as the numbers of its hypotheses, does in some situations: one line
    each, "" when there is nothing to say beyond its readings."""
    with engine():
        chosen = np.unique(np.concatenate([np.zeros(1, np.int64), *defects]))
        near = circuit.within(chosen, rough=True)
        seen = _Seen(
            near=near,
            situations=tuple(situations),
            fates=tuple(fuse_fates(near, situation) for situation in situations),
            heat=tuple(wire_heat(near, situation) for situation in situations),
            comes_to=outcomes(near, situations),
        )
        places = [np.flatnonzero(np.isin(chosen, rows)) for rows in defects]
        return tuple(
            "; ".join(
                said
                for part in (_settles, _fuses, _jumper, _wires, _tells)
                for said in part(seen, at)
            )
            for at in places
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """What some hypotheses do, situation by situation."""

    near: Circuit
    situations: tuple[Situation, ...]
    fates: tuple[FuseFates, ...]
    heat: tuple[WireHeat, ...]
    comes_to: Outcomes


def _settles(seen: _Seen, at: Ints) -> list[str]:
    for number, situation in enumerate(seen.situations):
        for row in at[seen.comes_to.restless[at, number]]:
            parts = seen.near.moving(situation, int(row))
            go = "go" if len(parts) > 1 else "goes"
            who = f"{' and '.join(parts)} {go} on switching"
            return [f"never settles, {situation.words()}: {who}, no meter stands still"]
    return []


def _fuses(seen: _Seen, at: Ints) -> list[str]:
    worst: dict[str, int] = {}
    for fates in seen.fates:
        for name, column in zip(fates.names, fates.fate.T, strict=True):
            for fate in _WORST:
                if (column[at] == fate).any() and column[0] != fate:
                    worst[name] = min(worst.get(name, fate), fate, key=_WORST.index)
                    break
    return [f"{name} {_FATE[fate]}" for name, fate in worst.items()]


def _jumper(seen: _Seen, at: Ints) -> list[str]:
    opens = any(seen.near.jumper_opened(situation)[at].any() for situation in seen.situations)
    return ["the fused jumper's own fuse opens"] if opens else []


def _wires(seen: _Seen, at: Ints) -> list[str]:
    most: dict[str, tuple[float, float]] = {}
    for heat in seen.heat:
        for k in np.flatnonzero(heat.hot[at].any(axis=0) & ~heat.hot[0]):
            amps, limit = float(heat.amps[at, k].max()), float(heat.carries[k])
            most[heat.wires[k]] = max(most.get(heat.wires[k], (0.0, 0.0)), (amps, limit))
    wires = seen.near.book.wires
    return [
        f"{_named(wires[wire])} overheats: {show(amps, 'A', 2)}, good for {show(limit, 'A', 2)}"
        for wire, (amps, limit) in most.items()
    ]


def _tells(seen: _Seen, at: Ints) -> list[str]:
    found = seen.comes_to
    quiet = at[found.quiet[at]]
    if not quiet.size:
        return []
    row = int(quiet[np.argmax(found.largest_v[quiet])])
    most = float(found.largest_v[row])
    how = f"under {show(TELLS_V, 'V')} and {show(TELLS_A, 'A')} everywhere"
    if most >= 1e-3:
        where = found.situations[int(found.where[row])].words()
        how = f"at most {1e3 * most:.0f} mV, at {found.node[row]}, {where}"
    degrees = ""
    if len(quiet) < len(at):
        degrees = f" at {', '.join(show(float(o), 'ohm') for o in seen.near.defects.ohm[quiet])}"
    return [f"no effect on any reading{degrees} ({how})"]


def _named(wire: Wire) -> str:
    return f"wire {wire.name or wire.id}"
