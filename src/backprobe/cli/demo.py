"""`backprobe demo`: an invented machine and three jobs, in a browser on this computer."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from backprobe.cli.common import guarded, shop_of, shop_option
from backprobe.cli.serving import port_option, serve
from backprobe.shop.demo_shop import fill


def arguments(parser: argparse.ArgumentParser) -> None:
    """--port, --shop and --json."""
    port_option(parser)
    shop_option(parser)
    parser.epilog = "Without --shop the demo is thrown away when it ends; with it, it is kept."


def run(options: argparse.Namespace) -> int:
    """Fill the demo shop where it lacks something, and serve it until Ctrl+C."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    if options.shop:
        return _serve(options)
    with tempfile.TemporaryDirectory(
        prefix="backprobe-demo-", ignore_cleanup_errors=True
    ) as folder:
        options.shop = str(Path(folder) / "demo.backprobe")
        return _serve(options)


def _serve(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        fill(shop)
        return serve(options, shop, "Backprobe demo shop")
