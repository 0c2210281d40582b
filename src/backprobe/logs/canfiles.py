"""The usual recording formats, through python-can's readers.

Those readers stop at the first line they cannot take. Here such a line is kept as dirty and a fresh
reader goes on with the next line.
"""

from __future__ import annotations

import io
import logging
import math
import re
import struct
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO, cast

from backprobe.logs.recording import Rows, cut

if TYPE_CHECKING:
    from can import Message

CANDUMP_LINE = re.compile(
    r"\(\d+(?:\.\d+)?\)\s+\S+\s+(?P<id>[0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})"
    r"#(?:(?:#[0-9A-Fa-f])?(?P<data>(?:[0-9A-Fa-f]{2})*)|[Rr]\d?)(?:\s+[RrTt])?",
    re.ASCII,
)
ASC_LINE = re.compile(
    r"\s*(?:date\s+\w|base\s+(?:hex|dec)\b|\d+\.\d+\s+\d+\s+[0-9A-Fa-f]+x?\s+(?:Rx|Tx)\s)",
    re.ASCII | re.IGNORECASE,
)
CSV_HEADER = "timestamp,arbitration_id,extended,remote,error,dlc,data"
_CSV_LINE = re.compile(
    r"[^,]+,(?:0x)?[0-9A-Fa-f]{1,8},[01],[01],[01],\d,[A-Za-z0-9+/]*={0,2}\s*", re.ASCII
)
_ASC_BASE = re.compile(r"\s*base\s+(hex|dec)\b", re.ASCII | re.IGNORECASE)
_ASC_ROW = re.compile(r"\s*\d+\.\d+\s+\d+\s+(?P<rest>\S.*)", re.ASCII)
_ASC_KNOWN = re.compile(
    r"[0-9A-Fa-f]+x?\s+(?:Rx|Tx)\s+[dr]\b|ErrorFrame|Statistic:|Status:|J1939TP|OverloadFrame",
    re.ASCII | re.IGNORECASE,
)
_ERROR_FLAG = 0x20000000  # linux/can/error.h: such a line reports an error, it is no frame
_LARGEST = 0x1FFFFFFF


class _Feed:
    """A file of lines that remembers where it is. `sieve` keeps lines from the reader."""

    def __init__(
        self, lines: Iterable[tuple[int, str]], sieve: Callable[[int, str], bool], rows: Rows
    ) -> None:
        self._lines = iter(lines)
        self._sieve = sieve
        self._rows = rows
        self._before: deque[str] = deque()
        self.line = 0
        self.text = ""

    def first(self, *lines: str) -> None:
        """Lines to give before going on: the header a fresh reader expects."""
        self._before = deque(lines)

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        if self._before:
            return self._before.popleft() + "\n"
        for line, text in self._lines:
            if not text.strip():
                continue
            self._rows.counts["rows"] += 1
            if self._sieve(line, text):
                self.line, self.text = line, text
                return text + "\n"
        raise StopIteration

    def close(self) -> None:
        """Readers close what they read; there is nothing to close."""


def read_candump(lines: Iterable[tuple[int, str]], rows: Rows) -> None:
    """`(seconds) interface ID#DATA`, as candump -L of can-utils writes it."""
    from can.io.canutils import CanutilsLogReader

    def sieve(line: int, text: str) -> bool:
        found = CANDUMP_LINE.fullmatch(text.strip())
        ident = int(found["id"], 16) if found else 0
        if ident > _LARGEST and ident & _ERROR_FLAG and ident < 2 * _ERROR_FLAG:
            rows.flaw(line, "bus error", text)
            return False
        if not found or ident > _LARGEST or (len(found["id"]) == 3 and ident > 0x7FF):
            rows.flaw(line, "unreadable", text)
            return False
        return True

    feed = _Feed(lines, sieve, rows)
    _read_on(feed, lambda: CanutilsLogReader(cast(TextIO, feed)), rows)


