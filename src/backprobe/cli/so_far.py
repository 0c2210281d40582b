"""`backprobe so-far JOB`: what was found, and what must be put back."""

from __future__ import annotations

import argparse

from backprobe.cli.common import (
    JOB,
    card_of,
    guarded,
    json_option,
    shop_of,
    shop_option,
    show,
    tell,
)
from backprobe.cli.could_be import proof_lines
from backprobe.cli.exits import Exit
from backprobe.cli.lay import table, wrapped
from backprobe.findings.wire import to_plain
from backprobe.shop.say import situation_told, told
from backprobe.shop.workshop import JobCard


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, --shop and --json."""
    parser.add_argument("job", help=JOB)
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Tell it; 3 when an event of the job could not be read."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        card = card_of(shop, options.job)
    state = card.job.state
    # weighing takes seconds: only where a repair may be proven
    proof = card.job.verdict.proof if state.repaired and state.failing == "gone" else None
    result = {
        "job": card.row,
        "book": card.book_name,
        "newer_book": card.newer_book,
        "findings": [{**to_plain(f), "words": told(f)} for f in state.findings],
        "failing": state.failing,
        "visit": state.visit,
        "now": situation_told(state.now),
        "put_back": list(state.put_back),
        "proof": proof,
        "problems": list(card.problems),
    }
    if not options.json and card.problems:
        tell(options, card.problems)
    show(options, result, "\n".join([_text(card), *(proof_lines(proof) if proof else [])]))
    return Exit.PROBLEMS if card.problems else Exit.DONE


def _text(card: JobCard) -> str:
    state, row = card.job.state, card.row
    hours = "" if row.hours is None else f"{row.hours:g} h"
    named = f"{row.machine} {row.serial}".rstrip()
    about = ", ".join(filter(None, (named, hours, f"book {card.book_name}")))
    lines = [f"{row.id}  {about}"]
    lines.append(wrapped(row.complaint, '  "') + '"')
    if card.newer_book:
        lines.append("The book has a newer text; this job goes on with the one it began with.")
    if not state.findings:
        lines.append(f"Nothing was noted yet: backprobe note {row.id} ...")
    visit = 0
    for finding in state.findings:
        if finding.visit != visit:
            visit = finding.visit
            lines.append(f"Visit {visit}")
        minutes = f"{finding.at_s / 60.0:.0f} min"
        lines.append(table([(finding.id, minutes, told(finding))], indent="  "))
    lines.append(f"Failing right now: {state.failing}")
    lines.append(f"It stands: {situation_told(state.now)}")
    lines.append(wrapped(f"Put back: {'; '.join(state.put_back) or 'nothing'}"))
    return "\n".join(lines)
