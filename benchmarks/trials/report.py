"""The page of accuracy, from the records alone."""

from __future__ import annotations

import os
import platform
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from backprobe.checks.draft import ESCALATE_S
from trials.draw import MODES, STRATA
from trials.policies import BASELINES, PRINTED
from trials.score import (
    FEW,
    Record,
    Share,
    against,
    mean,
    reliability,
    share,
    wilson,
)
from trials.store import once

MUST: Final = {
    ("single", "matched"): 0.96, ("single", "mismatched"): 0.90,
    ("many-pin", "matched"): 0.95, ("many-pin", "mismatched"): 0.88,
    ("pair", "matched"): 0.85, ("pair", "mismatched"): 0.75,
    ("sometimes", "matched"): 0.80, ("sometimes", "mismatched"): 0.70,
}  # fmt: skip
"""Lower bounds that are asked for."""
VAIN, CHART, BEST = 0.3, 0.60, 0.90
ERROR: Final = {"matched": 0.03, "mismatched": 0.07}
ENOUGH = 1000
"""Cheap trials below which even a perfect tool shows an error of .03."""
LOST = 40

SPENT: Final = {
    "meter": ("volts", "drop", "millivolts", "lamp", "ohms", "amps", "beep"),
    "codes, display, what works": ("codes", "display", "works", "sweep"),
    "look": ("look",),
    "unplug, swap, fuses": ("unplug", "swap", "fuse", "new fuse"),
    "provoke": ("provoke",),
    "trap": ("trap",),
    "repair that hit": ("mended",),
    "repair in vain": ("in vain",),
    "proof": ("prove",),
}
"""What minutes go into, by class of check."""

HEAD = """\
<!-- Written by `make trials`. Run it again instead of changing this page. -->

# Accuracy

A defect is hidden in a machine and a technician follows the first proposal until it is mended.
The hidden machine is not solved by the engine under test: its circuit is written out changed, solved
by plain nodal analysis and followed by hand (`tests/oracles/solved_apart.py`), with severity, battery,
contacts and warmth of its own; readings, codes, fuses and what works all come from there.
"""

HOW = """\
## How

**Strata.** single: one defect, there always. many-pin: one that changes three or more places at once (a
plug off, half mated or wet, a cut loom). pair: two defects of different things, each of which alone
causes a complaint, of one cause or by chance as often as the priors say. sometimes: one that comes and
goes, with a condition that seven operators in ten can name, seen on arrival or not. Defects are drawn
by base rate from the true book; those that nobody would notice (no code, everything works) are passed over.

**Matched**: rates, meter errors and book are the tool's own. **Mismatched**: rates times a lognormal
factor (sigma 1), a good handheld meter, one reading in twenty misread, on a wrong pin or in a wrong
key state, 2 % of the book's facts wrong, one book in ten with a missing row, two pins changed over,
or a consumer on the machine that is in no line (`benchmarks/trials/books.py`). A wrong book of which
`backprobe proofread` says what it does not say of the true one is passed over: a shop would see that first.

**Right** means mended in the end: the thing to open or replace that holds the defect (of a pair, both) is
repaired before three repairs in vain. Two wires rubbed against each other are found by whoever mends either
of them, a wire rubbed bare by whoever opens its section because wires are rubbed there
([0009](decisions/0009-rubbed-wires-by-section.md)), a plug that is off or half home by whoever pulls it or fits a new
part behind it; a part fitted where only the plug was half home counts as in vain
([0019](decisions/0019-plugs-in-hand.md)). Whoever mends a fault fits new fuses where any is blown
([0024](decisions/0024-mended-is-sound.md)), and says of a repair that did not end it whether he saw damage there: as
often as a look shows it. Handing the job on, "not in this book" among the reasons, is a
failure. Minutes are those of the tool's clock, the last repair included, and 180 more when
the job is not mended. After 14 checks everybody may only repair.

**Other ways to choose** pick among the same generated checks, with the same prices, the same weighing and
the same bar for a repair (90 %, or nothing left that tells); none of the first five picks a check that tells
nothing any more. That is kinder to them than paper would be. Each case is worked by the proposals and by
one of the six others in turn.

**Code by code** and **as printed** both go through the chart of the first code, then through that of the next, in the
order feed, signal, ground, ohms. *Code by code* has the engine at its side: of all checks at the parts of the code's
circuit that could be made now it takes one that still tells something, by class, then by price. *As printed* is what
paper knows: its steps (fuse, volts, drop, ohms at the pins of the code's own circuit) are those that would be made
knowing the code alone, nearest to the unit's pin first, each pin of a plug once, and each is done once whether it still
tells or not. Prices, weighing and bar are the same; when no chart has a step left, or no code is shown, both go on by the order
of the trade. What is asked for is judged against *code by code*, the kinder of the two; the other is told beside it.

**Cheap trials** draw a defect that sets a code, of any severity within its cell, and take code lists and one to
four readings at random places from the hidden machine, solved apart like those of the jobs; they judge the weighing
alone. (Until November 2026 they took them from the engine's own readings, and severities between two figures
along the straight line that the weighing took as well: figures before that are kinder. Until December 2026 every defect
was there always, which the weighing never said, and a unit without power was passed over in silence, as if
nobody had asked it: figures before that are harsher.) A defect comes and goes as often as its rates
say, and is met when it shows; a unit that does not answer is said to be dead. The chance is that of all that ends by mending the leading
suspect, and held is whether the truth was among it. Chances that are exactly right err too where trials are
few: by how much is said beside the error.

**A trap** is out for ten days of work, in each of which the defect shows as often as in any visit; in seven
of ten it still does when somebody is there ([0022](decisions/0022-a-trap-first.md)).

**Not tried here**: touching a plug never cures a defect that comes and goes; nobody looks at photographs;
the operator is always right about what does not work. Whatever the assembly of the network gets wrong,
the hidden machine gets wrong as well: that is held by other tests ([proof](proof.md)).
"""


