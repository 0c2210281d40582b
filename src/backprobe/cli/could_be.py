"""`backprobe could-be JOB`: the suspects, with chances and reasons."""

from __future__ import annotations

import argparse

from backprobe.checks.wording import percent
from backprobe.cli.common import JOB, card_of, guarded, json_option, shop_of, shop_option, show
from backprobe.cli.lay import table, wrapped
from backprobe.suspects.model import Proof, Suspect, Verdict
from backprobe.suspects.wording import beside_words

SHOWN = 6
SPEAKS = 1.5
"""A reason is told without --why when it shifts the odds by this factor or more."""
MOST_REASONS = 3
WORTH_NAMING = 0.005
"""Chance from which a defect is named without --why."""
STATES = {
    "open": "Not decided yet.",
    "decided": "Decided: one suspect stands above the bar.",
    "gone": "It is not failing now.",
    "odd": "It does not look like anything in this book.",
    "mended": "Mended, not proven yet.",
    "proven": "The repair holds.",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """JOB, --why, --all, --shop and --json."""
    parser.add_argument("job", help=JOB)
    parser.add_argument("--why", action="store_true", help="all reasons, not only the strongest")
    parser.add_argument("--all", action="store_true", help="all suspects, not only the first")
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Weigh the findings and tell what it could be."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    with shop_of(options) as shop:
        card = card_of(shop, options.job)
    verdict = card.job.verdict
    lines = [wrapped(f"{card.row.id}  {card.row.machine}. {STATES[verdict.state]}")]
    if verdict.state == "proven" and verdict.proof is not None and not options.all:
        return show(options, verdict, "\n".join([*lines, *proof_lines(verdict.proof)]))
    if verdict.proof is not None:
        lines += proof_lines(verdict.proof)
    shown = verdict.suspects if options.all else verdict.suspects[:SHOWN]
    for number, suspect in enumerate(shown, 1):
        lines += ["", *_suspect(number, suspect, every=options.why)]
    lines += ["", *_rest(verdict, shown)]
    return show(options, verdict, "\n".join(lines))


def _alone(name: str, group: str) -> str:
    """A fault without the name of its group, where that stands before it as words of its own."""
    return name.removeprefix(f"{group} ")


def _suspect(number: int, suspect: Suspect, *, every: bool) -> list[str]:
    lines = [wrapped(f"{percent(suspect.chance):>9}  {suspect.words}", f"{number:>2} ")]
    told: list[tuple[str, str]] = []
    if suspect.still < suspect.chance:
        told.append(("mended", f"still there: {percent(suspect.still)}"))
    names = [
        f"{_alone(name, suspect.words)} ({percent(chance)})"
        for name, chance in suspect.names
        if every or chance >= WORTH_NAMING or name == suspect.names[0][0]
    ]
    if names:
        told.append(("how", "; ".join(names)))
    told += [("beside", f"{beside_words(one)} ({percent(one.chance)})") for one in suspect.beside]
    if suspect.sometimes > 0.5:
        told.append(("when", f"comes and goes ({percent(suspect.sometimes)})"))
    if suspect.explains:
        told.append(("explains", ", ".join(suspect.explains)))
    if every:
        told += [
            ("path", f"{code}: {path}")
            for code, path in zip(suspect.explains, suspect.paths, strict=True)
            if path
        ]
    if suspect.leaves_open:
        told.append(("leaves open", ", ".join(suspect.leaves_open)))
    reasons = sorted(suspect.reasons, key=lambda r: -max(r.factor, 1.0 / max(r.factor, 1e-12)))
    if not every:
        strong = [r for r in reasons if r.factor >= SPEAKS or r.factor <= 1.0 / SPEAKS]
        reasons = strong[:MOST_REASONS] or reasons[:1]
    for reason in reasons:
        side = "for" if reason.factor > 1.0 else "against"
        told.append((side, f"{reason.finding}: {reason.words}{_times(reason.factor)}"))
    return [*lines, *([table(told, indent=" " * 14)] if told else [])]


def proof_lines(proof: Proof) -> list[str]:
    """What was mended, found by what, gone for how long, and what may still be there."""
    return [
        wrapped(f"{'Proven' if proof.holds else 'Mended'}: {proof.mended}."),
        wrapped(proof.words),
        wrapped(f"A fault may still be there: {percent(proof.still)}."),
    ]


def _times(factor: float) -> str:
    """How strongly a reason speaks: how much better or worse the finding fits this suspect than the
    rest of them on average."""
    strength = max(factor, 1.0 / max(factor, 1e-12))
    if strength < SPEAKS:
        return ""
    times = f"{strength:.1f}" if strength < 10.0 else f"{min(strength, 1e6):.0f}"
    return f"; {times} times {'better' if factor > 1.0 else 'worse'} than the rest"


def _rest(verdict: Verdict, shown: tuple[Suspect, ...]) -> list[str]:
    left = verdict.suspects[len(shown) :]
    more = sum(suspect.chance for suspect in left)
    lines = []
    if left:
        lines.append(f"{percent(more):>12}  {len(left)} others (--all shows them)")
    lines.append(f"{percent(verdict.not_in_book):>12}  not in this book")
    lines.append(f"{percent(verdict.healthy):>12}  nothing wrong")
    for odd in verdict.contradictions:
        lines += ["", wrapped(f"Does not add up: {odd.finding}: {odd.words}")]
        lines += [wrapped(f"{odd.without[:1].upper()}{odd.without[1:]}.")] if odd.without else []
        lines += [wrapped(way, "  - ") for way in odd.ways_out]
    return lines
