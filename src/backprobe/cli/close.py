"""`backprobe close JOB`: a job closed, with its cause and what was done."""

from __future__ import annotations

import argparse

from backprobe.base.problems import Problem
from backprobe.cli.common import (
    JOB,
    RefusedError,
    card_of,
    guarded,
    json_option,
    shop_of,
    shop_option,
    show,
)
from backprobe.cli.exits import Exit
from backprobe.cli.lay import wrapped
from backprobe.shop.closing import closing, minutes_of, proposed_cause
from backprobe.shop.write_up import write_up


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, what the closing says, --shop and --json."""
    parser.add_argument("job", help=JOB)
    parser.add_argument(
        "--cause",
        help="in your words (default: as it was closed before, else what was mended and proposed)",
    )
    parser.add_argument(
        "--done", help="what was done; also why it happened, and where else it could"
    )
    parser.add_argument("--parts", help="parts fitted")
    parser.add_argument(
        "--left",
        help="anything left as it is, and why: needed while something is on the put-back list",
    )
    parser.add_argument("--minutes", default="", help="minutes spent (default: by the notes)")
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Close it and say what somebody will ask; 3 when it cannot be closed like this."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    minutes = minutes_of(options.minutes)
    with shop_of(options) as shop:
        card = card_of(shop, options.job)
        up = write_up(card.job, card.row.complaint)

        def said(given: str | None, before: str) -> str:
            return before if given is None else given

        ending = closing(
            card.job.state,
            cause=said(options.cause, proposed_cause(up)),
            done=said(options.done, up.done),
            parts=said(options.parts, up.parts),
            left=said(options.left, up.left),
            minutes=None if isinstance(minutes, Problem) else minutes,
        )
        problems = [one for one in (minutes, ending) if isinstance(one, Problem)]
        if problems or isinstance(ending, Problem):
            raise RefusedError(*problems, code=Exit.PROBLEMS)
        shop.note(card.row.id, ending)
        up = write_up(shop.card(card.row.id).job, card.row.complaint)
    lines = [f"Closed {card.row.id}. Cause: {ending.cause or 'not named'}."]
    lines += ["Somebody will ask:", *up.gaps] if up.gaps else []
    text = "\n".join([*map(wrapped, lines), f"Then: backprobe write-up {card.row.id}"])
    return show(options, {"job": card.row.id, "closed": ending, "gaps": list(up.gaps)}, text)
