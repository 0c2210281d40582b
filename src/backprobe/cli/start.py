"""`backprobe start BOOK COMPLAINT`: a new job."""

from __future__ import annotations

import argparse
from pathlib import Path

from backprobe.cli.common import (
    guarded,
    json_option,
    keep_file,
    no_book,
    shelf_name,
    shop_of,
    shop_option,
    show,
)
from backprobe.cli.typed import figure
from backprobe.shop.arrival import MOST_HOURS
from backprobe.shop.demo import BOOKS, book_text


def arguments(parser: argparse.ArgumentParser) -> None:
    """BOOK, COMPLAINT and what is known of the machine."""
    parser.add_argument("book", help="a book kept in the shop, a file, or a demo book")
    parser.add_argument("complaint", nargs="+", help="in the operator's words")
    parser.add_argument("--machine", default="", help="what to call the machine")
    parser.add_argument("--serial", default="", help="its serial number")
    parser.add_argument("--hours", type=figure(0.0, MOST_HOURS), help="its hour meter")
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Start it and print its number. A book given as a file is kept in the shop first."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    name: str = options.book
    with shop_of(options) as shop:
        kept = shop.books()
        if name not in kept and Path(name).is_file():
            file, name = name, shelf_name(shop, Path(name).stem)
            keep_file(shop, file, name)
        elif name not in kept and name in BOOKS:
            shop.add_book(name, book_text(name))
        elif name not in kept:
            raise no_book(name, tuple(kept))
        job = shop.start_job(
            name,
            " ".join(options.complaint),
            machine=options.machine,
            serial=options.serial,
            hours=options.hours,
        )
    text = f"{job}\nNote what is known: backprobe note {job} codes ECU ..."
    return show(options, {"job": job, "book": name}, text)
