"""What the shop's jobs say about a machine, or about machines of its type."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from backprobe.findings.fold import stand
from backprobe.findings.model import AnyFinding, Closed
from backprobe.jobs import JobRow
from backprobe.shop.workshop import Shop

MOST: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A job: its head, what was found (None while it is open), and whether it was this very
    machine."""

    row: JobRow
    closed: Closed | None
    same: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A job of a list: its head, and how it was closed (None while it is open)."""

    row: JobRow
    closed: Closed | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """One machine and its jobs, newest first. Jobs without a serial number are one machine of
    their type: which one is not known."""

    name: str
    serial: str
    jobs: tuple[Listed, ...]


def jobs_found(shop: Shop, wanted: str = "") -> tuple[Listed, ...]:
    """Jobs, newest first, in which every word of `wanted` occurs: in id, machine, serial number,
    complaint or cause."""
    sought = wanted.casefold().split()
    found = (
        Listed(row=row, closed=closed_of(shop.findings(row.id))) for row in reversed(shop.jobs())
    )
    return tuple(one for one in found if all(word in _all_words(one) for word in sought))


def machines_found(shop: Shop, wanted: str = "") -> tuple[Machine, ...]:
    """Machines with a job in which every word of `wanted` occurs, the latest worked on first."""
    by_machine: dict[tuple[str, str], list[Listed]] = {}
    for one in jobs_found(shop, wanted):
        by_machine.setdefault((one.row.machine, one.row.serial), []).append(one)
    return tuple(
        Machine(name=name, serial=serial, jobs=tuple(jobs))
        for (name, serial), jobs in by_machine.items()
    )


def _all_words(one: Listed) -> str:
    row = one.row
    cause = one.closed.cause if one.closed else ""
    return f"{row.id} {row.machine} {row.serial} {row.complaint} {cause}".casefold()


def closed_of(findings: Sequence[AnyFinding]) -> Closed | None:
    """How a job was closed; None while it is open. Whatever is noted afterwards opens it again."""
    standing = stand(findings)
    last = standing[-1] if standing else None
    return last if isinstance(last, Closed) else None


def seen_before(shop: Shop, machine: str, serial: str = "", most: int = MOST) -> tuple[Seen, ...]:
    """Jobs on the machine with this serial number, the open ones first, then on others of its type,
    the closed ones first; each newest first. A job closed without a cause says nothing and is left
    out."""
    wanted, type_of = serial.strip().casefold(), machine.strip().casefold()
    found: list[Seen] = []
    for row in reversed(shop.jobs()):
        if row.machine.strip().casefold() != type_of:
            continue
        closed = closed_of(shop.findings(row.id))
        if closed is None or closed.cause:
            same = bool(wanted) and row.serial.strip().casefold() == wanted
            found.append(Seen(row=row, closed=closed, same=same))
    return tuple(sorted(found, key=lambda s: (not s.same, s.same != (s.closed is None)))[:most])
