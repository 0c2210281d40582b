"""Frames put together to messages: the transport protocol of SAE J1939-21.

A message of 9 to 1785 bytes is announced to all (BAM) or to one (RTS), then sent in numbered
packets of 7 bytes. To all, packets come once and in order; to one, the receiver may ask again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from backprobe.logs.identifier import EVERYONE, decode_identifier
from backprobe.logs.recording import Frame

CONNECTION = 60416
DATA = 60160
_RTS, _CTS, _END, _BAM, _ABORT = 16, 17, 19, 32, 255
_LONGEST = 1785


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message of any length. `line` and `time_s` are those of its last frame."""

    time_s: float
    line: int
    pgn: int
    source: int
    destination: int
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A long message that could not be put together, and why."""

    time_s: float
    line: int
    pgn: int
    source: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Messages:
    """All messages in the order they were complete, and the broken ones."""

    messages: tuple[Message, ...] = ()
    broken: tuple[Broken, ...] = ()


@dataclass(slots=True)
class _Session:
    start: Frame
    pgn: int
    source: int
    destination: int
    size: int
    packets: int
    got: dict[int, bytes] = field(default_factory=dict)
    last: int = 0


class _Assembly:
    def __init__(self) -> None:
        self.messages: list[Message] = []
        self.broken: list[Broken] = []
        self.open: dict[tuple[int, int], _Session] = {}

    def control(self, frame: Frame, source: int, destination: int) -> None:
        data = frame.data
        if len(data) < 8:
            return
        pgn = int.from_bytes(data[5:8], "little") & 0x3FFFF
        if data[0] in {_BAM, _RTS}:
            self._begin(frame, source, EVERYONE if data[0] == _BAM else destination, pgn)
        elif data[0] == _ABORT:
            # either side may break the connection off
            for key in ((source, destination), (destination, source)):
                session = self.open.get(key)
                if session and session.pgn == pgn:
                    self._fail(key, frame, "it was broken off")

    def _begin(self, frame: Frame, source: int, destination: int, pgn: int) -> None:
        key = (source, destination)
        if key in self.open:
            self._fail(key, frame, "a second message began before it ended")
        size, packets = int.from_bytes(frame.data[1:3], "little"), frame.data[3]
        session = _Session(frame, pgn, source, destination, size, packets)
        self.open[key] = session
        if not 9 <= size <= _LONGEST or packets != -(-size // 7):
            self._fail(key, frame, f"it announces {size} bytes in {packets} packets")

    def packet(self, frame: Frame, source: int, destination: int) -> None:
        key = (source, destination)
        session = self.open.get(key)
        if session is None or not frame.data:
            return
        number, payload = frame.data[0], frame.data[1:8]
        if session.got.get(number) == payload and number == session.last:
            return  # CAN itself may repeat a frame
        if not 1 <= number <= session.packets:
            self._fail(key, frame, f"packet {number} of {session.packets} came")
            return
        if destination == EVERYONE and number != session.last + 1:
            next_one = session.last + 1
            what = "is missing" if number > next_one else "came twice"
            why = f"packet {min(number, next_one)} of {session.packets} {what}"
            self._fail(key, frame, why)
            return
        needed = min(7, session.size - 7 * (number - 1))
        if len(payload) < needed:
            self._fail(key, frame, f"packet {number} of {session.packets} is cut short")
            return
        session.got[number] = payload
        session.last = number
        if len(session.got) == session.packets:
            data = b"".join(session.got[n] for n in range(1, session.packets + 1))
            self.messages.append(
                Message(
                    time_s=frame.time_s,
                    line=frame.line,
                    pgn=session.pgn,
                    source=source,
                    destination=destination,
                    data=data[: session.size],
                )
            )
            del self.open[key]

    def end(self) -> None:
        for key, session in list(self.open.items()):
            missing = next(n for n in range(1, session.packets + 1) if n not in session.got)
            why = f"packet {missing} of {session.packets} had not come when the recording ended"
            self._fail(key, session.start, why)

    def _fail(self, key: tuple[int, int], at: Frame, why: str) -> None:
        session = self.open.pop(key)
        self.broken.append(
            Broken(time_s=at.time_s, line=at.line, pgn=session.pgn, source=session.source, why=why)
        )


def assemble(frames: Iterable[Frame]) -> Messages:
    """Every J1939 message in the frames, short and long; 11-bit frames are left out."""
    assembly = _Assembly()
    for frame in frames:
        fields = decode_identifier(frame.id) if frame.extended else None
        if fields is None:
            continue
        if fields.pgn == CONNECTION:
            assembly.control(frame, fields.source, fields.destination)
        elif fields.pgn == DATA:
            assembly.packet(frame, fields.source, fields.destination)
        else:
            assembly.messages.append(
                Message(
                    time_s=frame.time_s,
                    line=frame.line,
                    pgn=fields.pgn,
                    source=fields.source,
                    destination=fields.destination,
                    data=frame.data,
                )
            )
    assembly.end()
    return Messages(messages=tuple(assembly.messages), broken=tuple(assembly.broken))
