"""Factorisations kept by state vector, and what leads from one to other patterns of states."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field

from backprobe.circuit.base import Base, Skeleton, Variant, factorise, skeleton_of
from backprobe.circuit.crew import ALONE, Crew
from backprobe.circuit.limits import Limits
from backprobe.circuit.net import Flags, Floats, Ints, Net, States
from backprobe.circuit.ports import Ports
from backprobe.circuit.reference import Reference
from backprobe.circuit.turned import Turns


@dataclass(slots=True)
class Kept:
    """A factorisation, and where it has served as one the reference made of it."""

    base: Base
    reference: Reference | None = None

    @property
    def weight(self) -> int:
        """Numbers kept."""
        return self.base.weight + (self.reference.weight if self.reference else 0)


@dataclass(slots=True)
class Bases:
    """Factorisations by state vector and variant; the least used are dropped beyond `limit`
    kept numbers (8 bytes each). `usual`: where the machine rests, by state vector it sets out in;
    `leads`: the reference of situations that start in a state vector. `crew`: who works on it."""

    net: Net
    crew: Crew = ALONE
    limit: int = 20_000_000
    usual: dict[bytes, States] = field(default_factory=dict)
    leads: dict[bytes, States] = field(default_factory=dict)
    _bones: Skeleton | None = None
    _turns: Turns | None = None
    _touched: list[tuple[Ports, tuple[Ints, Flags]]] = field(default_factory=list)
    _kept: OrderedDict[tuple[bytes, Variant], Kept] = field(default_factory=OrderedDict)

    @property
    def turns(self) -> Turns:
        """What the states of the net turn on and off."""
        self._turns = self._turns or Turns.of(self.net)
        return self._turns

    def touched(self, ports: Ports) -> tuple[Ints, Flags]:
        """Turns.touched, remembered for the last few."""
        for known, found in self._touched:
            if known is ports:
                return found
        self._touched.append((ports, self.turns.touched(ports)))
        del self._touched[:-4]
        return self._touched[-1][1]

    def get(self, states: States, variant: Variant = "nominal") -> Base:
        """The factorisation in this state vector, made when it is first asked for."""
        return self._find(states, variant).base

    def ohms(self, variant: Variant) -> Floats:
        """(B,) of all branches."""
        self._bones = self._bones or skeleton_of(self.net)
        return self._bones.ohm[variant]

    def reference(self, states: States, limits: Limits) -> Reference:
        """The factorisation in this state vector, made ready to lead to other patterns. `limits`:
        any that watch what the net's own do."""
        kept = self._find(states, "nominal")
        if kept.reference is None:
            kept.reference = Reference.of(kept.base, self.turns, limits)
        return kept.reference

    def _find(self, states: States, variant: Variant) -> Kept:
        key = (states.tobytes(), variant)
        kept = self._kept.get(key)
        if kept is None:
            self._bones = self._bones or skeleton_of(self.net)
            kept = self._kept[key] = Kept(factorise(self.net, states, variant, self._bones))
            self._trim()
        else:
            self._kept.move_to_end(key)
        return kept

    def _trim(self) -> None:
        """Drop the least used while too much is kept; counted now and then, it is not exact."""
        if len(self._kept) % 16 == 0:
            weight = sum(kept.weight for kept in self._kept.values())
            while len(self._kept) > 1 and weight > self.limit:
                _, gone = self._kept.popitem(last=False)
                weight -= gone.weight
