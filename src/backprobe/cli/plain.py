"""Results as JSON: dataclasses by their fields, whatever they are."""

from __future__ import annotations

import json
from collections.abc import Mapping, Set
from dataclasses import fields, is_dataclass
from math import isinf, isnan


def plain(thing: object) -> object:
    """Any result as dicts, lists, text, numbers, true, false and null.

    A dataclass becomes a dict of its fields, a set a sorted list. JSON knows no endless number:
    those become "inf" and "-inf", no number at all becomes null.
    """
    if thing is None or isinstance(thing, bool | str | int):
        return thing
    if isinstance(thing, float):
        return None if isnan(thing) else str(thing) if isinf(thing) else thing
    if is_dataclass(thing) and not isinstance(thing, type):
        return {field.name: plain(getattr(thing, field.name)) for field in fields(thing)}
    if isinstance(thing, Mapping):
        return {str(key): plain(value) for key, value in thing.items()}
    if isinstance(thing, Set):
        return sorted((plain(item) for item in thing), key=str)
    if isinstance(thing, tuple | list):
        return [plain(item) for item in thing]
    return str(thing)


def to_json(thing: object) -> str:
    """A result as JSON text, in ASCII so that every console and pipe can carry it."""
    return json.dumps(plain(thing), indent=2, allow_nan=False)
