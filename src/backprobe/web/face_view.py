"""The plugs of a check as a page shows them: a picture and the same in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from backprobe.checks.faces import Faces, FaceView, PinMark
from backprobe.checks.wording import listed
from backprobe.web.pictures.face import face_drawing, face_svg

SEEN: Final[Mapping[str, str]] = {
    "mating side": "mating side: looking into it",
    "wire side": "wire side: from behind, where the wires go in",
}
LEADS: Final[Mapping[str, str]] = {"R": "red lead", "B": "black lead", "L": "fitted lead"}
EITHER: Final[Mapping[str, str]] = {"R": "one lead", "B": "other lead", "L": "fitted lead"}
"""An ohmmeter's leads may change places."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkView:
    """A marked pin: what goes there ("R red lead: pin 21"), and where it lies."""

    what: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlugView:
    """A plug: which one, the `side` it is seen from, its picture as SVG, a line for each marked
    pin, what the book leaves open ("" = nothing). `high`: the picture's height, px."""

    of: str
    side: str
    svg: str
    marks: tuple[MarkView, ...]
    doubt: str
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlugsView:
    """The plugs of a check; `unsaid`: a line for those whose pins lie as the book does not say."""

    plugs: tuple[PlugView, ...] = ()
    unsaid: str = ""

    def in_words(self) -> PlugsView:
        """The same without the pictures."""
        return replace(self, plugs=tuple(replace(one, svg="") for one in self.plugs))


def plugs_view(faces: Faces, *, either: bool = False) -> PlugsView:
    """The plugs of a check. `either`: the leads may change places."""
    names = EITHER if either else LEADS
    unsaid = listed(faces.unsaid)
    return PlugsView(
        plugs=tuple(_plug(view, names) for view in faces.shown),
        unsaid=f"The book does not say how the pins of {unsaid} lie." if unsaid else "",
    )


def _plug(view: FaceView, names: Mapping[str, str]) -> PlugView:
    marks = tuple(_words(mark, names) for mark in view.marks)
    said = "; ".join(f"{mark.what}, {mark.where}" for mark in marks)
    return PlugView(
        of=view.of,
        side=SEEN[view.side],
        svg=face_svg(view, f"{view.of}, {view.side}. {said}."),
        marks=marks,
        doubt=view.doubt,
        high=face_drawing(view).height,
    )


def _words(mark: PinMark, names: Mapping[str, str]) -> MarkView:
    row = f"row {mark.row} of {mark.rows}, " if mark.rows > 1 else ""
    lead = f"{mark.letter} {names[mark.letter]}: " if mark.letter in names else ""
    return MarkView(
        what=f"{lead}pin {mark.name}",
        where=f"{row}{_nth(mark.place)} of {mark.places} from the left",
    )


def _nth(number: int) -> str:
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{'th' if number % 100 in (11, 12, 13) else ending}"
