"""`backprobe write-up JOB`: what was found, done and proven, as text."""

from __future__ import annotations

import argparse

from backprobe.cli.common import JOB, card_of, guarded, json_option, shop_of, shop_option, show
from backprobe.shop.write_up import write_up
from backprobe.shop.write_up_text import as_text, day_of


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, --shop and --json."""
    parser.add_argument("job", help=JOB)
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Print it, closed or not."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        card = card_of(shop, options.job)
    up = write_up(card.job, card.row.complaint)
    return show(options, up, as_text(card.row, day_of(card.row), up).rstrip())
