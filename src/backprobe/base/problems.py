"""A problem found in something a person wrote: what, where, why it matters, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Weight = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A stretch of one line of a text. `line` and `column` count from 1; `end` is one past."""

    file: str
    line: int
    column: int = 1
    end: int = 0
    text: str = ""

    def marked(self) -> str:
        """The line of text with a marker under the stretch."""
        length = max(1, self.end - self.column)
        return f"    {self.text}\n    {' ' * (self.column - 1)}{'^' * length}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One finding about a text. An "error" makes the text unusable, a "warning" does not.

    `slug` names the paragraph of docs/problems.md that explains it.
    """

    slug: str
    weight: Weight
    at: Spot | None
    what: str
    why: str
    remedy: str

    def __str__(self) -> str:
        where = f"{self.at.file}:{self.at.line}:{self.at.column}: " if self.at else ""
        lines = [f"{where}{self.weight}: {self.what} [{self.slug}]"]
        if self.at and self.at.text:
            lines.append(self.at.marked())
        lines += [f"  why: {self.why}", f"  do:  {self.remedy}"]
        return "\n".join(lines)


def has_errors(problems: Iterable[Problem]) -> bool:
    """True when at least one problem makes the text unusable."""
    return any(problem.weight == "error" for problem in problems)
