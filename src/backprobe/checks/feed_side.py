"""Which side of a lug the red lead belongs on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from backprobe.book.situations import Situation
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check
from backprobe.defects.model import Predictor, Probe


def red_on_feed(layout: Layout, checks: Sequence[Check], sound: Predictor) -> tuple[Check, ...]:
    """The checks, the leads over every lug so that what is lost there reads positive: red where the current
    comes from in a healthy machine (`sound`), at a feed as at a ground. Common practice."""
    over: dict[Situation, list[tuple[int, Probe]]] = {}
    for number, check in enumerate(checks):
        if check.does == "drop" and check.probe is not None and check.probe.n in layout.lugs:
            over.setdefault(check.situation, []).append((number, check.probe))
    turned = list(checks)
    for situation, probes in over.items():
        volts = sound.seen(situation, [probe for _, probe in probes]).mean[0]
        for (number, probe), loss in zip(probes, volts, strict=True):
            if loss < 0.0:
                swapped = replace(probe, p=probe.n, n=probe.p)
                turned[number] = replace(checks[number], probe=swapped)
    return tuple(turned)
