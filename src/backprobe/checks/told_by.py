"""The reading that told a fault: what it must read once it is mended."""

from __future__ import annotations

from backprobe.base.units import decimal
from backprobe.book.model import MINUS
from backprobe.checks.layout import Layout
from backprobe.checks.wording import node_words, volts
from backprobe.defects.model import Predictor, Probe
from backprobe.findings.model import JobState, Reading

FAR_V = 0.5
"""A reading so far from the healthy one is one that told. Judgement."""


def told_by(layout: Layout, job: JobState, sound: Predictor) -> str:
    """The reading furthest from what a healthy machine (`sound`) shows, and that: "rail sensor pin 3 must
    read about 5.0 V (was 1.89 V), key on"; "" where none is far off. Of one place the last reading
    counts, with everything on: it can be taken again once all is put back."""
    last: dict[tuple[str, ...], Reading] = {}
    for one in job.findings:
        if not isinstance(one, Reading) or not one.trusted or one.instrument != "meter":
            continue
        there = one.situation
        if not (there.unplugged or there.pulled or there.battery_off or there.fitted):
            last[one.p, one.n, there.words()] = one
    furthest = (FAR_V, "")
    for one in last.values():
        try:
            probe = Probe(kind="volts", p=one.p, n=one.n)
            healthy = float(sound.seen(one.situation.bare(), (probe,)).mean[0, 0])
        except KeyError:
            continue
        off = abs(one.value - healthy)
        if one.to is None and off > furthest[0]:
            place = node_words(layout, one.p)
            place += "" if one.n == MINUS else f" to {node_words(layout, one.n)}"
            was = f"(was {decimal(one.value)} V)"
            words = f"{place} must read about {volts(healthy)} {was}, {one.situation.words()}"
            furthest = (off, words)
    return furthest[1]
