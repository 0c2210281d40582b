"""Comma separated tables: what oscilloscopes with a serial decoder write, and lists of J1939 messages.

The first line names the columns; which ones are there decides what a row can tell.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping

from backprobe.logs.checksum import crc15
from backprobe.logs.identifier import Identifier, encode_identifier
from backprobe.logs.recording import Rows

SCOPE_COLUMNS = frozenset({"time", "id", "dlc", "data"})
MESSAGE_COLUMNS = frozenset({"time", "pgn", "source", "data"})

_TIME = re.compile(r"([+-]?\d+(?:\.\d*)?(?:[eE][+-]?\d+)?)\s*([a-zµμ]*)", re.ASCII)
_SECONDS = {"": 1.0, "s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6, "ns": 1e-9}
_WORDS = re.compile(r"[A-Za-z ]+")
_HEX = re.compile(r"[0-9A-Fa-f]+")


def columns(header: str) -> dict[str, int]:
    """Column names in small letters, and where they stand."""
    return {name.strip().strip('"').lower(): at for at, name in enumerate(header.split(","))}


def known(header: str) -> bool:
    """Whether a line names the columns of a table that can be read."""
    return any(names <= columns(header).keys() for names in (SCOPE_COLUMNS, MESSAGE_COLUMNS))


def read_scope(header: str, lines: Iterable[tuple[int, str]], rows: Rows) -> None:
    """Rows of one decoded frame each: Time with its unit, ID and Data in hex, DLC, and when they
    are there CRC (checked) and Errors (a row with one is no frame)."""
    at = columns(header)
    needed = max(at[name] for name in SCOPE_COLUMNS)
    for line, text in lines:
        rows.counts["rows"] += 1
        if text.count(",") < needed:
            rows.flaw(line, "unreadable", text)
        else:
            _scope_row(_cells(text, at), line, text, rows)


def read_messages(header: str, lines: Iterable[tuple[int, str]], rows: Rows) -> None:
    """Rows of one J1939 message each: time in ms, group number, source, data in hex, and when they
    are there priority and destination."""
    at = columns(header)
    for line, text in lines:
        rows.counts["rows"] += 1
        cell = _cells(text, at)
        pgn, source = _number(cell["pgn"], 0x3FFFF), _number(cell["source"], 0xFF)
        priority = _number(cell.get("priority") or "6", 7)
        destination = _number(cell.get("destination") or "255", 0xFF)
        data = _bytes(cell["data"])
        if (
            pgn is None
            or source is None
            or priority is None
            or destination is None
            or data is None
            or len(data) > 8
        ):
            rows.flaw(line, "unreadable", text)
            continue
        fields = Identifier(priority=priority, pgn=pgn, source=source, destination=destination)
        time_s = _row_time(cell["time"], line, text, rows, unit=1e-3)
        rows.take(time_s, encode_identifier(fields), data, line, extended=True)


def _cells(text: str, at: Mapping[str, int]) -> dict[str, str]:
    parts = [part.strip().strip('"') for part in text.split(",")]
    cells = {name: parts[i] if i < len(parts) else "" for name, i in at.items()}
    if "errors" in at:
        # several errors of one row are themselves separated by commas
        cells["errors"] = " ".join(parts[at["errors"] :]).strip()
    return cells


def _scope_row(cell: Mapping[str, str], line: int, text: str, rows: Rows) -> None:
    if errors := cell.get("errors"):
        rows.flaw(line, "bus error" if _WORDS.fullmatch(errors) else "unreadable", text)
        return
    data = _bytes(cell["data"])
    if data is not None and not cell["id"]:
        rows.flaw(line, "no identifier", text)
        return
    extended = len(cell["id"]) > 3
    ident = _hex(cell["id"], 0x1FFFFFFF if extended else 0x7FF)
    length = _number(cell["dlc"] or str(len(data or b"")), 8)
    if data is None or ident is None or length is None:
        rows.flaw(line, "unreadable", text)
        return
    if cell.get("type", "").lower().startswith("remote"):
        rows.counts["remote frames"] += 1
        return
    checksum = _hex(cell.get("crc", ""), 0x7FFF)
    if len(data) < length or (len(data) > length and checksum is None):
        rows.flaw(line, "length", text)
        return
    # a recorder that misses a gap puts two frames' data in one row under the second's identifier
    last = data[len(data) - length :]
    if checksum is not None and crc15(ident, last, extended=extended) != checksum:
        rows.flaw(line, "checksum", text)
        return
    if len(data) > length:
        rows.flaw(line, "two in one", text)
    if checksum is None:
        rows.counts["frames without a checksum"] += 1
    time_s = _row_time(cell["time"], line, text, rows, unit=1.0)
    rows.take(time_s, ident, last, line, extended=extended)


def _row_time(written: str, line: int, text: str, rows: Rows, *, unit: float) -> float:
    """Seconds; of the row above when this row's time cannot be read."""
    found = _TIME.fullmatch(written)
    if found and found[2] in _SECONDS:
        time_s = float(found[1]) * (_SECONDS[found[2]] if found[2] else unit)
        if math.isfinite(time_s):
            return time_s
    rows.flaw(line, "no time", text)
    return rows.frames[-1].time_s if rows.frames else 0.0


def _number(text: str, most: int) -> int | None:
    if not re.fullmatch(r"[0-9]{1,9}", text):
        return None
    number = int(text)
    return number if number <= most else None


def _hex(text: str, most: int) -> int | None:
    if not _HEX.fullmatch(text) or len(text) > 16:
        return None
    number = int(text, 16)
    return number if number <= most else None


def _bytes(text: str) -> bytes | None:
    pairs = text.split()
    if not all(len(pair) == 2 and _HEX.fullmatch(pair) for pair in pairs):
        return None
    return bytes(int(pair, 16) for pair in pairs)
