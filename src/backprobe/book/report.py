"""Collects the problems of one reading. Bounded: a hopeless text gets 200 problems and a count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from difflib import get_close_matches
from itertools import islice
from typing import Final

from backprobe.base.problems import Problem, Spot
from backprobe.book.wording import WORDING

MOST_PROBLEMS: Final = 200
_MOST_SUGGESTIONS: Final = 60
_MOST_CANDIDATES: Final = 1_500


class Report:
    """The problems found so far, in the order they were found."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._kept: list[Problem] = []
        self._dropped: Counter[str] = Counter()
        self._suggested = 0
        self._seen: set[tuple[str, Spot | None, str]] = set()

    def add(self, slug: str, at: Spot | None, **facts: str) -> None:
        """Keep a problem: the words of its slug with the facts filled in."""
        wording = WORDING[slug]
        if len(self._kept) >= MOST_PROBLEMS:
            self._dropped[wording.weight] += 1
            return
        what = wording.what.format(**facts)
        if (slug, at, what) in self._seen:
            return
        self._seen.add((slug, at, what))
        self._kept.append(
            Problem(
                slug=slug,
                weight=wording.weight,
                at=at,
                what=what,
                why=wording.why.format(**facts),
                remedy=wording.remedy.format(**facts),
            )
        )

    def near(self, word: str, candidates: Iterable[str], *, cutoff: float = 0.7) -> str:
        """A question that offers the nearest known word, or nothing."""
        found = self.nearest(word, candidates, cutoff=cutoff)
        return f"Did you mean {found}? " if found else ""

    def nearest(self, word: str, candidates: Iterable[str], *, cutoff: float = 0.7) -> str:
        """The nearest known word, or ""."""
        if len(self._kept) >= MOST_PROBLEMS or self._suggested >= _MOST_SUGGESTIONS:
            return ""
        self._suggested += 1
        blind = {name.casefold(): name for name in islice(candidates, _MOST_CANDIDATES)}
        found = get_close_matches(word.casefold(), blind, n=1, cutoff=cutoff)
        return blind[found[0]] if found else ""

    def keep_only(self, slug: str) -> None:
        """Forget every problem of another slug."""
        self._kept = [problem for problem in self._kept if problem.slug == slug]
        self._dropped.clear()

    @property
    def has_errors(self) -> bool:
        """True when a problem, kept or only counted, makes the text unusable."""
        return self._dropped["error"] > 0 or any(p.weight == "error" for p in self._kept)

    def problems(self) -> tuple[Problem, ...]:
        """The problems in the order of the text, and a last one that counts what was left out."""
        kept = sorted(self._kept, key=lambda p: (p.at.line, p.at.column) if p.at else (0, 0))
        left_out = self._dropped.total()
        if left_out:
            wording = WORDING["more-problems"]
            kept.append(
                Problem(
                    slug="more-problems",
                    weight="error" if self._dropped["error"] else "note",
                    at=None,
                    what=wording.what.format(count=str(left_out)),
                    why=wording.why,
                    remedy=wording.remedy,
                )
            )
        return tuple(kept)
