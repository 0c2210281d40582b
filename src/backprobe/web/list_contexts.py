"""What the lists of jobs, machines and books show, as frozen data."""

from __future__ import annotations

from dataclasses import dataclass

from backprobe.shop.say.forms import Form
from backprobe.web.contexts import BookLink, DemoLink


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLink:
    """A job in a list. `cause`: of a closed one; `closed`: it is closed."""

    ident: str
    machine: str
    facts: str
    complaint: str
    closed: bool
    cause: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobsPage:
    """The list of jobs and the ways to start one. `wanted`: what was searched for; `more`: jobs
    that are found and not shown; `once`: the mark of its forms."""

    tab: str
    wanted: str
    jobs: tuple[JobLink, ...]
    more: int
    books: tuple[BookLink, ...]
    demos: tuple[DemoLink, ...]
    once: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineView:
    """A machine with its jobs, newest first. `start`: where a new job on it begins."""

    name: str
    serial: str
    start: str
    hours: str
    jobs: tuple[JobLink, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinesPage:
    """Machines that were worked on, the latest first."""

    tab: str
    wanted: str
    machines: tuple[MachineView, ...]
    more: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidePage:
    """The guide. `job`: the sheet it was opened from, "" for none; `forms`: what can be typed."""

    job: str
    forms: tuple[Form, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BooksPage:
    """Wiring books, by the name of the machine."""

    tab: str
    wanted: str
    books: tuple[BookLink, ...]
    more: int
