"""The pictures of the guide: taken from the running app, and held against what the guide says."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Page, expect

from web.browser_tools import PICTURES

GUIDE = Path(__file__).parents[2] / "docs" / "guide.md"
FRESH = PICTURES / "guide"
PICTURE = re.compile(r"!\[([^\]]+)\]\(\.\./src/backprobe/web/static/guide/([\w-]+)\.png\)")
ON_SCREEN = re.compile("“([^”]+)”")
"""Words of a caption that stand on the screen."""


def named() -> dict[str, tuple[str, ...]]:
    """The pictures the guide names, each with the words that must be on its page."""
    return {
        name: tuple(ON_SCREEN.findall(caption))
        for caption, name in PICTURE.findall(GUIDE.read_text(encoding="utf-8"))
    }


@dataclass(slots=True)
class Album:
    """Pictures taken from a page, and the words that were on it."""

    page: Page
    words: dict[str, str] = field(default_factory=dict)

    def take(self, name: str, at: str) -> None:
        """What a phone shows from an element on down."""
        # a busy computer may answer late: that is not what the picture is to show
        expect(self.page.locator("#offline")).to_be_hidden(timeout=60_000)
        FRESH.mkdir(parents=True, exist_ok=True)
        self.page.locator(at).first.evaluate(
            "e => { e.scrollIntoView({block: 'start', behavior: 'instant'}); document.activeElement.blur() }"
        )
        self.page.mouse.move(0, 0)
        self.page.screenshot(path=FRESH / f"{name}.png", animations="disabled")
        # what is typed into a field counts as a word of the page
        typed = self.page.evaluate(
            "[...document.querySelectorAll('input, textarea')].map(e => e.value).join(' ')"
        )
        self.words[name] = f"{self.page.inner_text('body')} {typed}"

    def once(self, name: str, at: str) -> None:
        """The same, the first time only."""
        if name not in self.words:
            self.take(name, at)

    def missing(self, wanted: dict[str, tuple[str, ...]]) -> dict[str, list[str]]:
        """Pictures that were not taken, and words that were not on their page."""
        return {
            name: gone
            for name, said in wanted.items()
            if (gone := [w for w in said if name not in self.words or not self._shows(name, w)])
            or name not in self.words
        }

    def _shows(self, name: str, words: str) -> bool:
        page = " ".join(self.words[name].replace("\u00a0", " ").split()).casefold()
        return words.casefold() in page
