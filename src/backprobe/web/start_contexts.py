"""What the form that starts a job shows, as frozen data."""

from __future__ import annotations

from dataclasses import dataclass

from backprobe.web.contexts import BoxView, Choice, Oops


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitFields:
    """The code list of one unit in the start form. `key` numbers its fields."""

    key: str
    unit: str
    active: str
    stored: str
    whole: bool
    oops: tuple[Oops, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question with a few answers: does it work?"""

    field: str
    name: str
    words: str
    choices: tuple[Choice, ...]

    @property
    def answered(self) -> bool:
        """Whether an answer was chosen; none is one of the choices."""
        return any(choice.chosen and choice.value for choice in self.choices)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownField:
    """A value on the display, in the display's own `measure`."""

    field: str
    name: str
    measure: str
    typed: str
    oops: Oops | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenView:
    """A job on this machine, or one of its type. `words`: its cause, or the complaint where it is
    still `open`; `same`: the very machine."""

    ident: str
    words: str
    facts: str
    open: bool
    same: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFields:
    """The fields of one photo. `kept`: digest of one that came with the form before."""

    key: str
    kept: str
    of: tuple[Choice, ...]
    words: str
    oops: Oops | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedPart:
    """What the start form on a `book` shows besides, once something was typed into it."""

    book: str
    seen: tuple[SeenView, ...]
    works: tuple[Asked, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartPage:
    """The form that starts a job on one book, with what was typed. `bookless`: a machine that has
    no book, worked on the general one; its name is asked. `shown`: values on the display, `engine`: how it
    stood while they were read."""

    book: str
    machine: str
    bookless: bool
    once: str
    complaint: str
    serial: str
    hours: str
    hours_oops: Oops | None
    battery: str
    battery_oops: Oops | None
    battery_asked: bool
    units: tuple[UnitFields, ...]
    shown: tuple[ShownField, ...]
    shown_open: bool
    engine: tuple[Choice, ...]
    failing: tuple[Choice, ...]
    conditions: tuple[Choice, ...]
    display: tuple[Choice, ...]
    restart: tuple[Choice, ...]
    before: tuple[Choice, ...]
    works: tuple[Asked, ...]
    photos: tuple[PhotoFields, ...]
    photos_open: bool
    fuses: tuple[BoxView, ...]
    fuse_count: int
    seen: tuple[SeenView, ...]
    recording: tuple[str, ...]
    recording_oops: tuple[Oops, ...]
