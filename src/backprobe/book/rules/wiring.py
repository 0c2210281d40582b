"""Rules about pins, fuses and wires."""

from __future__ import annotations

from backprobe.base.copper import carries
from backprobe.base.units import show
from backprobe.book.draft import Hop
from backprobe.book.model import BODIES, End
from backprobe.book.nets import FUSES, joins_freely, node
from backprobe.book.rules.context import Checked, spot_of
from backprobe.book.sizes import fuse_amps


def pin_used_twice(checked: Checked) -> None:
    """Two wires at a pin where one fits. Wires of one line are meant to share it."""
    first: dict[End, Hop] = {}
    for hop in checked.draft.hops:
        if hop.is_assumed or hop.card or hop.line is None:
            continue
        for end in (hop.a, hop.b):
            if end.part in BODIES or joins_freely(checked.draft.parts.get(end.part)):
                continue
            other = first.setdefault(end, hop)
            if other.line is not None and other.line.number != hop.line.number:
                pin = f"{end.part}.{end.pin}{end.side}"
                checked.report.add(
                    "pin-used-twice",
                    spot_of(hop, pin, pin[:-1] if end.side else pin, end.part),
                    pin=pin,
                    first=str(other.line.number),
                )


def feeds_joined(checked: Checked) -> None:
    """The load sides of two fuses joined by plain wire."""
    behind: dict[object, list[str]] = {}
    for name, part in checked.draft.parts.items():
        if part.kind in FUSES and (name, "2") in checked.at:
            behind.setdefault(checked.nets.find((name, "2")), []).append(name)
    for fuses in behind.values():
        for other in fuses[1:]:
            hop = checked.at[(other, "2")][0]
            checked.report.add(
                "feeds-joined", spot_of(hop, f"{other}.2", other), one=fuses[0], other=other
            )


def fuse_too_large(checked: Checked) -> None:
    """A wire that carries less than its fuse lets through; both must have been typed."""
    rated: dict[object, str] = {}
    for name, part in checked.draft.parts.items():
        if part.kind in FUSES and "amps" in part.attrs and (name, "2") in checked.at:
            rated.setdefault(checked.nets.find((name, "2")), name)
    thinnest: dict[str, Hop] = {}
    for hop in checked.draft.hops:
        fuse = rated.get(checked.nets.find(node(hop.a)))
        if fuse is None or hop.area_m2 is None or "size" in hop.assumed:
            continue
        known = thinnest.get(fuse)
        if known is None or hop.area_m2 < (known.area_m2 or 0.0):
            thinnest[fuse] = hop
    for fuse, hop in thinnest.items():
        amps, area = fuse_amps(checked.draft, fuse), hop.area_m2 or 0.0
        if carries(area) < amps * (1 - 1e-9):
            checked.report.add(
                "fuse-too-large", spot_of(hop), fuse=fuse, rating=show(amps, "A"), wire=hop.id,
                size=show(area, "m2"), carries=show(carries(area), "A"),
            )  # fmt: skip


def wire_name_reused(checked: Checked) -> None:
    """One wire name on two lines whose wires have nothing to do with each other."""
    lines: dict[str, dict[int, list[Hop]]] = {}
    for hop in checked.draft.hops:
        if hop.name and hop.line is not None:
            lines.setdefault(hop.name, {}).setdefault(hop.line.number, []).append(hop)
    for name, by_line in lines.items():
        known: set[object] = set()
        for hops in by_line.values():
            nets = {checked.nets.find(node(hop.a)) for hop in hops}
            if known and not nets & known:
                checked.report.add(
                    "wire-name-reused", spot_of(hops[0], f"wire {name}"), name=name,
                    first=str(next(iter(by_line))),
                )  # fmt: skip
            known |= nets


def unconnected_part(checked: Checked) -> None:
    """A part that is listed but in no circuit."""
    wired = {part for part, _ in checked.at}
    for name, part in checked.draft.parts.items():
        if name not in wired and part.kind != "ground strap" and not part.origin.assumed:
            checked.report.add("unconnected-part", part.origin.at, name=name)
