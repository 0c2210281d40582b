"""`backprobe recording FILE`: the fault codes in a bus recording, and into a job with them."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence

from backprobe.cli.common import (
    RefusedError,
    card_of,
    exit_for,
    guarded,
    job_id,
    json_option,
    refused,
    shop_of,
    shop_option,
    show,
)
from backprobe.cli.exits import Exit
from backprobe.cli.lay import table, wrapped
from backprobe.shop.noting import Noted
from backprobe.shop.recordings import Heard, codes_for_job, listen
from backprobe.shop.say import told


def arguments(parser: argparse.ArgumentParser) -> None:
    """FILE, --job, --unit, --shop and --json."""
    parser.add_argument("file", help="a recording of the machine's bus")
    parser.add_argument("--job", help="take the active codes into this job")
    parser.add_argument(
        "--unit",
        action="append",
        default=[],
        metavar="SOURCE=UNIT",
        help="which unit of the book a source address is: 0=ECU; may be repeated",
    )
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Tell its codes; 3 when the file could not be read as a recording."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    heard = listen(options.file)
    if exit_for(heard.problems) is not Exit.DONE:
        raise RefusedError(*heard.problems, code=Exit.PROBLEMS)
    noted = _noted(options, heard) if options.job else []
    result = {
        "recording": heard.name,
        "seconds": heard.seconds,
        "counts": heard.counts,
        "units": heard.units,
        "problems": heard.problems,
        "noted": noted,
    }
    lines = [_summary(heard)]
    lines += [wrapped(f"{problem.what}: {problem.why}.", "  ") for problem in heard.problems]
    lines.append(_codes(heard))
    if noted:
        lines.append(table([(n.finding, n.words) for n in noted]))
    return show(options, result, "\n".join(lines))


def _summary(heard: Heard) -> str:
    frames = heard.counts.get("frames", 0)
    return f"{heard.name}: {frames} frames in {heard.seconds:.0f} s"


def _codes(heard: Heard) -> str:
    rows: list[Sequence[str]] = []
    for unit in heard.units:
        listed = [(seen, "active") for seen in unit.active]
        listed += [(seen, "stored") for seen in unit.stored]
        for seen, sort in listed:
            rows.append(
                (
                    str(unit.source),
                    sort if seen.at_end or sort == "stored" else "active, gone at the end",
                    seen.code,
                    "" if seen.count is None else str(seen.count),
                    f"in {seen.messages} lists, {_at(seen.first_s)} to {_at(seen.last_s)}",
                )
            )
        if not listed:
            rows.append((str(unit.source), "none", "", "", f"{unit.lists} empty lists"))
        rows += [("", "", "", "", doubt) for doubt in unit.doubts]
    if not rows:
        return "No unit sent a code list in this recording."
    return table(rows, ("source", "codes", "SPN/FMI", "count", "seen"), indent="  ")


def _at(seconds: float) -> str:
    return f"{round(seconds, 1) + 0.0:.1f} s"


def _noted(options: argparse.Namespace, heard: Heard) -> list[Noted]:
    job = job_id(options.job)
    with shop_of(options) as shop:
        card = card_of(shop, job)
        units = _units(options.unit, heard, {unit for unit, _ in card.job.book.codes})
        found = codes_for_job(heard, units, visit=card.job.state.visit)
        if not found:
            listed = ", ".join(str(unit.source) for unit in heard.units) or "none"
            raise refused(
                "no-codes-to-take",
                f"None of the units named sent a list of active codes in {heard.name}.",
                f"Sources that sent one: {listed}.",
                "Name the unit behind a source: --unit 0=ECU",
            )
        ids = shop.note(job, *found)
    return [Noted(finding=i, words=told(f)) for i, f in zip(ids, found, strict=True)]


def _units(said: Sequence[str], heard: Heard, known: set[str]) -> dict[int, str]:
    units: dict[int, str] = {}
    for pair in said:
        source, _, unit = pair.partition("=")
        if not re.fullmatch("[0-9]{1,3}", source.strip()) or unit.strip() not in known:
            raise refused(
                "unit-not-known",
                f"--unit {pair} does not name a source and a unit.",
                f"Units of this book that report codes: {', '.join(sorted(known)) or 'none'}.",
                "Write the source address, =, and the unit: --unit 0=ECU",
            )
        units[int(source)] = unit.strip()
    if not said and len(heard.units) == 1 and len(known) == 1:
        units[heard.units[0].source] = next(iter(known))
    return units
