"""`backprobe expect "volts X14.3, key on" --book BOOK`: what a reading would be."""

from __future__ import annotations

import argparse
from math import hypot

from backprobe.checks.wording import percent, reading
from backprobe.cli.common import (
    RefusedError,
    book_of,
    book_option,
    guarded,
    json_option,
    refused,
    shop_option,
    show,
)
from backprobe.cli.exits import Exit
from backprobe.cli.lay import table
from backprobe.shop.expect import Expected
from backprobe.shop.job import start
from backprobe.shop.say import Asked, asked


def arguments(parser: argparse.ArgumentParser) -> None:
    """READING, --with, --book, --shop and --json."""
    parser.add_argument(
        "reading",
        nargs="+",
        help="what is read and how the machine stands: volts X10.3, key on",
    )
    parser.add_argument(
        "--with",
        dest="defect",
        metavar="DEFECT",
        action="append",
        default=[],
        help="a defect, by its name or how its words begin (see can-break); may be repeated",
    )
    book_option(parser)
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Say the healthy reading, and the one with each defect that was named."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    job = start(book_of(options))
    asking = asked(" ".join(options.reading), job.book)
    if not isinstance(asking, Asked):
        raise RefusedError(*asking, code=Exit.PROBLEMS)
    probe, situation = asking.probe, asking.situation
    rows: list[Expected] = []
    for defect in ("healthy", *options.defect):
        try:
            rows += job.expect(probe, defect=defect, situation=situation)
        except KeyError as error:
            raise refused(
                "defect-not-found",
                f"{str(error.args[0])[:1].upper()}{str(error.args[0])[1:]}.",
                "Only what the book's circuit can show can be expected.",
                "List the defects of a place: backprobe can-break PLACE --book BOOK",
            ) from error
    head = ("defect", "how bad", "reads", "weight", "and what it does")
    fine = " ".join(options.reading).split()[0].casefold() == "millivolts"
    lines = [
        (row.defect, row.severity, _reads(row, fine=fine), percent(row.chance), row.does)
        for row in rows
    ]
    return show(options, rows, f"{situation.words()}\n{table(lines, head)}")


def _reads(row: Expected, *, fine: bool) -> str:
    """`fine`: asked on a millivolt range."""
    if not row.steady:
        return "no steady reading"
    unit = "mV" if fine else row.unit
    tolerance, shown = hypot(row.tolerance, row.meter), reading(row.value, unit)
    if unit == "ohm" and shown != "OL" and tolerance > 0.5 * row.value:
        return f"under {reading(row.value + tolerance, unit)}"
    give = reading(tolerance, unit)
    return shown if shown == "OL" or give.startswith("0 ") else f"{shown} ± {give}"
