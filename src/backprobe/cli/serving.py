"""Serving job sheets on this computer: the port, the address, the end."""

from __future__ import annotations

import argparse
import signal
import socket

from backprobe.cli.common import json_option, refused
from backprobe.cli.exits import Exit
from backprobe.cli.plain import to_json
from backprobe.shop.workshop import Shop

HOST = "127.0.0.1"
USUAL_PORT = 8787


def port_option(parser: argparse.ArgumentParser) -> None:
    """--port and --json."""
    parser.add_argument(
        "--port",
        type=int,
        default=USUAL_PORT,
        help=f"the port to serve on (default: {USUAL_PORT}; 0 takes a free one)",
    )
    json_option(parser)


def taken(port: int) -> socket.socket:
    """A socket that listens on a port of this computer."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):
            # Windows would share the port with another program without this
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((HOST, port))
        listener.listen(128)
    except (OSError, OverflowError) as error:
        listener.close()
        raise refused(
            "port-taken",
            f"Port {port} on {HOST} cannot be used.",
            "Another program has it, perhaps a Backprobe that runs already, or it is no port a "
            "user may take.",
            f"Close the other program, or take another port: --port {_other(port)}",
        ) from error
    return listener


def _other(port: int) -> int:
    return port + 1 if 1024 <= port < 65535 else USUAL_PORT


def serve(options: argparse.Namespace, shop: Shop, what: str) -> int:
    """Serve a shop until Ctrl+C, or until the system asks for the end."""
    listener = taken(options.port)
    try:
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        _serve(listener, shop, options, what)
    except KeyboardInterrupt:
        pass
    finally:
        listener.close()
    return Exit.DONE


def _serve(listener: socket.socket, shop: Shop, options: argparse.Namespace, what: str) -> None:
    import uvicorn

    from backprobe.web.app import make_app

    config = uvicorn.Config(make_app(shop), log_level="warning")
    address = f"http://{HOST}:{listener.getsockname()[1]}"
    said = to_json({"address": address}) if options.json else f"{what}: {address}  (Ctrl+C stops)"
    print(said, flush=True)
    uvicorn.Server(config).run(sockets=[listener])
