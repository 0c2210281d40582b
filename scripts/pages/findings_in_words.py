"""docs/findings-in-words.md: what may be typed, from the listener's own table."""

from __future__ import annotations

from backprobe.shop.say.forms import FORMS, SITUATION_WORDS
from backprobe.shop.say.trouble import WORDING

HEAD = """# Findings in words

`backprobe note JOB WORDS`, the line on the job sheet and `backprobe.hear` understand the sentences
below. CAPITALS stand for what you fill in, `[ ]` may be left out, `|` parts what to choose from.

- One finding per sentence. `;` or a new line begins the next.
- Names are those of the wiring book, in any case. A pin is `X14.3`, `X14 way 3` or `rail sensor pin
  2`; at a plug between two looms `X14.3` is the side towards the feed, `X14.3b` the other one.
- Figures take a point or a comma. `4.9` is taken as read to a tenth of a volt, `4.90` to a hundredth.
- After the finding, each after a comma, comes how the machine stood. What is not said is as the
  finding before left it; the answer always tells how it was understood. The key springs back from
  cranking, and what was switched on only to try something is off again.
- `?` at the end: kept, but not trusted and not weighed. `#` begins a note of your own.
- What is unclear is not guessed: the whole line is refused, with what to type instead.
"""


def text() -> str:
    """The whole page."""
    parts = [HEAD, "## Sentences\n"]
    for form in FORMS:
        examples = "\n".join(form.examples)
        parts.append(f"### `{form.whole}`\n\n{form.means}\n\n```text\n{examples}\n```\n")
    rows = "\n".join(
        f"| {_cell(word.pattern)} | {word.means} | `{word.example}` |" for word in SITUATION_WORDS
    )
    parts.append(
        f"## How the machine stood\n\n| words | meaning | example |\n|---|---|---|\n{rows}\n"
    )
    rows = "\n".join(
        f"| `{slug}` | {_cell(wording.what)} | {_cell(wording.remedy)} |"
        for slug, wording in WORDING.items()
    )
    parts.append(
        "## What may be wrong\n\nWords in braces are those of the line at hand.\n\n"
        f"| slug | what | what to do |\n|---|---|---|\n{rows}\n"
    )
    return "\n".join(parts)


def _cell(words: str) -> str:
    return words.replace("|", "\\|")
