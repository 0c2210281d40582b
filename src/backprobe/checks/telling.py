"""Which functions of a machine tell most when somebody knows whether they work."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Final

from backprobe.book.model import Function
from backprobe.checks.hanging import Hanging
from backprobe.checks.layout import Layout

MOST: Final = 12
"""Questions one is ready to answer at once. Judgement."""
NEAR: Final = 10
"""How much likelier the fault is in a part that a complaint or a code points at. Judgement."""


def telling(
    layout: Layout,
    most: int = MOST,
    *,
    named: Sequence[str] = (),
    near: Collection[str] = (),
) -> tuple[Function, ...]:
    """Functions, most telling first: each one parts best what those before it left together.

    A function that works clears what it hangs on. `named`: functions that come first because
    somebody spoke of them; `near`: parts that are likelier than others. Of equals the one that
    hangs on most that is not asked about yet, then the first in the book. Nothing is predicted.
    """
    functions, hanging = layout.book.functions, Hanging(layout)
    behind = {
        name: hanging.parts((*function.needs, *function.commands))
        for name, function in functions.items()
    }
    weight = dict.fromkeys(set().union(*behind.values(), near), 1) | dict.fromkeys(near, NEAR)
    together = [frozenset(weight)]

    def worth(name: str) -> tuple[int, int]:
        parted = sum(
            _sum(weight, cell & behind[name]) * _sum(weight, cell - behind[name])
            for cell in together
        )
        return parted, len(behind[name].difference(*(behind[one] for one in asked)))

    asked: list[str] = []
    first = [name for name in dict.fromkeys(named) if name in functions]
    left = [name for name in functions if name not in first]
    while (first or left) and len(asked) < most:
        best = first.pop(0) if first else left.pop(left.index(max(left, key=worth)))
        together = [
            half for cell in together for half in (cell & behind[best], cell - behind[best]) if half
        ]
        asked.append(best)
    return tuple(functions[name] for name in asked)


def _sum(weight: Mapping[str, int], parts: Iterable[str]) -> int:
    return sum(weight[part] for part in parts)
