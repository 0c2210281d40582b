"""`backprobe keep FILE`: a wiring book into the shop."""

from __future__ import annotations

import argparse
from pathlib import Path

from backprobe.cli.common import (
    guarded,
    json_option,
    keep_file,
    shelf_name,
    shop_of,
    shop_option,
    show,
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """FILE, --name, --shop and --json."""
    parser.add_argument("file", help="the wiring book, a text file")
    parser.add_argument("--name", help="its name in the shop (default: the file's)")
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Keep it; a book with errors is refused (3) and the old text stays."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        name = shelf_name(shop, (options.name or "").strip() or Path(options.file).stem)
        problems = keep_file(shop, options.file, name)
    lines = [*map(str, problems), f"{name} is kept."]
    return show(options, {"book": name, "problems": list(problems)}, "\n".join(lines))
