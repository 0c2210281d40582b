"""Writes the generated pages of the manual and the guide as the sheet shows it, or with --check says which are out of date.

A page is a module in scripts/pages with a function `text() -> str`. Add it to PAGES below.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from pages import command_line, findings_in_words, guide_page, kinds, public_names

ROOT = Path(__file__).resolve().parent.parent
PAGES: dict[str, Callable[[], str]] = {
    "docs/command-line.md": command_line.text,
    "docs/findings-in-words.md": findings_in_words.text,
    "docs/public-names.md": public_names.text,
    "docs/reference-kinds.md": kinds.text,
    "src/backprobe/web/templates/guide_text.html": guide_page.text,
}
NOTE = "Written by `make docs`. Change the source it comes from, not this page."
NOTES = {".md": f"<!-- {NOTE} -->\n\n", ".html": f"{{# {NOTE} #}}\n"}


def stale() -> dict[Path, str]:
    """The pages that differ from what they should hold, with what they should hold."""
    wanted = {ROOT / name: NOTES[Path(name).suffix] + text() for name, text in PAGES.items()}
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
            print(f"{path.relative_to(ROOT)} is out of date. Run `make docs` and commit the page.")
        else:
            path.write_text(text, encoding="utf-8")
            print(f"{path.relative_to(ROOT)} written")
    return 1 if check and pages else 0


if __name__ == "__main__":
    sys.exit(main())
