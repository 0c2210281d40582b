"""`backprobe answer JOB WHAT`: what the proposed check showed."""

from __future__ import annotations

import argparse

from backprobe.book.model import Book
from backprobe.checks.answer import CANNOT, INSTRUMENTS
from backprobe.checks.model import Check, Priced, displayed
from backprobe.cli.common import (
    JOB,
    RefusedError,
    card_of,
    guarded,
    job_id,
    json_option,
    refused,
    shop_of,
    shop_option,
    show,
)
from backprobe.cli.exits import Exit
from backprobe.cli.lay import noted_text
from backprobe.shop.answer import SI, Answer, answered, unit_of, value_of
from backprobe.shop.displays import beyond_display, beyond_words
from backprobe.shop.meters import meter_problem
from backprobe.shop.noting import keep


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, WHAT, --of, --shop and --json."""
    parser.add_argument("job", help=JOB)
    parser.add_argument(
        "what",
        nargs="+",
        help="the reading (4.9, 85 mV, OL, 4.9..0.2), the outcome in words, or `cannot` when it "
        "cannot be done here: it is not proposed again until that is taken back",
    )
    parser.add_argument(
        "--of", type=int, default=1, metavar="N", help="which of the proposed checks (default: 1)"
    )
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Note it; 4 when the answer does not fit the check."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    job = job_id(options.job)
    with shop_of(options) as shop:
        card = card_of(shop, job)
        offers = card.job.next_checks
        if not 1 <= options.of <= len(offers):
            raise refused(
                "check-not-offered",
                f"There is no proposed check {options.of} on {job}.",
                f"{len(offers)} {'is' if len(offers) == 1 else 'are'} proposed now.",
                f"See them: backprobe check-next {job}",
            )
        offer = offers[options.of - 1]
        said = _said(offer, " ".join(options.what), card.job.book)
        findings = answered(offer.check, said, card.job.state)
        if not findings:
            raise _fits_not(
                offer, " ".join(options.what), f"{CANNOT!r}, when it cannot be done here"
            )
        noted = keep(shop, card, findings)
    return show(options, list(noted), noted_text(noted))


def _listed(check: Check, typed: str, words: list[str], book: Book) -> Answer | None:
    """All the codes a unit shows, where one of them was asked for; None when it is no such list."""
    if check.does not in ("codes", "unplug"):
        return None
    unit, _, code = (check.setting if check.does == "unplug" else check.target).rpartition(" ")
    codes = () if typed == "none" else tuple(typed.replace(",", " ").split())
    if any((unit, one) not in book.codes for one in codes):
        return None
    return Answer(word=words[0] if code in codes else words[-1], codes=codes)


def _on_the_meter(check: Check, value: float | None, book: Book) -> None:
    """Refuses what no meter can show there."""
    if value is None or unit_of(check) not in SI or check.does == "display":
        return
    problem = meter_problem(book, value, INSTRUMENTS.get(check.does, "meter"))
    if problem is not None:
        raise RefusedError(problem, code=Exit.PROBLEMS)


def _on_display(check: Check, value: float, book: Book) -> None:
    """Refuses a value the display cannot show."""
    if check.does == "display":
        unit, name = displayed(check)
        scale = beyond_display(book, unit, name, value)
        if scale:
            raise RefusedError(beyond_words(unit, name, value, scale), code=Exit.PROBLEMS)


def _in_which(offer: Priced, typed: str) -> None:
    """Asks whether volts or millivolts are meant, where the meter may show either."""
    telling = any((outcome.high or 0.0) >= 1.0 for outcome in offer.outcomes)
    if offer.check.does != "millivolts" or not telling or "v" in typed.casefold():
        return
    if typed.strip().casefold() in ("ol", "o.l", "o.l."):
        return
    raise refused(
        "answer-volts-or-millivolts",
        f"{typed.strip()!r} may be volts or millivolts here.",
        "A fuse or wire that is open has all the volts across it, a sound one some millivolts.",
        f"Type {typed.strip()} V or {typed.strip()} mV.",
    )


def _said(offer: Priced, text: str, book: Book) -> Answer:
    check = offer.check
    words = [outcome.word for outcome in offer.outcomes if outcome.word]
    folded = {word.casefold(): word for word in words}
    typed = " ".join(text.split()).casefold()
    if typed == CANNOT:
        return Answer(word=CANNOT)
    if words:
        if typed in folded:
            return Answer(word=folded[typed])
        listed = _listed(check, typed, words, book)
        if listed is not None:
            return listed
        known = ", ".join(repr(word) for word in words)
    else:
        one, jumps, other = text.partition("..")
        value = value_of(one, check)
        to = value_of(other, check) if jumps else None
        if value is not None and not (jumps and to is None):
            _in_which(offer, one)
            _on_display(check, value, book)
            _on_the_meter(check, value, book)
            _on_the_meter(check, to, book)
            return Answer(value=value, to=to)
        known = "a reading such as 4.9, 85 mV, OL, or 4.9..0.2 when it jumps"
        if not unit_of(check) and check.does != "display":
            known = f"{CANNOT!r}, when it cannot be done here"
    raise _fits_not(offer, text, known)


def _fits_not(offer: Priced, text: str, known: str) -> RefusedError:
    return refused(
        "answer-does-not-fit",
        f"{text!r} does not answer: {offer.check.words}",
        "Each check has its own outcomes; another word could be taken for the wrong one.",
        f"Answer with {known}. Anything else that was found: backprobe note JOB WORDS",
    )
