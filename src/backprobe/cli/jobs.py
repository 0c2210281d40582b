"""`backprobe jobs`: the shop's jobs."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime

from backprobe.cli.common import guarded, json_option, shop_of, shop_option, show
from backprobe.cli.lay import table


def arguments(parser: argparse.ArgumentParser) -> None:
    """--shop and --json."""
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """List them, oldest first."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        rows = shop.jobs()
    lines = [
        (
            row.id,
            datetime.fromtimestamp(row.started_at, UTC).astimezone().strftime("%Y-%m-%d %H:%M"),
            row.machine,
            row.serial,
            "" if row.hours is None else f"{row.hours:g} h",
            row.complaint,
        )
        for row in rows
    ]
    head = ("job", "started", "machine", "serial", "hours", "complaint")
    return show(options, list(rows), table(lines, head) if rows else "No jobs yet.")