def page(records: Sequence[Record], now: str = "") -> str:
    """The whole page. `records`: as of store.newest(); `now`: the state of the code, where it is known."""
    again = len(records)
    records = once(records)
    again -= len(records)
    jobs = [r for r in records if r["what"] == "job"]
    cheap = [r for r in records if r["what"] == "cheap"]
    ours = [r for r in jobs if r["policy"] == "proposals"]
    parts = [
        HEAD,
        _measured(records, jobs, cheap, again) + _since(records, now),
        _right(ours),
        _minutes(jobs),
        _spent(ours),
        _calibration(cheap),
        _lost(ours),
        HOW,
    ]
    return "\n".join(parts)


def _since(records: Sequence[Record], now: str) -> str:
    """That the code has changed, where it has."""
    if not records or records[-1]["code"] == now or not now:
        return ""
    return (
        f"\nThe code is at state {now} by now. What follows is of the code before: the change log says what "
        "has changed.\n"
    )


def machine_words() -> str:
    """The computer and its libraries."""
    return (
        f"{os.cpu_count()} processors ({platform.machine()}), Python {platform.python_version()}, "
        f"numpy {np.__version__}"
    )


def _measured(
    records: Sequence[Record], jobs: Sequence[Record], cheap: Sequence[Record], again: int
) -> str:
    runs = [r for r in records if r["what"] == "run"]
    broken = sum(r["what"] == "broken" for r in records)
    books = {
        (r["machine"], r["book"]): int(str(r["books passed over"]))
        for r in jobs
        if r["mode"] == "mismatched"
    }
    names = Counter(str(r["machine"]) for r in jobs)
    machines = ", ".join(f"{name} ({count})" for name, count in sorted(names.items()))
    hours = sum(float(str(r["seconds"])) for r in runs) / 3600.0
    on = runs[-1]["on"] if runs else platform.machine()
    words = (
        f"Measured on {on}; {len(runs)} run{'' if len(runs) == 1 else 's'}, {hours:.1f} hours; code "
        f"state {records[-1]['code'] if records else '-'}. {len(jobs)} jobs on these machines: "
        f"{machines or 'none'}; {len(cheap)} cheap trials."
    )
    if again:
        earlier = sum(r["what"] != "run" and r["code"] != records[-1]["code"] for r in records)
        words += (
            f" {earlier} of the jobs and trials are of earlier states: {again} others of theirs were done "
            "again by this one, and all came out the same."
        )
    if jobs:
        words += (
            f" A job takes {mean(jobs, 'engine s'):.0f} processor seconds of the engine (median "
            f"{np.median([float(str(r['engine s'])) for r in jobs]):.0f}) and "
            f"{mean(jobs, 'oracle s'):.1f} of the hidden machine."
        )
    if books:
        words += (
            f" {len(books)} wrong books; {sum(books.values())} more passed over because proofreading "
            "finds what is wrong."
        )
    if broken:
        words += f" {broken} broke off with a fault of the programs and are left out."
    return words + "\n"


