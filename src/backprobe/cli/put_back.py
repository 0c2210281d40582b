"""`backprobe put-back JOB [THING]`: the put-back list, and taking things off it."""

from __future__ import annotations

import argparse

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
from backprobe.shop.putting_back import putting_back


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, THING, --shop and --json."""
    parser.add_argument("job", help=JOB)
    parser.add_argument(
        "thing",
        nargs="*",
        help="a thing of the list that is back, or how its words begin: X10; without one the list "
        "is printed",
    )
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Note it and print what is left; 4 when it is not on the list."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    said = " ".join(options.thing).strip()
    with shop_of(options) as shop:
        card = card_of(shop, options.job)
        if said:
            state = card.job.state
            found = putting_back(state, _meant(state.put_back, said))
            if found is None:
                raise refused(
                    "not-on-the-list",
                    f"{said!r} is not one thing of the put-back list of {card.row.id}.",
                    "Each thing is put back by itself, so that none is forgotten.",
                    f"On the list: {'; '.join(state.put_back) or 'nothing'}.",
                )
            shop.note(card.row.id, found)
            card = card_of(shop, options.job)
    left = card.job.state.put_back
    text = "\n".join(left) or "Nothing to put back."
    return show(options, {"job": card.row.id, "put_back": list(left)}, text)


def _meant(things: tuple[str, ...], said: str) -> str:
    """The thing that is called so, or the only one whose words begin so; "" for none."""
    folded = said.casefold()
    begins = [thing for thing in things if thing.casefold().startswith(folded)]
    same = [thing for thing in begins if thing.casefold() == folded]
    one = same or begins
    return one[0] if len(one) == 1 else ""
