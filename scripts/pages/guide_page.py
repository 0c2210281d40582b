"""The guide as the page /guide shows it: docs/guide.md in HTML. It knows the few forms that page is
written in, and refuses what it does not know."""

from __future__ import annotations

import re
from html import escape
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
GUIDE = ROOT / "docs" / "guide.md"
PICTURES = ROOT / "src" / "backprobe" / "web" / "static" / "guide"
PICTURE = re.compile(r"!\[([^\]]+)\]\([^)]*/static/guide/([\w-]+\.png)\)")
LINK = re.compile(r"\[([^\]]+)\]\(([\w-]+)\.md\)")
HERE = {"findings-in-words": "#words"}
"""Pages of the manual that the page holds itself; of others only the words stay."""


def text() -> str:
    """The body of the page."""
    blocks = re.split(r"\n{2,}", GUIDE.read_text(encoding="utf-8").strip())
    return "\n".join(_block(block) for block in blocks) + "\n"


def _block(block: str) -> str:
    picture = PICTURE.fullmatch(block)
    heading = re.fullmatch(r"(#{1,2}) (.+)", block)
    if picture:
        with Image.open(PICTURES / picture[2]) as kept:
            wide, high = kept.size
        return (
            f'<figure><img src="/static/guide/{picture[2]}" width="{wide}" height="{high}" alt="" '
            f'loading="lazy"><figcaption>{_words(picture[1])}</figcaption></figure>'
        )
    if heading:
        level = len(heading[1])
        return f"<h{level}>{_words(heading[2])}</h{level}>"
    if block.startswith("|"):
        rows = [row.strip("|").split("|") for row in block.splitlines()]
        cells = [[_words(cell.strip()) for cell in row] for row in rows[2:]]
        return "<dl>" + "".join(f"<dt>{a}</dt><dd>{b}</dd>" for a, b in cells) + "</dl>"
    if re.match(r"[#!>]|[*-] |\d+\. |```", block):
        raise ValueError(f"not known to the page of the guide: {block[:60]}")
    return f"<p>{_words(block)}</p>"


def _words(words: str) -> str:
    said = escape(" ".join(words.split()), quote=False)
    said = LINK.sub(lambda m: f'<a href="{HERE[m[2]]}">{m[1]}</a>' if m[2] in HERE else m[1], said)
    said = re.sub(r"`([^`]+)`", r"<code>\1</code>", said)
    return re.sub(r"\*([^*]+)\*", r"<em>\1</em>", said)
