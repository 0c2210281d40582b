"""A file of any known format as a Recording. The content decides the format, not the name."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from pathlib import Path

from backprobe.logs import canfiles, tables
from backprobe.logs.recording import Recording, Rows, unknown, unreadable_file

_LOOK_AT_LINES = 50


def read_recording(source: str | Path | bytes, name: str = "") -> Recording:
    """The recording at a path, or in bytes. Never raises for what is in the file.

    `name` is what problems call it; a path's own file name by default.
    """
    if isinstance(source, bytes):
        return _read(source, name or "recording")
    path = Path(source)
    name = name or path.name
    try:
        content = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        return Recording(name=name, problems=(unreadable_file(name, reason.lower()),))
    return _read(content, name)


def _read(content: bytes, name: str) -> Recording:
    rows = Rows(name=name)
    if content.startswith(b"LOGG"):
        canfiles.read_blf(content, rows)
        return rows.done()
    lines = re.split(r"\r\n|\r|\n", _text(content))
    header = next((text for _, text in _numbered(lines)), "")
    if tables.known(header.replace(";", ",")) and not tables.known(header):
        # as it is written where a comma marks decimals
        lines = [text.replace(",", ".").replace(";", ",") for text in lines]
        header = header.replace(";", ",")
    numbered = _numbered(lines)
    names = frozenset(tables.columns(header))
    if header.replace(" ", "").lower() == canfiles.CSV_HEADER:
        next(numbered)
        canfiles.read_python_can_csv(numbered, rows)
    elif names >= tables.SCOPE_COLUMNS:
        next(numbered)
        tables.read_scope(header, numbered, rows)
    elif names >= tables.MESSAGE_COLUMNS:
        next(numbered)
        tables.read_messages(header, numbered, rows)
    elif _some_line(lines, canfiles.CANDUMP_LINE):
        canfiles.read_candump(numbered, rows)
    elif _some_line(lines, canfiles.ASC_LINE):
        canfiles.read_asc(numbered, rows)
    else:
        return Recording(name=name, problems=(unknown(name),))
    return rows.done()


def _text(content: bytes) -> str:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return content.decode("utf-16", errors="replace")
    return content.decode("utf-8-sig", errors="replace")


def _numbered(lines: list[str]) -> Iterator[tuple[int, str]]:
    """Lines that are not blank, counted as an editor counts them."""
    return ((number, text) for number, text in enumerate(lines, 1) if text.strip())


def _some_line(lines: list[str], pattern: re.Pattern[str]) -> bool:
    first = [text for text in lines[: 10 * _LOOK_AT_LINES] if text.strip()][:_LOOK_AT_LINES]
    return any(pattern.match(text.strip()) for text in first)
