"""The page of figures."""

from __future__ import annotations

import os
import platform
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import scipy

if TYPE_CHECKING:
    from bench import Size


@dataclass(frozen=True)
class Row:
    """One figure: what must be reached, what is aimed at, what was measured."""

    figure: str
    must: str
    aim: str
    measured: str
    remark: str


HEAD = """\
<!-- Written by `make bench`. Run it again instead of changing this page. -->

# Performance

`make bench` measures every figure of this page in one run, on synthetic machines of 100, 400 and
1500 circuit nodes that a seeded generator writes as wiring books (`tests/oracles/machines.py`), engine
running and everything switched on. A "node" is a place with a voltage of its own: a pin has two, the
wire's side and the part's. "All probes" is every node; "both meters" is a 10 Mohm voltmeter and a 21 W
lamp (6.9 ohm, taken as a resistor; that a lamp can move a relay is followed when it is fitted, not
here). "With consequences" is from key off to rest: fuses, relays, units, regulators, diodes.

The others solve once, at known states, without a meter and without consequences.
"""


def page(rows: list[Row], sizes: Mapping[int, Size], seconds: float) -> str:
    """The whole page."""
    lines = [HEAD, _machine(seconds), "", "## Figures, 400 nodes where nothing else is said", ""]
    lines += ["| figure | must | aim | measured | |", "|---|---|---|---|---|"]
    lines += [f"| {r.figure} | {r.must} | {r.aim} | {r.measured} | {r.remark} |" for r in rows]
    lines += ["", "## Microseconds per defect or pair", ""]
    heads = [f"{nodes} nodes" for nodes in sizes]
    lines += ["| | " + " | ".join(heads) + " |", "|---|" + "---|" * len(heads)]
    lines += [_line(name, pick, sizes) for name, pick in TABLE]
    lines += ["", *_sizes(sizes), "", WAYS]
    return "\n".join(lines) + "\n"


def _us(seconds: float) -> str:
    if not np.isfinite(seconds):
        return "not measured"
    micro = seconds * 1e6
    return f"{micro:,.0f}" if micro >= 100 else f"{micro:.3g}"


def _own(figure: object) -> str:
    seconds = getattr(figure, "seconds", None)
    return _us(seconds) if isinstance(seconds, float) else "not measured"


TABLE = (
    ("ngspice, a process per defect", lambda s: _us(s.process)),
    ("ngspice library, `alter` and `op` in a loop, six nodes read", lambda s: _us(s.loop)),
    ("best batch, single, all nodes read", lambda s: _us(s.batch_singles[0])),
    ("best batch, single, nothing read", lambda s: _us(s.batch_singles[1])),
    ("best batch, pair, six nodes read", lambda s: _us(s.batch_six[0])),
    ("best batch, pair, all nodes read", lambda s: _us(s.batch_all[0])),
    ("naive sparse refactorisation, single", lambda s: _us(s.naive_single)),
    ("naive sparse refactorisation, pair", lambda s: _us(s.naive_pair)),
    ("**engine, single, all probes, both meters, to rest**", lambda s: _own(s.singles)),
    ("**engine, pair, six probes, one meter, to rest**", lambda s: _own(s.pairs_six)),
    ("**engine, pair, all probes, both meters, to rest**", lambda s: _own(s.pairs_all)),
    ("writing all probes, both meters, at memory speed", lambda s: _us(s.memory_all)),
    ("writing six probes at memory speed", lambda s: _us(s.memory_six)),
)


def _line(name: str, pick: object, sizes: Mapping[int, Size]) -> str:
    assert callable(pick)
    return f"| {name} | " + " | ".join(pick(size) for size in sizes.values()) + " |"


def _sizes(sizes: Mapping[int, Size]) -> list[str]:
    lines = ["## The machines", ""]
    for size in sizes.values():
        circuit, found = size.of.circuit, size.singles
        assert found is not None
        lines.append(
            f"- {len(size.of.nodes) + 1} nodes, {circuit.net.size} unknowns, "
            f"{len(circuit.net.shifts)} moves watched; {circuit.cases.count:,} single hypotheses "
            f"({found.count:,} of them measured), "
            f"{len(circuit.defects.atoms):,} defects; {found.moved:.0%} of them move a state, into "
            f"{found.patterns} patterns, {found.restless:.1%} never rest. Best batch and naive way "
            f"agree to {size.agree[0]:.0e} V (median), {size.agree[1]:.0e} V (worst of "
            f"{size.agree[2]} pairs)."
        )
    return lines


