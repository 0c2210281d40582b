"""Every figure of speed and accuracy in one run, side by side, written to docs/performance.md.

    make bench ARGS="--sizes 100,400 --states 2000"

What is not built yet, or not asked for, says "not measured" and why. Times are the best of a few
runs, the baselines' as the engine's; other programs on the machine make all of them worse.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

import baselines
import engine
import numpy as np
import pairs
import spice
import truth
from page import Row, page
from subject import METERS, Subject, subject

from backprobe.shop.crew import everyone
from oracles import ngspice
from oracles.machines import machine

PAGE = Path(__file__).resolve().parent.parent / "docs" / "performance.md"


@dataclass(kw_only=True)
class Size:
    """Everything measured at one size, seconds per case."""

    of: Subject
    process: float = np.nan
    loop: float = np.nan
    batch_singles: tuple[float, float] = (np.nan, np.nan)
    batch_six: tuple[float, float] = (np.nan, np.nan)
    batch_all: tuple[float, float] = (np.nan, np.nan)
    agree: tuple[float, float, int] = (np.nan, np.nan, 0)
    naive_single: float = np.nan
    naive_pair: float = np.nan
    memory_all: float = np.nan
    memory_six: float = np.nan
    singles: engine.Singles | pairs.Figure | None = None
    walked: engine.Singles | None = None
    pairs_six: pairs.Figure | None = None
    pairs_all: pairs.Figure | None = None
    session: dict[str, float] = field(default_factory=dict)
    busy: float = np.nan
    rounds: engine.Rounds | None = None
    peak: dict[str, float] = field(default_factory=dict)
    single_error: truth.Judged | None = None
    pair_error: truth.Judged | None = None


def measure(nodes: int, simulator: spice.Simulator | None, options: argparse.Namespace) -> Size:
    """One size, baselines first."""
    made = machine(nodes, options.seed)
    of = subject(made)
    result = Size(of=of)
    note(f"{nodes}: {len(of.nodes)} nodes, {of.circuit.cases.count} single hypotheses")
    if ngspice.NGSPICE:
        result.process = baselines.spice_process(of)
    if simulator:
        result.loop = baselines.spice_loop(of, simulator)
        result.batch_singles = baselines.spice_singles(of, simulator, of.nodes)
        result.batch_six = baselines.spice_pairs(of, simulator, of.six)
        result.batch_all = baselines.spice_pairs(of, simulator, of.nodes)
        result.agree = baselines.spice_error(of, simulator)
    result.naive_single = baselines.naive(of, pairs=False)
    result.naive_pair = baselines.naive(of, pairs=True)
    result.memory_all = baselines.memory(len(of.nodes) * len(METERS))
    result.memory_six = baselines.memory(6)
    note(f"{nodes}: baselines done")
    large = nodes > 800
    result.walked = min(
        (engine.singles(of, most=8000) for _ in range(1 if large else 2)),
        key=lambda found: found.seconds,
    )
    # A table of the largest machine takes longer to make than the walk.
    tables = [] if large else [pairs.singles(of) for _ in range(3)]
    result.singles = min(tables, key=lambda found: found.seconds, default=result.walked)
    note(
        f"{nodes}: singles {result.singles.seconds * 1e6:.1f} us, walked {result.walked.seconds * 1e6:.1f} us"
    )
    most = options.pairs // (8 if large else 1)
    result.pairs_six = pairs.six_probes(of, most)
    note(f"{nodes}: pairs, six probes: {pairs.told(result.pairs_six)}")
    result.pairs_all = pairs.all_probes(of, most)
    note(f"{nodes}: pairs, all probes: {pairs.told(result.pairs_all)}")
    own = engine.of_its_own(nodes)
    result.session, result.peak, result.busy = own["seconds"], own["peak"], own["busy"]["session"]
    result.peak["returned"] = engine.of_its_own(nodes, returned=True)["peak"]["session"]
    note(f"{nodes}: session {sum(result.session.values()):.1f} s")
    result.rounds = engine.rounds(made, jobs=1 if large else 4, steps=2 if large else 4)
    note(f"{nodes}: rounds done")
    judged = 400 if nodes <= 200 else 250 if nodes <= 600 else 60
    result.single_error = truth.judge(of.circuit, of.run, truth.single_lists(of, judged, 1))
    if not large:
        by_table = truth.judge_pairs(of.circuit, of.run, truth.with_nobody(of, judged, 3))
        result.single_error = result.single_error.and_(by_table)
    result.pair_error = truth.judge_pairs(of.circuit, of.run, truth.pair_sample(of, judged, 2))
    note(f"{nodes}: held to the judges")
    return result


def many_states(count: int, seed: int) -> truth.Counted:
    """End states over 20 random machines, singles and pairs by halves."""
    total = truth.Counted()
    for number in range(20):
        of = subject(machine(100 + 5 * number, seed + 100 + number))
        for name, situation in of.machine.situations.items():
            if name == "off":
                continue
            some = max(1, count // 120)
            total.add(truth.judge(of.circuit, situation, truth.single_lists(of, some, number)))
            sample = truth.pair_sample(of, some, number)
            total.add(truth.judge_pairs(of.circuit, situation, sample))
    return total


def rows(sizes: dict[int, Size], states: truth.Counted) -> list[Row]:
    """The table of figures to be reached."""
    table: list[Row] = []
    at = sizes.get(400) or next(iter(sizes.values()))
    nodes = len(at.of.nodes)

    def ratio(other: float, own: float | None) -> str:
        return f"{other / own:.0f}x" if own and np.isfinite(other) else "not measured"

    six = at.pairs_six.seconds if at.pairs_six else None
    every = at.pairs_all.seconds if at.pairs_all else None
    singles = at.singles
    assert singles is not None
    table += [
        Row(
            "pairs, six probes, one meter, with consequences: against the best ngspice batch",
            "400x", "2000x", ratio(at.batch_six[0], six), pairs.told(at.pairs_six),
        ),
        Row(
            "the same against naive sparse refactorisation",
            "400x", "1500x", ratio(at.naive_pair, six), f"{at.naive_pair * 1e6:.0f} us naive",
        ),
        Row(
            "pairs, all probes, both meters, streamed: best batch / naive",
            "80x / 70x", "300x / 250x",
            f"{ratio(at.batch_all[0], every)} / {ratio(at.naive_pair, every)}",
            pairs.told(at.pairs_all),
        ),
        Row(
            "singles, all probes, both meters, with consequences: ngspice process / best batch",
            "400x / 8x", "1500x / 25x",
            f"{ratio(at.process, singles.seconds)} / "
            f"{at.batch_singles[0] / singles.seconds:.1f}x",
            f"{singles.seconds * 1e6:.1f} us ({singles.settled * 1e6:.1f} to rest, "
            f"{singles.read * 1e6:.1f} to read)" + _walked(at),
        ),
        Row(
            "singles and all-probe pairs against writing their output at memory speed",
            "report", "within 4x",
            f"{singles.seconds / at.memory_all:.0f}x / "
            + (f"{every / at.memory_all:.1f}x" if every else "not measured"),
            f"{at.memory_all * 1e6:.2f} us to write {nodes} nodes, two meters",
        ),
    ]  # fmt: skip
    table += _session_rows(at, sizes)
    table += _error_rows(at, states)
    return table


def _walked(at: Size) -> str:
    if at.walked is None or at.walked is at.singles:
        return ""
    by = at.walked
    return (
        f" by the tables of pairs; by the walk that weighing uses {by.seconds * 1e6:.1f} us "
        f"({by.settled * 1e6:.1f} and {by.read * 1e6:.1f})"
    )


def _session_rows(at: Size, sizes: dict[int, Size]) -> list[Row]:
    large = sizes.get(1500)
    took = ", ".join(f"{name} {seconds:.2f} s" for name, seconds in at.session.items())
    start = Row(
        "session start, four situations, singles and pairs",
        "5 s", "1.5 s", f"{sum(at.session.values()):.2f} s",
        f"{took}, by the wall, on {everyone().many} processors ({at.busy:.2f} s of processor time): every pair of defects at its likeliest severity, from key off; "
        "every severity of all of them would take by one " + (_all_pairs(at) if at.pairs_six else "not measured"),
    )  # fmt: skip
    if large:
        seconds = sum(large.session.values())
        start = replace(
            start, remark=f"{start.remark}; {seconds:.0f} s at 1500 nodes, singles only"
        )
    peaks = [f"{size.peak['session']:.0f} MB" if size else "not measured" for size in (at, large)]
    return [
        start,
        _round("one round: new reading, posterior, checks scored; median", "200 ms", "50 ms", at),
        _round("the same at 1500 nodes", "1 s", "250 ms", large),
        Row(
            "peak memory of a session's start, 400 / 1500 nodes", "700 MB / 2 GB", "300 MB / 1 GB",
            " / ".join(peaks),
            "pairs at 400 nodes, the libraries' own share included; "
            + " / ".join(f"{size.peak['returned']:.0f} MB" for size in (at, large) if size)
            + " with MALLOC_MMAP_THRESHOLD_=262144: the rest is freed memory the allocator keeps",
        ),
    ]  # fmt: skip


def _all_pairs(at: Size) -> str:
    """What settling and reading every pair at six probes would take, by what one takes."""
    assert at.pairs_six is not None
    count = at.of.circuit.cases.count
    pairs_of = count * (count - 1) // 2
    return f"{at.pairs_six.seconds * pairs_of:.0f} s a situation ({pairs_of / 1e6:.0f} million)"


def _round(figure: str, must: str, aim: str, size: Size | None) -> Row:
    if size is None or size.rounds is None or not size.rounds.seconds:
        return Row(figure, must, aim, "not measured", "size not asked for")
    found = size.rounds
    whole = np.array(found.seconds) * 1e3
    return Row(
        figure, must, aim, f"{np.median(whole):.0f} ms (90 %: {np.quantile(whole, 0.9):.0f} ms)",
        f"{found.hypotheses} singles, pairs where they leave room; weighing {np.median(found.weighing) * 1e3:.0f} ms, "
        f"planning {np.median(found.planning) * 1e3:.0f} ms with {np.median(found.checks):.0f} "
        f"checks scored; first round of a job {np.median(found.first):.1f} s",
    )  # fmt: skip


def _error_rows(at: Size, states: truth.Counted) -> list[Row]:
    single, pair = at.single_error, at.pair_error
    assert single is not None
    assert pair is not None
    return [
        Row(
            "error against extended precision, at pins: singles / pairs, opens in series among them",
            "1e-9 V / 1e-6 V", "1e-10 / 1e-8", f"{single.worst:.1e} V / {pair.worst:.1e} V",
            f"{single.cases} singles, {pair.cases} pairs; inside parts, where nothing can be "
            f"probed, {single.inside:.0e} / {pair.inside:.0e} V; medians {single.median:.0e} / "
            f"{pair.median:.0e} V; the worst pair is {pair.named}",
        ),
        Row(
            "end states against following one at a time by hand", "0 in 50,000",
            "same, 20 machines", f"{states.wrong} wrong in {states.cases:,}" if states.cases else "not measured",
            f"20 machines of 100 to 195 nodes, three situations each, half of the cases pairs; "
            f"{states.near} too near a limit to call, left out; {states.restless} never rest",
        ),
    ]  # fmt: skip


def note(words: str) -> None:
    """Progress."""
    print(f"{time.strftime('%H:%M:%S')} {words}", flush=True)


def main() -> None:
    """Measure and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", default="100,400,1500")
    parser.add_argument("--states", type=int, default=1200, help="end states followed by hand")
    parser.add_argument("--pairs", type=int, default=20_000_000, help="pairs at most")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--page", type=Path, default=PAGE)
    options = parser.parse_args()
    simulator = spice.simulator()
    if simulator is None:
        note(spice.MISSING)
    began = time.monotonic()
    sizes = {
        nodes: measure(nodes, simulator, options) for nodes in map(int, options.sizes.split(","))
    }
    states = many_states(options.states, options.seed)
    text = page(rows(sizes, states), sizes, time.monotonic() - began)
    options.page.write_text(text, encoding="utf-8")
    note(f"written to {options.page.name}")


if __name__ == "__main__":
    main()
