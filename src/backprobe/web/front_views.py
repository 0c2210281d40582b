"""The pages in front of the sheets: lists of jobs, of machines and of books."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from backprobe.book import read_book
from backprobe.shop.demo import JOBS
from backprobe.shop.history import Listed, Machine, jobs_found, machines_found
from backprobe.shop.say.forms import FORMS
from backprobe.shop.shelf import books_found
from backprobe.shop.workshop import JobRow, Shop
from backprobe.web.book_view import book_page
from backprobe.web.contexts import BookLink, DemoLink
from backprobe.web.list_contexts import (
    BooksPage,
    GuidePage,
    JobLink,
    JobsPage,
    MachinesPage,
    MachineView,
)
from backprobe.web.render import page
from backprobe.web.starting import NO_BOOK
from backprobe.web.views import fresh_mark

SHOWN: Final = 30
"""Lines of a list; the others are found by searching."""
JOB: Final = re.compile(r"J-[0-9]{4,9}")


@dataclass(frozen=True, slots=True)
class FrontViews:
    """The front pages of one shop."""

    shop: Shop

    # -------------------------------------------------------------- lists

    async def jobs(self, request: Request) -> Response:
        """Jobs, newest first, and the ways to start one."""
        return await run_in_threadpool(self._jobs, _wanted(request))

    def _jobs(self, wanted: str) -> Response:
        found = jobs_found(self.shop, wanted)
        context = JobsPage(
            tab="jobs",
            wanted=wanted,
            jobs=tuple(_job_link(one) for one in found[:SHOWN]),
            more=max(len(found) - SHOWN, 0),
            books=tuple(one for one in self._books("") if one.name != NO_BOOK)[:SHOWN],
            demos=tuple(
                DemoLink(name=job.name, title=job.title, complaint=job.complaint) for job in JOBS
            ),
            once=fresh_mark(),
        )
        return page("jobs.html", context)

    async def guide(self, request: Request) -> Response:
        """How a job goes, with pictures; and the way back to the sheet it was opened from."""
        job = request.query_params.get("job", "")
        return page("guide.html", GuidePage(job=job if JOB.fullmatch(job) else "", forms=FORMS))

    async def machines(self, request: Request) -> Response:
        """Machines that were worked on, with their jobs."""
        return await run_in_threadpool(self._machines, _wanted(request))

    def _machines(self, wanted: str) -> Response:
        found = machines_found(self.shop, wanted)
        context = MachinesPage(
            tab="machines",
            wanted=wanted,
            machines=tuple(
                _machine_view(one, self.shop.book_name(one.jobs[0].row.book_digest))
                for one in found[:SHOWN]
            ),
            more=max(len(found) - SHOWN, 0),
        )
        return page("machines.html", context)

    async def books(self, request: Request) -> Response:
        """Wiring books, to be looked at or to start a job on."""
        wanted = _wanted(request)

        def lay_out() -> Response:
            found = self._books(wanted)
            context = BooksPage(
                tab="books",
                wanted=wanted,
                books=found[:SHOWN],
                more=max(len(found) - SHOWN, 0),
            )
            return page("books.html", context)

        return await run_in_threadpool(lay_out)

    def _books(self, wanted: str) -> tuple[BookLink, ...]:
        return tuple(
            BookLink(
                name=one.name, machine=one.machine, size=f"{one.parts} parts, {one.wires} wires"
            )
            for one in books_found(self.shop, wanted)
        )

    async def book(self, request: Request) -> Response:
        """What is wrong with a wiring book and what was assumed."""
        name = request.path_params["book"]

        def read() -> Response:
            if name not in self.shop.books():
                raise HTTPException(404, f"There is no wiring book “{name[:60]}” in this shop.")
            _, problems = read_book(self.shop.book_text(name), name)
            problems = (*problems, *self.shop.as_written(name))
            return page("book.html", book_page(name, self.shop.book(name), problems))

        return await run_in_threadpool(read)


def facts_of(row: JobRow) -> str:
    """Serial and hours of a job, in a line."""
    facts = [f"serial {row.serial}"] if row.serial else []
    if row.hours is not None:
        facts.append(f"{row.hours:g}\u00a0h")
    return ", ".join(facts)


def _wanted(request: Request) -> str:
    """What is searched for, blanks squeezed."""
    return " ".join(request.query_params.get("q", "").split())[:80]


def _job_link(one: Listed) -> JobLink:
    return JobLink(
        ident=one.row.id,
        machine=one.row.machine,
        facts=facts_of(one.row),
        complaint=one.row.complaint,
        closed=one.closed is not None,
        cause=one.closed.cause if one.closed else "",
    )


def _machine_view(machine: Machine, book: str) -> MachineView:
    hours = next((one.row.hours for one in machine.jobs if one.row.hours is not None), None)
    return MachineView(
        name=machine.name,
        serial=machine.serial,
        start=f"/start/{quote(book)}?{urlencode({'serial': machine.serial})}" if book else "",
        hours="" if hours is None else f"{hours:g}\u00a0h",
        jobs=tuple(_job_link(one) for one in machine.jobs),
    )
