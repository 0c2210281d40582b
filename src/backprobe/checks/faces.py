"""Where the pins of a check lie in their plugs, seen as they are probed: from behind into a plug
that is on, into the open end of one that is off.

The mating side and the wire side of a plug mirror each other, and so do the two halves of a plug
in the loom and a plug and the socket it fits in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from backprobe.book.draft import PLUG
from backprobe.book.faces import mirrored
from backprobe.book.model import Cavity, End, Part
from backprobe.book.values import pin_words
from backprobe.checks.layout import Layout, Touch
from backprobe.checks.model import Check
from backprobe.checks.outcomes import places_of

Side = Literal["mating side", "wire side"]
RED: Final = "R"
BLACK: Final = "B"
LEAD: Final = "L"
"""What a pin is marked with: red lead, black lead, an end of a lead that is fitted."""
WHICH_HALF: Final = "The book does not say which half this is; the other one is its mirror image."


@dataclass(frozen=True, slots=True, kw_only=True)
class PinMark:
    """A marked pin: what marks it, its `name` in words, the `label` printed at it, and where it lies,
    counted from 1 from above and from the left as it is seen. `row` of `rows`, `place` of `places`."""

    letter: str
    name: str
    label: str
    row: int
    rows: int
    place: int
    places: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceView:
    """A plug as it is seen: `of` which one, in words; `rows` as they lie then; `doubt`: what the
    book leaves open, "" for nothing."""

    part: str
    of: str
    side: Side
    rows: tuple[tuple[Cavity, ...], ...]
    marks: tuple[PinMark, ...]
    doubt: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Faces:
    """The plugs of a check; `unsaid`: plugs and units whose pins lie as the book does not say."""

    shown: tuple[FaceView, ...] = ()
    unsaid: tuple[str, ...] = ()


def faces_of(layout: Layout, check: Check) -> Faces:
    """The plugs a check probes, its pins marked."""
    probe = check.probe
    nodes = [(LEAD, node) for lead in check.situation.fitted for node in (lead.p, lead.n)]
    if check.does == "beep" and probe is not None:
        nodes += [(RED, probe.p), *((BLACK, node) for node in places_of(check))]
    elif probe is not None and check.does not in ("amps", "display") and probe.kind != "inner":
        nodes += [(RED, probe.p), (BLACK, probe.n)]
    return faces_at(layout, nodes, check.situation.unplugged)


def faces_at(
    layout: Layout, nodes: Iterable[tuple[str, str]], unplugged: frozenset[str] = frozenset()
) -> Faces:
    """The plugs of some nodes, each with its mark, while some plugs are off."""
    found: dict[FaceView, list[PinMark]] = {}
    unsaid: dict[str, None] = {}
    for letter, node in nodes:
        touch = layout.touch.get(node)
        inside = touch is None
        touch = touch or layout.touch.get(node.replace(":", ".", 1))
        part = layout.book.parts.get(touch.part) if touch else None
        if touch is None or part is None:
            continue
        if part.face is None:
            if part.kind == PLUG or part.name in layout.units:
                unsaid[part.name] = None
            continue
        view = _view(layout, part, touch, inside=inside, off=part.name in unplugged)
        mark = _mark(view, letter, part, touch.pin)
        if mark is None:
            unsaid[part.name] = None
        elif mark not in found.setdefault(view, []):
            found[view].append(mark)
    return Faces(
        shown=tuple(replace(view, marks=tuple(marks)) for view, marks in found.items()),
        unsaid=tuple(unsaid),
    )


def _view(layout: Layout, part: Part, touch: Touch, *, inside: bool, off: bool) -> FaceView:
    """A plug as a hand at one of its pins sees it, nothing marked."""
    rows = part.face.rows if part.face else ()
    of, doubt, turned = f"Plug of {part.name}", "", False
    side: Side = "mating side" if inside or off else "wire side"
    if touch.side:
        half, stated = _half(layout, part, End(touch.part, touch.pin, touch.side))
        of = f"{part.name}, half {half}"
        turned = stated is False
        if stated is None:
            of, side, doubt = part.name, "mating side", WHICH_HALF
    elif inside:
        of, turned = f"Socket of {part.name}", True
    if turned != (side == "wire side"):
        rows = mirrored(rows)
    return FaceView(part=part.name, of=of, side=side, rows=rows, marks=(), doubt=doubt)


def _mark(view: FaceView, letter: str, part: Part, pin: str) -> PinMark | None:
    for number, row in enumerate(view.rows, 1):
        for place, cavity in enumerate(row, 1):
            if cavity.pin == pin:
                return PinMark(
                    letter=letter, name=pin_words(part, pin), label=cavity.label, row=number,
                    rows=len(view.rows), place=place, places=len(row),
                )  # fmt: skip
    return None


def _half(layout: Layout, part: Part, end: End) -> tuple[str, bool | None]:
    """(which half an end is on, in words, whether it is the one whose face the book gives); "" and
    None where that cannot be told."""
    at = {one: _section(layout, one) for one in layout.end_at.get(part.name, ())}
    stated = part.face.half if part.face else ""
    known = _halves(at, stated) if stated else {}
    here, other = at.get(end, ""), at.get(_across(end), "")
    if here in known:
        return f"on {here}", known[here]
    if other in known:
        # the wire is too short to run in a section: it leaves by the half that is left
        return f"away from {other}", not known[other]
    return "", None


def _halves(at: Mapping[End, str], stated: str) -> dict[str, bool]:
    """Sections by half: those that ways lead to from one half hang on the other one."""
    known = {stated: True}
    while True:
        fresh = {
            other: not known[section]
            for end, section in at.items()
            if section in known and (other := at.get(_across(end), "")) and other not in known
        }
        if not fresh:
            return known
        known |= fresh


def _across(end: End) -> End:
    return end._replace(side="b" if end.side == "a" else "a")


def _section(layout: Layout, end: End) -> str:
    """The section the wire of an end runs in at its plug, "" when it runs in none."""
    touch = layout.ends[end]
    wire = layout.book.wires.get(touch.wire)
    if wire is None or not wire.route:
        return ""
    return wire.route[0] if wire.a == end else wire.route[-1]
