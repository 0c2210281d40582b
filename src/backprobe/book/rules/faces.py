"""Rules about the faces of plugs: what they show agrees with the pins and with the loom."""

from __future__ import annotations

from collections.abc import Iterator

from backprobe.base.problems import Spot
from backprobe.book.draft import PLUG
from backprobe.book.faces import FACE
from backprobe.book.loom import places
from backprobe.book.model import Face, Part
from backprobe.book.rules.context import Checked


def faces_of(checked: Checked) -> Iterator[tuple[Part, Face, Spot | None]]:
    """Parts with a face, and where their line says it."""
    for part in checked.draft.parts.values():
        if part.face is not None:
            yield part, part.face, _spot(part.origin.at)


def _spot(at: Spot | None) -> Spot | None:
    if at is None:
        return None
    said = FACE.search(at.text, at.column - 1, at.end - 1)
    if said is None:
        return at
    end = at.text.find(",", said.start())
    stop = at.end - 1 if end < 0 else end
    return Spot(file=at.file, line=at.line, column=said.start() + 1, end=stop + 1, text=at.text)


def face_and_pins(checked: Checked) -> None:
    """A face with more or fewer places than the plug has ways, or without a pin that is wired."""
    faces = list(faces_of(checked))
    wired: dict[str, dict[str, None]] = {part.name: {} for part, _, _ in faces}
    for hop in checked.draft.hops if faces else ():
        for end in (hop.a, hop.b):
            if end.part in wired:
                wired[end.part][end.pin] = None
    for part, face, at in faces:
        shown = [cavity for row in face.rows for cavity in row if cavity.label]
        ways = len(checked.draft.pins_of(part.name)) if checked.draft.counted(part.name) else 0
        if part.kind == PLUG and ways and len(shown) != ways:
            checked.report.add(
                "face-count", at, part=part.name, ways=str(ways), shown=str(len(shown))
            )
        known = {cavity.pin for cavity in shown}
        for pin in wired[part.name]:
            if pin not in known:
                checked.report.add("face-without-pin", at, part=part.name, pin=pin)


def face_half(checked: Checked) -> None:
    """A plug in the loom whose face does not say which half it is, or names one it has not."""
    faces = list(faces_of(checked))
    where = places(checked.draft) if faces else {}
    at_place: dict[str, list[str]] = {}
    for name, section in checked.draft.sections.items() if faces else ():
        for place in (section.a, section.b):
            at_place.setdefault(place, []).append(name)
    for part, face, at in faces:
        ending = at_place.get(where.get(part.name, ""), [])
        if face.half and face.half not in ending:
            checked.report.add(
                "face-half", at, part=part.name, half=face.half, known=", ".join(ending) or "none",
                near=checked.report.near(face.half, ending),
            )  # fmt: skip
        elif part.kind == PLUG and not face.half:
            checked.report.add("face-which-half", at, part=part.name)
