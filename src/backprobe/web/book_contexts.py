"""What the page that adds a wiring book shows, as frozen data."""

from __future__ import annotations

from dataclasses import dataclass

from backprobe.web.contexts import AssumedView, ProblemView


@dataclass(frozen=True, slots=True, kw_only=True)
class NewBookPage:
    """The form for a wiring book, with what was typed. `said`: what proofreading came to, "" before it;
    `usable`: it may be kept, nothing is yet; `digest` of the text that was proofread, `over` of the one it
    would replace; `replaces`: that one in words, "" for none; `alike`: books on a machine of this name."""

    name: str = ""
    text: str = ""
    said: str = ""
    usable: bool = False
    problems: tuple[ProblemView, ...] = ()
    assumed: tuple[AssumedView, ...] = ()
    digest: str = ""
    over: str = ""
    replaces: str = ""
    alike: str = ""
