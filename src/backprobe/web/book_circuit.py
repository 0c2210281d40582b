"""Any circuit of a wiring book, healthy: what should this pin read?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final
from urllib.parse import quote, urlencode

from backprobe.book.model import BODIES
from backprobe.book.situations import KEYS, Key, Situation
from backprobe.checks.faces import RED, faces_at
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.wording import node_words
from backprobe.kinds import KINDS
from backprobe.shop.job import Job
from backprobe.shop.predicted import healthy_volts
from backprobe.web.circuit_view import (
    KEY_WORDS,
    Pick,
    WireRow,
    key_picks,
    place_words,
    probes_of,
    switch_picks,
    switches_of,
    turned,
    volts_words,
    wire_rows,
)
from backprobe.web.contexts import Choice, Said
from backprobe.web.face_view import PlugsView, plugs_view
from backprobe.web.pictures.circuit import strips_of
from backprobe.web.pictures.circuit_svg import Shown, Value, circuit_svg
from backprobe.web.pictures.nearby import Marks
from backprobe.web.pictures.wiring import PLUG, wiring_of

FIRST: Final = ("sensor", "pump", "starter", "lamp", "solenoid", "horn")
"""What is drawn where nothing was asked for: the first part of such a kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookLook:
    """What a book's circuit is looked at with: the part it is drawn around, key and load, a pin
    ("" = none)."""

    of: str
    key: Key
    on: frozenset[str] = frozenset()
    pin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookCircuitPage:
    """The page; `desk` and `phone` are SVG. `reads`: the chosen pin by key position."""

    name: str
    machine: str
    of: str
    key: str
    on: tuple[str, ...]
    parts: tuple[Choice, ...]
    legend: tuple[Said, ...]
    keys: tuple[Pick, ...]
    switches: tuple[Pick, ...]
    told: str
    desk: str
    phone: str
    rows: tuple[WireRow, ...]
    place: str
    plugs: PlugsView
    reads: tuple[Said, ...]


def book_look(query: Mapping[str, str], on: Sequence[str], layout: Layout) -> BookLook:
    """What a page is asked to show; what the book does not know is left out."""
    parts, key, pin = layout.book.parts, query.get("key", ""), query.get("pin", "")
    of = query.get("of", "")
    return BookLook(
        of=of if of in parts else _first(layout),
        key=key if key in KEYS else "on",
        on=frozenset(parts).intersection(on),
        pin=pin if pin in layout.touch or pin in BODIES else "",
    )


def _first(layout: Layout) -> str:
    for word in FIRST:
        for part in layout.book.parts.values():
            if word in part.kind:
                return part.name
    return next(iter(layout.book.parts), "")


def address(name: str, look: BookLook) -> str:
    """The circuit of a book looked at in one way."""
    query = [("of", look.of), ("key", look.key), *(("on", one) for one in sorted(look.on))]
    query += [("pin", look.pin)] if look.pin else []
    return f"/book/{quote(name)}/circuit?{urlencode(query)}{'#pin' if look.pin else ''}"


def book_circuit_page(name: str, job: Job, query: Mapping[str, str], on: Sequence[str]) -> BookCircuitPage:  # fmt: skip
    """The circuit around a part of a healthy machine. `job`: one without findings, on
    the healthy circuit of the book."""
    book = job.book
    layout = layout_of(book, KINDS)
    look = book_look(query, on, layout)
    wiring = wiring_of(layout)
    strips = strips_of(wiring, Marks(), around=(look.of,))
    nodes = tuple(dict.fromkeys([*probes_of(strips), *([look.pin] if look.pin else [])]))
    situation = Situation(key=look.key, on=look.on)
    seen = healthy_volts(job, situation, nodes)
    values = {
        node: Value(words=volts_words(seen, 0, k), name=place_words(layout, node))
        for k, node in enumerate(nodes)
    }
    shown = Shown(
        values=values,
        chosen=look.pin,
        # from the same page: a unit has a hundred ends, so short addresses count
        address=lambda probe: f"?{address(name, replace(look, pin=probe)).partition('?')[2]}",
    )
    title = f"Circuit around {look.of}, {situation.words()}"

    def there(key: Key, on: frozenset[str]) -> str:
        return address(name, replace(look, key=key, on=on))

    return BookCircuitPage(
        name=name,
        machine=book.machine.name,
        of=look.of,
        key=look.key,
        on=tuple(sorted(look.on)),
        parts=tuple(
            Choice(value=part.name, words=part.name, chosen=part.name == look.of)
            for part in book.parts.values()
            if part.kind != PLUG
        ),
        keys=key_picks(look.key, look.on, there),
        switches=switch_picks(look.key, look.on, switches_of(layout, strips, look.on), there),
        told=situation.words(),
        legend=turned(strips),
        desk=circuit_svg(wiring, strips.desk, shown, key="desk", title=title),
        phone=circuit_svg(wiring, strips.phone, shown, key="phone", title=title),
        rows=wire_rows(layout, strips.desk, values),
        place=node_words(layout, look.pin) if look.pin else "",
        plugs=plugs_view(faces_at(layout, [(RED, look.pin)])),
        reads=_by_key(job, look) if look.pin else (),
    )


def _by_key(job: Job, look: BookLook) -> tuple[Said, ...]:
    """A pin in every key position, with the same switches."""
    found = []
    for key, words in KEY_WORDS.items():
        seen = healthy_volts(job, Situation(key=key, on=look.on), (look.pin,))
        found.append(Said(name=words, words=volts_words(seen, 0, 0)))
    return tuple(found)
