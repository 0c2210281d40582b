"""What trouble codes a recording shows, unit by unit, and as findings for a job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from backprobe.book.situations import Situation
from backprobe.findings.model import CodesFound
from backprobe.logs.parameters import values
from backprobe.logs.recording import Recording
from backprobe.logs.transport import Broken, Message, assemble
from backprobe.logs.trouble import DM1, DM2, Code, Lamps, decode_trouble

# judgement: above a starter's speed (about 200 rpm), below any idle
_RUNNING_RPM = 400.0
TOGETHER_S = 2.0
"""Codes this close in time came together: units send their list once a second (J1939-73, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeSeen:
    """One code of one unit over the recording. `messages`: how many lists had it; `at_end`: the
    unit's last list still has it; `count`: as last sent, None when not counted."""

    code: str
    first_s: float
    last_s: float
    messages: int
    at_end: bool
    count: int | None
    may_also_be: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitCodes:
    """The lists of one source. `active` and `stored` in the order they first came.

    `lists` counts its DM1 messages: 0 = it only sent stored codes. `lamps` as last sent.
    `doubts`: why the lists may not be all.
    """

    source: int
    lists: int
    lamps: Lamps
    active: tuple[CodeSeen, ...] = ()
    stored: tuple[CodeSeen, ...] = ()
    doubts: tuple[str, ...] = ()


@dataclass(slots=True)
class _Seen:
    code: Code
    first_s: float
    last_s: float
    messages: int = 0
    at_end: bool = True


@dataclass(slots=True)
class _Unit:
    lists: int = 0
    lamps: Lamps = field(default_factory=Lamps)
    seen: dict[int, dict[str, _Seen]] = field(default_factory=lambda: {DM1: {}, DM2: {}})
    doubts: list[str] = field(default_factory=list)

    def take(self, message: Message) -> None:
        trouble = decode_trouble(message.data)
        if trouble.doubt:
            self.doubts.append(f"line {message.line}: {trouble.doubt}")
        if message.pgn == DM1:
            self.lists += 1
            self.lamps = trouble.lamps
        seen = self.seen[message.pgn]
        for old in seen.values():
            old.at_end = False
        for code in trouble.codes:
            one = seen.setdefault(code.name, _Seen(code, message.time_s, message.time_s))
            one.code, one.at_end = code, True
            one.first_s, one.last_s = (
                min(one.first_s, message.time_s),
                max(one.last_s, message.time_s),
            )
            one.messages += 1


def active_codes(recording: Recording) -> tuple[UnitCodes, ...]:
    """Every source that sent a code list (DM1 or DM2), an empty one too, by source address.

    A source that sent none is left out: silence is not an empty list.
    """
    together = assemble(recording.frames)
    units: dict[int, _Unit] = {}
    for message in together.messages:
        if message.pgn in {DM1, DM2}:
            units.setdefault(message.source, _Unit()).take(message)
    for broken in together.broken:
        if broken.pgn in {DM1, DM2}:
            units.setdefault(broken.source, _Unit()).doubts.append(_words(broken))
    return tuple(
        UnitCodes(
            source=source,
            lists=unit.lists,
            lamps=unit.lamps,
            active=_seen(unit.seen[DM1].values()),
            stored=_seen(unit.seen[DM2].values()),
            doubts=tuple(unit.doubts),
        )
        for source, unit in sorted(units.items())
    )


def codes_found(
    recording: Recording,
    unit_of_source: Mapping[int, str],
    *,
    situation: Situation | None = None,
    visit: int = 1,
    at_s: float = 0.0,
) -> tuple[CodesFound, ...]:
    """One finding for each known unit that sent a list of active codes.

    `unit_of_source`: source address -> the unit's name in the wiring book. Codes that came and
    went during the recording count as active, and the note says so. `complete` only when every
    list of the unit could be read. Without `situation`: engine running when its speed says so,
    else key on.
    """
    if situation is None:
        situation = Situation(key="run" if _running(recording) else "on")
    found = []
    forward = _forward(recording)
    for unit in active_codes(recording):
        name = unit_of_source.get(unit.source)
        if name is None or not unit.lists:
            continue
        active = tuple(seen.code for seen in unit.active)
        stored = [seen for seen in unit.stored if seen.code not in active]
        found.append(
            CodesFound(
                visit=visit,
                at_s=at_s,
                situation=situation,
                note=_note(recording.name, unit),
                unit=name,
                active=active,
                stored=tuple(seen.code for seen in stored),
                counts=_counts((*unit.active, *stored)),
                first=_first(unit.active) if forward else (),
                complete=not unit.doubts,
            )
        )
    return tuple(found)


def _forward(recording: Recording) -> bool:
    """Whether the recorder's clock only went on: after it was set back nobody can tell what came first."""
    times = [frame.time_s for frame in recording.frames]
    return all(after > before - TOGETHER_S for before, after in pairwise(times))


def _counts(seen: Sequence[CodeSeen]) -> tuple[int, ...]:
    """How often each was counted; nothing where no unit counts."""
    counts = tuple(one.count or 0 for one in seen)
    return counts if any(counts) else ()


def _first(active: Sequence[CodeSeen]) -> tuple[str, ...]:
    """Active codes that were there before others came during the recording."""
    began = min((one.first_s for one in active), default=0.0)
    first = tuple(one.code for one in active if one.first_s < began + TOGETHER_S)
    return first if len(first) < len(active) else ()


def _seen(seen: Iterable[_Seen]) -> tuple[CodeSeen, ...]:
    return tuple(
        CodeSeen(
            code=one.code.name,
            first_s=one.first_s,
            last_s=one.last_s,
            messages=one.messages,
            at_end=one.at_end,
            count=one.code.count,
            may_also_be=tuple(f"{spn}/{one.code.fmi}" for spn in one.code.also()),
        )
        for one in seen
    )


def _words(broken: Broken) -> str:
    return f"line {broken.line}: a long list was lost, {broken.why}"


def _note(name: str, unit: UnitCodes) -> str:
    parts = [f"from {name}", unit.lamps.words()]
    gone = [seen.code for seen in unit.active if not seen.at_end]
    if gone:
        parts.append(f"gone at the end: {', '.join(gone)}")
    parts += [
        f"{seen.code} is packed the old way and may also be {' or '.join(seen.may_also_be)}"
        for seen in (*unit.active, *unit.stored)
        if seen.may_also_be
    ]
    return "; ".join((*parts, *unit.doubts))


def _running(recording: Recording) -> bool:
    speeds = [series.valid() for series in values(recording) if series.parameter.spn == 190]
    return any(speed >= _RUNNING_RPM for speed in (s for valid in speeds for s in valid[-1:]))
