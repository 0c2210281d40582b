"""`backprobe where JOB`: from the verdict to centimetres along the loom."""

from __future__ import annotations

import argparse

from backprobe.checks.at_step import cautions_at
from backprobe.checks.ranging import COLDEST, WARMEST, Placed
from backprobe.checks.ranging_steps import HowTo
from backprobe.checks.wording import percent
from backprobe.cli.common import (
    JOB,
    card_of,
    guarded,
    json_option,
    refused,
    shop_of,
    shop_option,
    show,
)
from backprobe.cli.lay import table, wrapped
from backprobe.cli.typed import figure
from backprobe.kinds.hazards import DEFER
from backprobe.shop.whereabouts import Whereabouts, whereabouts

DOUBTED = 0.2
"""A reading more likely wrong than this is named."""
WORTH_NAMING = 0.01


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, --wire, --celsius, --how, --shop and --json."""
    parser.add_argument("job", help=JOB)
    parser.add_argument(
        "--wire", help="a wire by the book's name (default: the likeliest to be rubbed through)"
    )
    parser.add_argument(
        "--celsius",
        type=figure(COLDEST, WARMEST),
        default=20.0,
        help="how warm the loom is (default: 20)",
    )
    parser.add_argument("--how", action="store_true", help="also how to range it, step by step")
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Say where to look first, and how to range it further."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        card = card_of(shop, options.job)
    wire = (options.wire or "").removeprefix("wire ")
    if wire and wire not in card.job.book.wires:
        raise refused(
            "place-not-found",
            f"The book has no wire {wire!r}.",
            "A place along the loom is a place along one of its wires.",
            "Type the wire's name as the book prints it.",
        )
    found = whereabouts(card.job, wire, celsius=options.celsius)
    if found is None:
        return show(options, None, "No wire of this book is suspected to be rubbed through.")
    return show(options, _plain(found), "\n".join(_lines(found, how=options.how)))


def _plain(found: Whereabouts) -> dict[str, object]:
    placed = found.placed
    return {
        "wires": found.wires,
        "chance": found.chance,
        "within": placed.within,
        "looks": placed.looks,
        "spots": placed.spots,
        "used": found.used,
        "unused": found.unused,
        "at_m": placed.after.at_m.tolist(),
        "chances": placed.after.chance.tolist(),
        "how": found.how,
        "say": found.say,
    }


def _lines(found: Whereabouts, *, how: bool) -> list[str]:
    placed = found.placed
    lines = [
        wrapped(f"{', '.join(found.wires)}: {percent(found.chance)} that it is rubbed through.")
    ]
    lines += ["", "If it is, it is here:", *_places(placed)]
    doubts = [
        ident for ident, told in zip(found.used, placed.told, strict=False) if told.wrong > DOUBTED
    ]
    if found.used:
        lines.append(f"Ranged by {', '.join(found.used)}.")
    lines += [wrapped(f"Not used: {ident}: {why}.") for ident, why in found.unused]
    if doubts:
        lines.append(wrapped(f"Does not add up: {', '.join(doubts)}. Read it once more."))
    if found.how.feed.barred:
        lines += ["", wrapped(found.how.feed.barred)]
    if not found.how.steps:
        return lines
    if how:
        return [*lines, "", *_how(found.how), "", *_say(found)]
    return [*lines, "", f"--how shows how to range it with a {found.how.feed.by}."]


def _places(placed: Placed) -> list[str]:
    rows = [
        ("look first" if not number else "then", percent(look.chance), look.words)
        for number, look in enumerate(placed.looks)
    ]
    rows.append(("within", percent(placed.within.chance), placed.within.words))
    rows += [
        ("weak spot", percent(spot.chance), f"{spot.name}, section {spot.section}")
        for spot in placed.spots
        if spot.chance >= WORTH_NAMING
    ]
    return [table(rows, indent="  ")]


def _how(how: HowTo) -> list[str]:
    lines = []
    said = cautions_at(how.hazards, how.steps)
    for number, (step, before) in enumerate(zip(how.steps, said, strict=True), 1):
        lines += [wrapped(f"{words} ({by})", "  ! ") for words, by in before]
        lines.append(wrapped(step, f"{number:>3} "))
    lines.append(wrapped(DEFER, "  ! "))
    if not how.readings:
        return lines
    lines += ["", wrapped(f"The meter, with about {how.amps:.1f} A through the lamp:")]
    looks = max((len(one.looks) for one in how.readings), default=0)
    head = ("a metre", "short beyond", "first place", "second place")[: 2 + looks]
    rows = [
        (*(f"{volts * 1000:.0f} mV" for volts in (one.metre, one.whole, *one.looks)), one.words)
        for one in how.readings
    ]
    return [*lines, table(rows, (*head, "from and to"), indent="  ")]


def _say(found: Whereabouts) -> list[str]:
    return ["Note it with backprobe note JOB:", *(wrapped(f'"{one}"', "  ") for one in found.say)]
