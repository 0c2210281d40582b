"""Names of nodes: how the words in a kind's record become nodes of one part."""

from __future__ import annotations

from collections.abc import Callable

from backprobe.book.model import BODIES, Book
from backprobe.circuit.net import REFERENCE

Names = Callable[[str], str]
"""Turns the node words of a record into the nodes of one part."""


RAILS = ("supply", "ground", "core", "can high", "can low")
"""Inner nodes of a control unit that all its pins share; any other word is a pin's own."""


def inner(part: str, word: str) -> str:
    """Node of a terminal or inner point of a part."""
    return f"{part}:{word}"


def group_name(unit: str, name: str) -> str:
    """Owner of the states and branches of a 5 V group."""
    return f"{unit} group {name}"


def reference_post(book: Book) -> str:
    """The minus post that is cabled to a body, strap, stud or isolator, else the first."""
    posts = [part.name for part in book.parts.values() if part.kind == "battery"]
    for wire in book.wires.values():
        for near, far in ((wire.a, wire.b), (wire.b, wire.a)):
            if near.part in posts and near.pin == "-":
                kind = "body" if far.part in BODIES else book.parts[far.part].kind
                if kind in ("body", "ground strap", "isolator", "ground stud"):
                    return inner(near.part, "-")
    return inner(posts[0], "-") if posts else REFERENCE


def node_names(
    book: Book, part: str, *, pin: str = "", group: str = "", reference: str | None = None
) -> Names:
    """Names for a part's record; for a unit's pin or 5 V group when `pin` or `group` is given."""
    post = reference_post(book) if reference is None else reference
    owner = book.parts[part]
    fixed = {
        "@body": owner.body or "frame",
        "@body2": str(owner.attrs.get("second body") or "engine"),
        "@minus": REFERENCE,
    }
    if pin:
        fixed["pin"] = inner(part, pin)
    if group:
        fixed["group"] = inner(part, f"group {group}")

    def name(word: str) -> str:
        own = f"{pin} {word}" if pin and word not in RAILS else word
        node = fixed.get(word) or inner(part, own)
        return REFERENCE if node == post else node

    return name
