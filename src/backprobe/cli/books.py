"""`backprobe books`: the shop's wiring books."""

from __future__ import annotations

import argparse

from backprobe.cli.common import guarded, json_option, shop_of, shop_option, show
from backprobe.cli.lay import table


def arguments(parser: argparse.ArgumentParser) -> None:
    """--shop and --json."""
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """List them."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        kept = shop.books()
        rows = [
            (name, book.machine.name, str(len(book.parts)), str(len(book.wires)), digest[:12])
            for name, digest in kept.items()
            for book in (shop.book(name),)
        ]
    head = ("book", "machine", "parts", "wires", "text")
    result = [dict(zip(head, row, strict=True)) | {"text": kept[row[0]]} for row in rows]
    return show(options, result, table(rows, head) if rows else "No wiring books yet.")