def read_python_can_csv(lines: Iterable[tuple[int, str]], rows: Rows) -> None:
    """The table python-can's CSVWriter writes, after its header line."""
    from can.io.csv import CSVReader

    def sieve(line: int, text: str) -> bool:
        if not _CSV_LINE.fullmatch(text):
            rows.flaw(line, "unreadable", text)
            return False
        return True

    feed = _Feed(lines, sieve, rows)

    def fresh() -> CSVReader:
        feed.first(CSV_HEADER)
        return CSVReader(cast(TextIO, feed))

    _read_on(feed, fresh, rows)


def read_asc(lines: Iterable[tuple[int, str]], rows: Rows) -> None:
    """The ASCII trace format .asc; lines that are no frames (comments, statistics) are passed."""
    from can.io.asc import ASCReader

    lines = list(lines)
    found = next(filter(None, (_ASC_BASE.match(text) for _, text in lines)), None)
    base = found[1].lower() if found else "hex"

    def sieve(line: int, text: str) -> bool:
        row = _ASC_ROW.match(text)
        if row and not _ASC_KNOWN.match(row["rest"]):
            rows.flaw(line, "unreadable", text)
            return False
        return True

    feed = _Feed(lines, sieve, rows)

    def fresh() -> ASCReader:
        # the reader takes as header all up to the first line it does not know, and loses that line
        feed.first(f"base {base} timestamps absolute", "no internal events logged")
        return ASCReader(cast(TextIO, feed))

    _read_on(feed, fresh, rows)


def _read_on(feed: _Feed, fresh: Callable[[], Iterable[Message]], rows: Rows) -> None:
    with _complaints():
        while True:
            try:
                for message in fresh():
                    _take(message, feed.line, feed.text, rows)
            except Exception:  # noqa: BLE001 - a foreign reader may stumble over anything
                rows.flaw(feed.line, "unreadable", feed.text)
            else:
                return


def read_blf(content: bytes, rows: Rows) -> None:
    """The binary trace format .blf; `line` of a frame is its place in the file, from 1."""
    from can.io.blf import BLFReader

    class Reader(BLFReader):
        # an object that claims no length would be read over and over
        def _parse_data(self, data: bytes) -> Generator[Message, None, None]:
            at = data.find(b"LOBJ")
            while 0 <= at <= len(data) - 16:
                size: int = struct.unpack_from("<I", data, at + 8)[0]
                if size < 16:
                    raise ValueError("an object shorter than its own header")
                at = data.find(b"LOBJ", at + size)
            yield from super()._parse_data(data)

    number = 0
    with _complaints() as complaints:
        try:
            reader = Reader(io.BytesIO(content))
            for message in reader:
                number += 1
                rows.counts["rows"] += 1
                _take(message, number, str(message), rows)
        except Exception as error:  # noqa: BLE001 - as above
            complaints.append(str(error))
        else:
            if reader.file_size > len(content):
                complaints.append("the file is shorter than it says")
    if complaints:
        rows.problems.append(cut(rows.name, number))


@contextmanager
def _complaints() -> Iterator[list[str]]:
    """What python-can logs meanwhile: it passes over parts it cannot read with a log line only."""
    heard: list[str] = []

    class Ear(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            heard.append(record.getMessage())

    ear = Ear(logging.WARNING)
    logger = logging.getLogger("can.io")
    logger.addHandler(ear)
    try:
        yield heard
    finally:
        logger.removeHandler(ear)


def _take(message: Message, line: int, text: str, rows: Rows) -> None:
    data = bytes(message.data)
    ident = message.arbitration_id
    if message.is_error_frame:
        rows.flaw(line, "bus error", text)
    elif message.is_remote_frame:
        rows.counts["remote frames"] += 1
    elif message.is_fd:
        rows.counts["CAN FD frames"] += 1
    elif not 0 <= ident <= (_LARGEST if message.is_extended_id else 0x7FF):
        rows.flaw(line, "unreadable", text)
    elif len(data) > 8 or len(data) != message.dlc:
        rows.flaw(line, "length", text)
    else:
        time_s = message.timestamp
        if not math.isfinite(time_s):
            rows.flaw(line, "no time", text)
            time_s = rows.frames[-1].time_s if rows.frames else 0.0
        rows.take(time_s, ident, data, line, extended=message.is_extended_id)