def _verdict(found: Share, must: float) -> str:
    low, high = wilson(found.hits, found.of)
    if not found.of:
        return "not tried"
    if low >= must:
        return "reached"
    if high < must:
        return "missed"
    return (
        "too few trials to say" if found.of < FEW or found.hits / found.of >= must else "not shown"
    )


def _right(ours: Sequence[Record]) -> str:
    lines = [
        "## Right",
        "",
        (
            "Lower bounds are those of Wilson's 95 % interval. A must is reached when the lower bound is above "
            "it, missed when the upper bound is below it."
        ),
        "",
        (
            "| defect | rates, meters, book | must | right | lower bound | | first repair right | "
            "repairs in vain, a job (must 0.3) | minutes, median | minutes, mean |"
        ),
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for stratum in STRATA:
        for mode in MODES:
            some = [r for r in ours if (r["stratum"], r["mode"]) == (stratum, mode)]
            must = MUST[stratum, mode]
            found = share(some, lambda r: bool(r["right"]))
            if not some:
                lines.append(
                    f"| {stratum} | {mode} | {must:.0%} | - | - | not tried | - | - | - | - |"
                )
                continue
            first = share(some, lambda r: bool(r["first repair right"]))
            minutes = [float(str(r["minutes"])) for r in some]
            lines.append(
                f"| {stratum} | {mode} | {must:.0%} | {found.hits} of {found.of} "
                f"({found.hits / found.of:.0%}) | {found.low:.1%} | {_verdict(found, must)} | "
                f"{first.hits} of {first.of} | {mean(some, 'vain'):.2f} | {np.median(minutes):.0f} | "
                f"{np.mean(minutes):.0f} |"
            )
    return "\n".join(lines) + "\n"


def _minutes(jobs: Sequence[Record]) -> str:
    lines = [
        "## Minutes against other ways to choose",
        "",
        (
            f"Mean minutes on the same cases. Must: at most {CHART:.0%} of code by code, at most {BEST:.0%} "
            "of the best of them; the bound is the upper one, 95 %, cases drawn again."
        ),
        "",
        (
            "| way | rates, meters, book | cases | proposals | this way | proposals over this way | upper bound | "
            "right, this way | in vain, this way |"
        ),
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for mode in MODES:
        for policy in BASELINES:
            some = [r for r in jobs if r["mode"] == mode]
            ratio = against(some, policy)
            if not ratio.cases:
                lines.append(f"| {policy} | {mode} | 0 | - | - | not tried | - | - | - |")
                continue
            theirs = [r for r in some if r["policy"] == policy]
            right = share(theirs, lambda r: bool(r["right"]))
            lines.append(
                f"| {policy} | {mode} | {ratio.cases} | {ratio.ours:.0f} | {ratio.theirs:.0f} | "
                f"{ratio.value:.0%} | {ratio.high:.0%}{' (few)' if ratio.cases < FEW else ''} | "
                f"{right.hits} of {right.of} | {mean(theirs, 'vain'):.2f} |"
            )
    return "\n".join([*lines, *_musts(jobs)]) + "\n"


def _musts(jobs: Sequence[Record]) -> list[str]:
    """Whether the minutes asked for are reached."""
    lines = []
    for mode in MODES:
        some = [r for r in jobs if r["mode"] == mode]
        ratios = {policy: found for policy in BASELINES if (found := against(some, policy)).cases}
        if not ratios:
            continue
        kind = {policy: found for policy, found in ratios.items() if policy != PRINTED} or ratios
        best = max(kind, key=lambda policy: (kind[policy].cases >= FEW, kind[policy].value))
        for policy, must, name in ((BASELINES[0], CHART, ""), (best, BEST, "the best, ")):
            found = ratios.get(policy)
            if found is None:
                continue
            told = (
                "reached" if found.high <= must else "missed" if found.value > must else "not shown"
            )
            told = told if found.cases >= FEW else "too few cases to say"
            lines.append(
                f"- {mode}: {found.value:.0%} of {name}{policy} (must {must:.0%}): {told}."
            )
        if PRINTED in ratios:
            found = ratios[PRINTED]
            lines.append(
                f"- {mode}: {found.value:.0%} of a chart {PRINTED}, up to {found.high:.0%}."
            )
    return ["", *lines] if lines else []


def _spent(ours: Sequence[Record]) -> str:
    """Where the minutes of the proposals go."""
    lines = ["## Where the minutes go", "", "Mean minutes a job of the proposals.", ""]
    lines.append(f"| | {' | '.join(STRATA)} |")
    lines.append("|---|" + "---|" * len(STRATA))
    by = {stratum: [r for r in ours if r["stratum"] == stratum] for stratum in STRATA}
    rows = {name: [_minutes_of(by[s], classes) for s in STRATA] for name, classes in SPENT.items()}
    rows["not mended in the end"] = [
        ESCALATE_S / 60.0 * sum(not r["right"] for r in some) / max(1, len(some))
        for some in by.values()
    ]
    for name, figures in rows.items():
        lines.append(f"| {name} | " + " | ".join(f"{figure:.1f}" for figure in figures) + " |")
    return "\n".join(lines) + "\n"


def _minutes_of(some: Sequence[Record], classes: Sequence[str]) -> float:
    """Mean minutes of jobs on some classes of check."""
    total = 0.0
    for record in some:
        spent = record.get("spent", {})
        assert isinstance(spent, dict)
        total += sum(float(spent.get(name, 0.0)) for name in classes)
    return total / max(1, len(some))


def _calibration(cheap: Sequence[Record]) -> str:
    lines = ["## Is a chance what it says?", ""]
    told = {mode: [r for r in cheap if r["mode"] == mode] for mode in MODES}
    for mode, some in told.items():
        if not some:
            lines.append(f"{mode.capitalize()}: not tried.")
            continue
        found = reliability(some)
        held = "reached" if found.error <= ERROR[mode] else "missed"
        held = held if len(some) >= ENOUGH else "too few trials to say"
        lines.append(
            f"- {mode}: calibration error {found.error:.3f} (must {ERROR[mode]:.2f}, {held}; "
            f"{found.perfect:.3f} by the luck of the draw alone) and log score {found.log_score:.2f} nat over "
            f"{len(some)} trials."
        )
    lines += [
        "",
        "| leading suspect's chance | "
        + " | ".join(f"{mode}: held, of trials" for mode in MODES)
        + " |",
    ]
    lines.append("|---|" + "---|" * len(MODES))
    tables = {mode: reliability(some) for mode, some in told.items() if some}
    for k in range(10):
        cells = []
        for mode in MODES:
            table = tables.get(mode)
            if table is None or not table.count[k]:
                cells.append("-")
            else:
                cells.append(f"{table.claimed[k]:.0%}: {table.held[k]:.0%} of {table.count[k]}")
        lines.append(f"| {10 * k} to {10 * k + 10} % | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def _lost(ours: Sequence[Record]) -> str:
    lost = [r for r in ours if not r["right"]]
    lines = [
        "## Jobs lost",
        "",
        f"{len(lost)} of {len(ours)}. The first {min(LOST, len(lost))}:",
        "",
    ]
    if not lost:
        return "\n".join([*lines[:2], f"None of {len(ours)}.", ""])
    lines += [
        "| defect | | machine | what was wrong | how it ended | led by | in the book |",
        "|---|---|---|---|---|---|---|",
    ]
    for r in lost[:LOST]:
        truth, leading, wrong = r["truth"], r["leading"], r["wrong in the book"]
        assert isinstance(truth, list)
        assert isinstance(leading, list)
        assert isinstance(wrong, list)
        led = ", ".join(f"{group} {chance:.0%}" for group, chance in leading[:2])
        row = [w for w in wrong if w.startswith(("missing", "changed over", "added"))]
        lines.append(
            f"| {r['stratum']} | {r['mode']} | {r['machine']} | {' and '.join(truth)} | {r['ended']} | "
            f"{led} | {'; '.join(row)} |".replace(" > ", " to ")
        )
    return "\n".join(lines) + "\n"


def written(path: Path, records: Sequence[Record]) -> None:
    """Write the page."""
    path.write_text(page(records), encoding="utf-8")
