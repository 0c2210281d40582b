"""Findings as plain dicts of JSON values, and back.

Every field is written, defaults too: a stored finding must keep its meaning when a default changes
later. A situation is a list, the newest first, each one `after` the next. An endless resistance is
written "OL". What cannot be read comes back as a Problem, never as an exception.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, fields
from functools import cache
from typing import Any, Literal, get_args, get_origin, get_type_hints

from backprobe.base.problems import Problem
from backprobe.book.situations import Lead, Situation
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Approved,
    Bet,
    Closed,
    CodesFound,
    DisplayRead,
    Failing,
    Finding,
    FuseFound,
    Looked,
    Mentioned,
    NotPossible,
    Photo,
    Provoked,
    Reading,
    Recalled,
    Withdrawn,
    Works,
)

TYPES: Mapping[str, type[AnyFinding]] = {
    "codes found": CodesFound,
    "reading": Reading,
    "display read": DisplayRead,
    "works": Works,
    "fuse found": FuseFound,
    "looked": Looked,
    "act": Act,
    "failing": Failing,
    "provoked": Provoked,
    "bet": Bet,
    "recalled": Recalled,
    "not possible": NotPossible,
    "mentioned": Mentioned,
    "approved": Approved,
    "photo": Photo,
    "closed": Closed,
    "withdrawn": Withdrawn,
}
_EXPECTED: Mapping[object, str] = {str: "text", bool: "yes or no", int: "a whole number"}
NAMES: Mapping[type[AnyFinding], str] = {cls: name for name, cls in TYPES.items()}


class _UnreadableError(Exception):
    """Where in the dict (a path of keys) and what was expected there."""

    def __init__(self, path: str, expected: str, got: object) -> None:
        self.what = f"{path}: expected {expected}, found {_short(got)}"
        super().__init__(self.what)


def to_plain(finding: AnyFinding) -> dict[str, Any]:
    """The finding as a dict that JSON can carry, with its "type".

    Raises ValueError for a value that is not a number: no instrument shows one.
    """
    return {"type": NAMES[type(finding)], **_fields_to_plain(finding)}


def from_plain(plain: object) -> AnyFinding | Problem:
    """The finding a dict holds, or the Problem with it. Undoes `to_plain`, also through JSON."""
    try:
        return _finding(plain)
    except _UnreadableError as unreadable:
        return Problem(
            slug="finding-unreadable",
            weight="error",
            at=None,
            what=f"this finding cannot be read: {unreadable.what}",
            why="it was damaged, or written by a newer version of Backprobe; it is kept in the job "
            "but not weighed",
            remedy="update Backprobe; if that does not help, enter the finding again",
        )


def _finding(plain: object) -> AnyFinding:
    if not isinstance(plain, Mapping):
        raise _UnreadableError("finding", "a dict", plain)
    name = plain.get("type")
    cls = TYPES.get(name) if isinstance(name, str) else None
    if cls is None:
        raise _UnreadableError("type", f"one of {', '.join(TYPES)}", name)
    values = {key: value for key, value in plain.items() if key != "type"}
    finding: AnyFinding = cls(**_fields_from_plain(cls, values, ""))
    return finding


def _fields_to_plain(thing: Finding | Situation | Lead) -> dict[str, Any]:
    return {field.name: _value_to_plain(getattr(thing, field.name)) for field in fields(thing)}


def _value_to_plain(value: object) -> object:
    if isinstance(value, Situation):
        chain = []
        now: Situation | None = value
        while now is not None:
            flat = _fields_to_plain(now.bare())
            del flat["after"], flat["showing"]
            chain.append(flat)
            now = now.after
        return chain
    if isinstance(value, Lead):
        return _fields_to_plain(value)
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        return [_value_to_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        if math.isnan(value):
            raise ValueError("a finding cannot hold a value that is not a number")
        return "OL" if value > 0 else "-OL"
    return value


def _fields_from_plain(cls: type, plain: Mapping[str, Any], path: str) -> dict[str, Any]:
    hints = _hints(cls)
    known = {field.name: field for field in fields(cls)}
    for key in plain:
        if key not in known:
            raise _UnreadableError(f"{path}{key}", "no such entry", plain[key])
    out: dict[str, Any] = {}
    for name, field in known.items():
        if name in plain:
            out[name] = _value_from_plain(hints[name], plain[name], f"{path}{name}")
        elif field.default is MISSING:
            raise _UnreadableError(f"{path}{name}", "an entry", None)
    return out


@cache
def _hints(cls: type) -> Mapping[str, Any]:
    """The types of a class's fields; working them out takes longer than reading a finding."""
    return get_type_hints(cls)


def _value_from_plain(hint: object, value: object, path: str) -> object:
    if hint is Situation:
        return _situation(value, path)
    if get_origin(hint) is tuple:
        item = get_args(hint)[0]
        listed = _as_list(value, path)
        return tuple(_value_from_plain(item, each, f"{path}[{i}]") for i, each in enumerate(listed))
    if get_origin(hint) is frozenset:
        return frozenset(_value_from_plain(str, each, path) for each in _as_list(value, path))
    if hint is Lead:
        if not isinstance(value, Mapping):
            raise _UnreadableError(path, "a lead", value)
        return Lead(**_fields_from_plain(Lead, value, f"{path}."))
    if get_origin(hint) is Literal:
        if not isinstance(value, str) or value not in get_args(hint):
            raise _UnreadableError(path, f"one of {', '.join(map(repr, get_args(hint)))}", value)
        return value
    if hint == float | None:
        return None if value is None else _as_float(value, path)
    if hint is float:
        return _as_float(value, path)
    # bool is an int in Python, so the exact type is asked for
    if type(value) is not hint:
        raise _UnreadableError(path, _EXPECTED[hint], value)
    return value


def _situation(value: object, path: str) -> Situation:
    now: Situation | None = None
    chain = _as_list(value, path)
    for i in range(len(chain) - 1, -1, -1):
        flat = chain[i]
        if not isinstance(flat, Mapping) or "after" in flat:
            raise _UnreadableError(f"{path}[{i}]", "a situation", flat)
        now = Situation(**_fields_from_plain(Situation, flat, f"{path}[{i}]."), after=now)
    if now is None:
        raise _UnreadableError(path, "at least one situation", value)
    return now


def _as_list(value: object, path: str) -> list[Any] | tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise _UnreadableError(path, "a list", value)
    return value


def _as_float(value: object, path: str) -> float:
    if value == "OL":
        return math.inf
    if value == "-OL":
        return -math.inf
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _UnreadableError(path, "a number", value)
    try:
        number = float(value)
    except OverflowError:
        raise _UnreadableError(path, "a number", value) from None
    if not math.isfinite(number):
        raise _UnreadableError(path, 'a number or "OL"', value)
    return number


def _short(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 10**20:
        return "a very long number"
    text = repr(value) if isinstance(value, str | int | float | bool) else type(value).__name__
    return text if len(text) <= 60 else text[:57] + "..."
