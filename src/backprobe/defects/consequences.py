"""What a defect does beyond readings: fuses it opens and how soon, wires it overheats.

A fuse is judged by the current that flows while it still holds, a wire by the current that is
left when everything has come to rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from backprobe.base.copper import carries
from backprobe.book.situations import Situation
from backprobe.book.values import attributes_of
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.ports import Block, Ports, read
from backprobe.circuit.settled import Settled
from backprobe.defects.predict import Circuit
from backprobe.kinds.fusible_link import FUSIBLE_LINK
from backprobe.kinds.fusing import opens_within

FATES: Final = ("holds", "may open in time", "within minutes", "at once", "open before")
HOLDS, MAY, MINUTES, AT_ONCE, BEFORE = range(len(FATES))
AT_ONCE_S: Final = 10.0
"""Opens within this at the latest: nobody waits for it. Judgement."""
MINUTES_S: Final = 1800.0
"""The longest a fuse at 135 % takes (ISO 8820-3 by size, from memory; Littelfuse 299 sheet)."""
CRANKING: Final = 2.0
"""Short-time current of a cable over its lasting one: 10 against 5 A/mm2 (kewet.de electrical
notes). Cranking is short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseFates:
    """What every hypothesis does to every fuse: `fate` (H, F) as a number of FATES; `share` (H, F)
    the current over the rating while it holds; `shortest_s`, `longest_s` (H, F) until it opens at
    that current, inf = never."""

    names: tuple[str, ...]
    fate: NDArray[np.int8]
    share: Floats
    shortest_s: Floats
    longest_s: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class WireHeat:
    """The current of every wire, A, where it is highest along it (H, W), and what the wire carries
    in that situation (W,). `hot` (H, W): more than that."""

    wires: tuple[str, ...]
    amps: Floats
    carries: Floats

    @property
    def hot(self) -> Flags:
        """(H, W) wires that overheat."""
        over: Flags = self.amps > self.carries
        return over


def fuse_fates(circuit: Circuit, situation: Situation) -> FuseFates:
    """Which fuses a defect opens, and how soon, after ISO 8820-3 and the kinds' own limits.

    A fuse the engine opens only after another one went is "within minutes" at least: its own
    current is not known better.
    """
    fuses = _fuses(circuit)
    end = circuit.settled(situation)
    held = circuit.held(situation)
    state = [circuit.net.state[(name, "element")] for name in fuses]
    good = np.array([circuit.net.resting[number] for number in state], np.int8)
    before = held.settled(situation).states[:, state] != good
    open_now = end.states[:, state] != good
    rated = np.array([float(attributes_of(circuit.book, name)["amps"]) for name in fuses])
    at = np.array([circuit.net.current(f"{name}/element") for name in fuses], np.int64)
    whole = np.abs(currents(held, held.settled(situation), at))
    rest = np.abs(currents(circuit, end, at))
    share = np.where(open_now, whole, rest) / rated
    slow = np.array([circuit.book.parts[name].kind == FUSIBLE_LINK.name for name in fuses], bool)
    shortest, longest = np.full(share.shape, np.inf), np.full(share.shape, np.inf)
    fate = np.zeros(share.shape, np.int8)
    for k, row in enumerate(slow):
        values, back = np.unique(share[:, k], return_inverse=True)
        times = np.array([opens_within(float(value), slow=bool(row)) for value in values])
        shortest[:, k], longest[:, k] = times[back, 0], times[back, 1]
    fate[np.isfinite(shortest)] = MAY
    fate[longest <= MINUTES_S] = MINUTES
    fate[longest <= AT_ONCE_S] = AT_ONCE
    fate[open_now & (fate < MINUTES)] = MINUTES
    fate[before] = BEFORE
    return FuseFates(names=fuses, fate=fate, share=share, shortest_s=shortest, longest_s=longest)


def wire_heat(circuit: Circuit, situation: Situation) -> WireHeat:
    """The lasting current of every wire under every hypothesis against what the wire carries (a
    cable maker's catalogue, base.copper; twice that while cranking)."""
    wires = tuple(circuit.book.wires)
    names = [f"wire {wire}" for wire in wires]
    at = np.array([circuit.net.current(name) for name in names], np.int64)
    short = CRANKING if situation.key == "crank" else 1.0
    limit = np.array([short * carries(wire.area_m2) for wire in circuit.book.wires.values()])
    settled = circuit.settled(situation)
    amps = np.abs(currents(circuit, settled, at, beyond_taps=True))
    return WireHeat(wires=wires, amps=amps, carries=limit)


def currents(circuit: Circuit, settled: Settled, at: Ints, *, beyond_taps: bool = False) -> Floats:
    """(H, f) the unknowns `at` under every hypothesis. A wire that touches something carries
    another current beyond that spot; `beyond_taps` takes the larger of the two."""
    found = np.zeros((settled.cases.count, len(at)))
    one = np.ones((len(at), 1))
    for base, ports, blocks in circuit.solved(settled):
        for block in blocks:
            seen, _ = read(base, ports, block, at[:, None], one)
            amps = np.array(seen[..., 0])
            if beyond_taps:
                _beyond(circuit, ports, block, at, amps)
            found[block.cases] = amps
    return found


def _beyond(circuit: Circuit, ports: Ports, block: Block, at: Ints, amps: Floats) -> None:
    """Take the far half's current where a port taps a wire: i - y on one side, i + y where the
    port's vector is turned round (see circuit.ports)."""
    nodes = len(circuit.net.nodes) - 1
    place = {int(index): k for k, index in enumerate(at)}
    live = block.ports >= 0
    safe = np.where(live, block.ports, 0)
    left_at, left = ports.left_at[safe], ports.left[safe]
    several = (left_at >= 0).sum(axis=2) > 1
    taps = (left_at >= nodes) & (live & several)[..., None] & (left != 0.0)
    for row, port, entry in np.argwhere(taps):
        k = place.get(int(left_at[row, port, entry]))
        if k is None:
            continue
        sign = np.sign(left[row, port, entry])
        far = amps[row, k] - sign * block.current[row, port, 0]
        if abs(far) > abs(amps[row, k]):
            amps[row, k] = far


def _fuses(circuit: Circuit) -> tuple[str, ...]:
    """Parts that open on overload, in the book's order."""
    net = circuit.net
    owners = [net.states[shift.state].owner for shift in net.shifts if shift.pace == 1]
    return tuple(dict.fromkeys(owner for owner in owners if (owner, "element") in net.state))