WAYS = """\
## What is missed, what was tried, what bounds it

**The bar.** The best ngspice batch found here takes three quarters of the time of one whose indices are
voltages, because sources see the temperature within the same iteration, and a quarter to a sixth of an
`alter` loop. A ratio that starts from a slower batch looks better.

**Pairs.** Compiled loops that put ports in one after the other
([decision 26](decisions/0026-pairs-one-after-the-other.md)). What bounds them: some nine rounds from key off, in each of
which a leader's runs of followers are cleared by one bound each and the few of a hundred that are not are looked at closer
([decision 44](decisions/0044-ways-out-by-the-moves-due.md)); and the tenth that leaves
its leader, looked at in full for six rounds more at a quarter of a microsecond each. What a pattern leaves
of a second defect is kept for all pairs that stand there, and so is where what is beyond its limits leads; what is left to do is fetching the two transfers
between both defects from a table that no cache holds, and eighty watched amounts. At every probe what both meters show is worked out in one pass, and nothing else is written
down of a pair: that took a third off reading; three tenths of what is left is dividing by the load of two meters. Few pairs bear
the tables of all rounds: half a million take more than twice as long apiece as all nineteen million.
Tried: letting pairs that stand where one of their defects does alone follow that
one again (as dear as it saved), explicit inverses (lose the digits of pieces that hang on leaks). Thought through: clearing
those that have left by the bound of their own leader, which would clear three in ten of them (counted) and cost as much.
Not tried: a filament's change of line as one turn instead of two, which would halve the turns of many patterns; proving
that two defects far apart end as both alone.

**Singles at every probe.** Walking and reading are compiled loops on a few factorisations
([decision 23](decisions/0023-loops-over-hypotheses-are-compiled.md)); everyone is walked and read on the nearest
([decision 40](decisions/0040-on-the-nearest.md)), which halved coming to rest. Severities of one defect stand side by side:
what their port does to limits and readings, whatever its ohms, is found once for all of them. They are
read in blocks of a million readings, for new memory takes longer than what is written into it; a resistance that lost digits
is found again only where that would show on the meter ([decision 30](decisions/0030-digits-where-they-matter.md)). What bounds
coming to rest: two fifths are the compiled rounds from key off, in which fourteen thousand times a hypothesis is looked at in full,
for it stands among few or a bound does not clear it; a fifth lays out the columns of 700 places on each of five factorisations; the
rest is the factorisations and the arrays around it. Of reading, a third is what is plain, some two millionths of a second each; a third finds
again the digits of two hundred hypotheses that leave a piece on its leak; a quarter lays out the columns of every probe.
Tried: more factorisations (what they save in turns they cost in columns), fewer; refining all that a hypothesis needs in one
go (next to nothing). Not tried: columns at the probes alone; correcting a small system by one exact answer instead of
refining at every probe (a tenth of all at most). What is said above is the walk that weighing uses. At every probe with both
meters the tables of pairs are faster, where they are not too large ([decision 44](decisions/0044-ways-out-by-the-moves-due.md)): a third of
their time walks the hypotheses, a third makes the transfers and the table, a sixth reads.

**A session's start.** All pairs of four situations; everything else takes a second. What bounds it is what bounds pairs above. The rounds are
worked by all processors, in pieces that number what they meet on their own
([decision 46](decisions/0046-pairs-by-all-processors.md)): two gain a quarter to a third where nothing else runs, and next to nothing where other
programs do, most likely because the system shares processors out by programs and not by threads.
Tried: situations side by side (a job asks for one).

**A round.** What is read of a few hypotheses is read of them alone, and what arrival made of the readings is kept
([decision 20](decisions/0020-followed-after-arrival.md)); digits are found again only where what is asked may have lost
them ([decision 30](decisions/0030-digits-where-they-matter.md)). What is left of weighing: a finding and the pins beside it
are read under 700 to 1500 hypotheses, three to five millionths of a second each and twice that again for contacts and
copper where it reads otherwise than the healthy machine; the likeliest are weighed again in pieces of their
severity (some 30 ms, and 40 to 120 more of processor time where cells are cut that were not before: each is solved at seven severities in
every situation asked for, [decision 45](decisions/0045-cells-solved-from-end-to-end.md)); reasons and words take 20 ms. Of planning: the dozen situations that are
soonest reached and whatever ten minutes reach, one to two milliseconds each to settle and read the few dozen that lead, of
which compiled loops take a third and the arrays around them the rest; the others only where those promise little. A first weighing, one after a repair, and one whose findings are strange look at every hypothesis.
Of weighing, a good half is settling and reading in the circuit: some 50 ms of what is new under all singles, 40 of the pairs and 40 of
the cells that were not met before, in 25 calls of a few milliseconds each (processor time, a busy machine).
Tried: asking what safety wants to know of the healthy machine together with the others, not
first (dearer); what all rules of a code list ask, worked out together instead of rule by rule (three in a hundred); settling a plan's situations in one walk from the usual rest (dearer by a half: further away more turns
are taken out, and more patterns lose digits); following fewer hypotheses after each finding (at least 400 and all
severities of each are followed, so next to none were let go). Not tried: one compiled walk from start to rest.
Rounds carry the pairs that the singles leave room for; most jobs with one defect leave none. Where nothing explains the
findings, every pair of defects is looked at for those that show only together
([decision 33](decisions/0033-found-only-together.md)).

**Memory at 1500 nodes.** Factors and columns are kept up to half a gigabyte; what is above that is freed
memory that the allocator of glibc keeps in pieces.

## How

Times are processor seconds, the best of two to five runs of the same work (one run of what takes long),
baselines and engine alike, one thread each; a session's start goes by the wall, with all processors; at 1500 nodes 8,000 singles are drawn at random.
Pairs of the baselines are of defects with one port; writing their decks and laying out their matrices
is not counted, loading and running is. What else was tried for the baseline is said in
`benchmarks/spice.py`. Peak memory is that of a process of its own (VmHWM). Errors are against
solutions refined in long double, end states against following one defect at a time
(`benchmarks/truth.py`); a case in which a move is decided by less than a millionth of its limit is
counted and left out."""


def _machine(seconds: float) -> str:
    cpu = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        for line in info.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                cpu = line.partition(":")[2].strip()
                break
    load = ", ".join(f"{x:.1f}" for x in os.getloadavg())
    return (
        f"Measured on {cpu}, {os.cpu_count()} processors, load {load} at the end (other programs "
        f"ran), Python {platform.python_version()}, numpy {np.__version__}, scipy "
        f"{scipy.__version__}, ngspice 39; one run of {seconds:.0f} s."
    )
