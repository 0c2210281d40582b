"""Writes the generated pages of the manual, or with --check says which are out of date.

A page is a module in scripts/pages with a function `text() -> str`. Add it to PAGES below.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from pages import command_line, findings_in_words, kinds, public_names

DOCS = Path(__file__).resolve().parent.parent / "docs"
PAGES: dict[str, Callable[[], str]] = {
    "command-line.md": command_line.text,
    "findings-in-words.md": findings_in_words.text,
    "public-names.md": public_names.text,
    "reference-kinds.md": kinds.text,
}
NOTE = "<!-- Written by `make docs`. Change the source it comes from, not this page. -->\n\n"


def stale() -> dict[Path, str]:
    """The pages that differ from what they should hold, with what they should hold."""
    wanted = {DOCS / name: NOTE + text() for name, text in PAGES.items()}
    return {
        path: text
        for path, text in wanted.items()
        if not path.exists() or path.read_text(encoding="utf-8") != text
    }


def main() -> int:
    """Write or check. 1 when --check finds a page out of date."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--check", action="store_true", help="write nothing, only compare")
    check = parser.parse_args().check
    pages = stale()
    for path, text in pages.items():
        if check:
            print(f"docs/{path.name} is out of date. Run `make docs` and commit the page.")
        else:
            path.write_text(text, encoding="utf-8")
            print(f"docs/{path.name} written")
    return 1 if check and pages else 0


if __name__ == "__main__":
    sys.exit(main())
