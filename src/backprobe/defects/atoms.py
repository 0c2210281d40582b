"""What is asked of every atom of a machine, remembered for the last few questions."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backprobe.defects.model import Atom, Defects


@dataclass(frozen=True, slots=True, eq=False)
class _Atoms:
    """All atoms, known by being the same tuple: to compare thousands would be dearer than to ask."""

    all: tuple[Atom, ...]

    def __hash__(self) -> int:
        return id(self.all)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Atoms) and self.all is other.all


def of_atoms(defects: Defects, ask: Callable[..., bool | float], *about: Hashable) -> NDArray[Any]:
    """(A,) what `ask(atom, *about)` says of every atom; not to be written to. The atoms of two faults
    are others in every round, those of singles the same throughout."""
    known = _asked(_Atoms(defects.single or defects.atoms), ask, about)
    if known.size == len(defects.atoms):
        return known
    more = [ask(atom, *about) for atom in defects.atoms[known.size :]]
    return np.concatenate([known, np.array(more)])


@lru_cache(maxsize=512)
def _asked(
    atoms: _Atoms, ask: Callable[..., bool | float], about: tuple[Hashable, ...]
) -> NDArray[Any]:
    found = np.array([ask(atom, *about) for atom in atoms.all])
    found.flags.writeable = False
    return found
