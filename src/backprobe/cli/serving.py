"""Serving job sheets on this computer: the port, the address, phones that may come in, the end."""

from __future__ import annotations

import argparse
import errno
import signal
import socket
import sys
from collections.abc import Sequence
from contextlib import ExitStack

from backprobe.cli.common import json_option, refused
from backprobe.cli.exits import Exit
from backprobe.cli.plain import to_json
from backprobe.shop.workshop import Shop

HOST = "127.0.0.1"
USUAL_PORT = 8787
AUTO = "auto"
EVERYWHERE = "0.0.0.0"  # noqa: S104 - refused
ELSEWHERE = "192.0.2.1"
"""An address for documentation, which nobody has (RFC 5737)."""


def port_option(parser: argparse.ArgumentParser) -> None:
    """--port and --json."""
    parser.add_argument(
        "--port",
        type=int,
        default=USUAL_PORT,
        help=f"the port to serve on (default: {USUAL_PORT}; 0 takes a free one)",
    )
    parser.add_argument(
        "--share",
        nargs="?",
        const=AUTO,
        metavar="ADDRESS",
        help="let paired phones on the shop's network in; ADDRESS is this computer's own in that "
        "network (default: the one it reaches others by)",
    )
    json_option(parser)


def own_address() -> str:
    """The address of this computer in the network it reaches others by. Nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((ELSEWHERE, 9))
            found = str(probe.getsockname()[0])
        except OSError:
            found = HOST
    if found.startswith("127."):
        raise refused(
            "no-network",
            "This computer is in no network, so there is nobody to share with.",
            "Its Wi-Fi is off, or no cable is in.",
            "Join the shop's network or a phone's hot spot, then start again. Without --share it "
            "works on this computer alone.",
        )
    return found


def taken(port: int, host: str = HOST) -> socket.socket:
    """A socket that listens on a port of this computer."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):
            # Windows would share the port with another program without this
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if socket.gethostbyname(host) == EVERYWHERE:
            raise socket.gaierror(f"{host!r} is every address of this computer")
        listener.bind((host, port))
        listener.listen(128)
    except (OSError, OverflowError) as error:
        listener.close()
        if _not_here(error):
            raise refused(
                "address-not-here",
                f"{host[:60] or 'Nothing'} is not an address of this computer.",
                "Phones can only be let in by an address this computer has in their network.",
                "Say --share alone, or give the address the network settings show.",
            ) from error
        raise refused(
            "port-taken",
            f"Port {port} on {host} cannot be used.",
            "Another program has it, perhaps a Backprobe that runs already, or it is no port a "
            "user may take.",
            f"Close the other program, or take another port: --port {_other(port)}",
        ) from error
    return listener


def _other(port: int) -> int:
    return port + 1 if 1024 <= port < 65535 else USUAL_PORT


def serve(options: argparse.Namespace, shop: Shop, what: str) -> int:
    """Serve a shop until Ctrl+C, or until the system asks for the end."""
    with ExitStack() as open_ones:
        first = open_ones.enter_context(taken(options.port))
        port = int(first.getsockname()[1])
        listeners, shared = [first], ""
        if options.share is not None:
            host = own_address() if options.share == AUTO else options.share
            listeners.append(open_ones.enter_context(taken(port, host)))
            shared = f"{host}:{port}"
        try:
            signal.signal(signal.SIGTERM, signal.default_int_handler)
            _serve(listeners, shop, options, what, shared)
        except KeyboardInterrupt:
            pass
    return Exit.DONE


def _serve(
    listeners: Sequence[socket.socket],
    shop: Shop,
    options: argparse.Namespace,
    what: str,
    shared: str,
) -> None:
    import uvicorn

    from backprobe.web.app import make_app
    from backprobe.web.pairing import pair_address, qr_lines
    from backprobe.web.sharing import Sharing

    sharing = Sharing(shared) if shared else None
    server = uvicorn.Server(uvicorn.Config(make_app(shop, sharing=sharing), log_level="warning"))

    def stop(*_: object) -> None:
        # Not by an exception: one raised in the midst of an import can be lost.
        server.should_exit = True

    for wanted in (signal.SIGINT, signal.SIGTERM):
        signal.signal(wanted, stop)
    address = f"http://{HOST}:{listeners[0].getsockname()[1]}"
    pair = pair_address(sharing) if sharing else ""
    if options.json:
        print(to_json({"address": address, "pair": pair} if pair else {"address": address}))
    else:
        print(f"{what}: {address}  (Ctrl+C stops)")
    if pair and not options.json:
        print(f"{qr_lines(pair)}\nPair a phone, within 10 minutes: {pair}")
        print(f"More phones, and letting them go: {address}/phones")
    sys.stdout.flush()
    server.run(sockets=list(listeners))


def _not_here(error: OSError | OverflowError) -> bool:
    """No such address, or no address at all."""
    return isinstance(error, socket.gaierror) or (
        isinstance(error, OSError) and error.errno == errno.EADDRNOTAVAIL
    )
