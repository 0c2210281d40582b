"""`backprobe check-next JOB`: the next check, what to expect, what each outcome leaves."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from backprobe.checks.at_step import cautions_at
from backprobe.checks.model import Outcome, Priced
from backprobe.checks.wording import minutes, percent
from backprobe.cli.common import JOB, card_of, guarded, json_option, shop_of, shop_option, show
from backprobe.cli.lay import table, wrapped
from backprobe.suspects.model import Suspect


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, --why, --shop and --json."""
    parser.add_argument("job", help=JOB)
    parser.add_argument("--why", action="store_true", help="the other checks in full too")
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Plan the next check and tell it."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        card = card_of(shop, options.job)
    proposal = card.job.proposal
    lines = [wrapped(proposal.words)]
    for number, offer in enumerate(proposal.next, 1):
        if number == 1 or options.why:
            lines += ["", *_whole(card.row.id, number, offer, card.job.verdict.suspects)]
        else:
            lines += ["", _short(number, offer)]
    return show(options, proposal, "\n".join(lines))


def _head(offer: Priced) -> str:
    people = ", two people" if offer.check.people > 1 else ""
    return f"{offer.check.words} ({minutes(offer.seconds)}{people})"


def _whole(job: str, number: int, offer: Priced, suspects: Sequence[Suspect]) -> list[str]:
    lines = [wrapped(_head(offer), f"{number}  "), *_likeliest(offer, suspects)]
    said = cautions_at(offer.check.hazards, offer.steps)
    for step, (words, before) in enumerate(zip(offer.steps, said, strict=True), 1):
        lines += [wrapped(f"{caution} [{authority}]", "   !  ") for caution, authority in before]
        lines.append(wrapped(words, f"   {step:>2}. "))
    lines += [wrapped(words, "   !  ") for words, authority in offer.cautions if not authority]
    rows = [(*_outcome(outcome), percent(outcome.chance)) for outcome in offer.outcomes]
    if rows:
        shown = [(said, chance, leaves) for said, leaves, chance in rows]
        lines.append(table(shown, ("if it shows", "chance", "it is then"), indent="   "))
    if offer.why:
        lines.append(wrapped(offer.why, "   Why: "))
    lines += [f"   Then: {line}" for line in _typing(job, number, offer)]
    return lines


def _likeliest(offer: Priced, suspects: Sequence[Suspect]) -> list[str]:
    """What is likeliest wrong with what is to be mended: which way of a plug, which end of a lug."""
    if offer.check.does != "repair":
        return []
    names = [one.names for one in suspects if one.group == offer.check.target and one.names]
    return [wrapped(name, "   Likeliest: ") for ((name, _), *_) in names]


def _outcome(outcome: Outcome) -> tuple[str, str]:
    """What shows, and what is left then; a word may itself hold a colon."""
    word = outcome.word
    rest = outcome.words.removeprefix(word)
    if word and rest != outcome.words:
        return word, rest.removeprefix(": ")
    said, _, leaves = outcome.words.partition(": ")
    return said, leaves


def _typing(job: str, number: int, offer: Priced) -> list[str]:
    """What to type with the result."""
    which = f" --of {number}" if number > 1 else ""
    words = [outcome.word for outcome in offer.outcomes if outcome.word]
    if not offer.outcomes:
        return []
    if offer.check.does in ("codes", "unplug"):
        words.append("CODES   (better: all codes the unit shows, or none)")
    if words:
        return [f"backprobe answer {job}{which} {word}" for word in words]
    return [f"backprobe answer {job}{which} READING"]


def _short(number: int, offer: Priced) -> str:
    outcomes = "; ".join(
        f"{said} ({percent(outcome.chance)})"
        for outcome in offer.outcomes
        for said, _ in (_outcome(outcome),)
    )
    healthy = f" {offer.healthy_words}" if offer.healthy_words else ""
    return wrapped(f"{_head(offer)}.{healthy} Outcomes: {outcomes}.", f"{number}  ")
