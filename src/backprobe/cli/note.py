"""`backprobe note JOB WORDS`: findings in plain words."""

from __future__ import annotations

import argparse

from backprobe.base.problems import Problem
from backprobe.cli.common import (
    JOB,
    RefusedError,
    guarded,
    job_id,
    json_option,
    shop_of,
    shop_option,
    show,
)
from backprobe.cli.exits import Exit
from backprobe.cli.lay import noted_text
from backprobe.shop.noting import Noted, note_words


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, WORDS, --shop and --json."""
    parser.add_argument("job", help=JOB)
    parser.add_argument(
        "words",
        nargs="+",
        help="one or more findings, `;` between them: volts X10.3 4.9, key on "
        "(docs/findings-in-words.md)",
    )
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Note them and tell how they were understood; 3 when one was not, and nothing is kept."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        noted = note_words(shop, job_id(options.job), " ".join(options.words))
    problems = [n for n in noted if isinstance(n, Problem)]
    if problems:
        raise RefusedError(*problems, code=Exit.PROBLEMS)
    return show(options, list(noted), noted_text([n for n in noted if isinstance(n, Noted)]))
