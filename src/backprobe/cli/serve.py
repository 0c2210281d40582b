"""`backprobe serve`: the shop in a browser on this computer."""

from __future__ import annotations

import argparse

from backprobe.cli.common import guarded, shop_of, shop_option
from backprobe.cli.serving import port_option, serve


def arguments(parser: argparse.ArgumentParser) -> None:
    """--port, --shop and --json."""
    port_option(parser)
    shop_option(parser)


def run(options: argparse.Namespace) -> int:
    """Serve until Ctrl+C; 4 when the port is taken."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        return serve(options, shop, "Backprobe")
