"""The pages in front of the sheets: lists of jobs and books, and starting a job."""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.shop.demo import BOOKS, JOBS, book_text
from backprobe.shop.history import Listed, Machine, jobs_found, machines_found, seen_before
from backprobe.shop.recordings import listen
from backprobe.shop.say.forms import FORMS
from backprobe.shop.shelf import books_found
from backprobe.shop.workshop import JobRow, Shop
from backprobe.web import starting
from backprobe.web.book_view import book_page
from backprobe.web.contexts import BookLink, DemoLink, Oops
from backprobe.web.desk import Desk
from backprobe.web.list_contexts import (
    BooksPage,
    GuidePage,
    JobLink,
    JobsPage,
    MachinesPage,
    MachineView,
)
from backprobe.web.once import ONCE
from backprobe.web.render import page
from backprobe.web.start_contexts import SeenView
from backprobe.web.views import fresh_mark, see_other, texts_of

MOST_FIELDS: Final = 250
SHOWN: Final = 30
"""Lines of a list; the others are found by searching."""
JOB: Final = re.compile(r"J-[0-9]{4,9}")
MARKS: Final = 200
"""Forms remembered, so that one sent twice starts one job."""


@dataclass(frozen=True, slots=True)
class FrontViews:
    """The front pages of one shop."""

    shop: Shop
    desk: Desk
    started: OrderedDict[str, str] = field(default_factory=OrderedDict)

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
            books=self._books("")[:SHOWN],
            demos=tuple(
                DemoLink(name=job.name, title=job.title, complaint=job.complaint) for job in JOBS
            ),
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
            return page("book.html", book_page(name, self.shop.book(name), problems))

        return await run_in_threadpool(read)

    # -------------------------------------------------------------- starting a job

    async def demo(self, request: Request) -> Response:
        """Start a demo job and open it."""
        name = request.path_params["name"]
        found = next((job for job in JOBS if job.name == name), None)
        if found is None:
            raise HTTPException(404, "There is no such demo job.")

        def begin() -> str:
            self._have(found.book)
            return self.shop.start_job(
                found.book,
                found.complaint,
                serial=found.serial,
                hours=found.hours,
                findings=found.arrival,
            )

        return see_other(f"/job/{await run_in_threadpool(begin)}")

    async def start(self, request: Request) -> Response:
        """The form that starts a job on a book, and what it sends."""
        name = request.path_params["book"]
        if request.method != "POST":
            # from the list of machines: which one it is
            serial = request.query_params.get("serial", "")[:80]
            return await run_in_threadpool(self._form, name, {"serial": serial}, {})
        async with request.form(max_files=1, max_fields=MOST_FIELDS) as form:
            typed, recording = texts_of(form), await _recording(form)
        return await run_in_threadpool(self._begin, name, typed, recording)

    def _begin(self, name: str, typed: dict[str, str], recording: tuple[str, bytes]) -> Response:
        book = self._book(name)
        if recording[1]:
            heard = listen(recording[1], recording[0])
            filled, lines, problems = starting.with_recording(book, typed, heard)
            return self._form(name, filled, {"recording": problems}, lines)
        read = starting.read_start(name, book, typed)
        if isinstance(read, dict):
            return self._form(name, typed, read)
        mark = typed.get("once", "")
        if mark not in self.started or not ONCE.fullmatch(mark):
            self._have(name)
            self.started[mark] = self.shop.start_job(
                name,
                read.complaint,
                machine=read.machine,
                serial=read.serial,
                hours=read.hours,
                findings=read.findings,
            )
            while len(self.started) > MARKS:
                self.started.popitem(last=False)
        return see_other(f"/job/{self.started[mark]}")

    def _form(
        self,
        name: str,
        typed: Mapping[str, str],
        wrong: Mapping[str, tuple[Oops, ...]],
        recording: tuple[str, ...] = (),
    ) -> Response:
        book = self._book(name)
        if name in self.shop.books():
            self.desk.begin(self.shop, name)
        machine = typed.get("machine", "") if name == starting.NO_BOOK else book.machine.name
        seen = seen_before(self.shop, machine, typed.get("serial", ""))
        context = starting.start_page(
            name,
            book,
            typed,
            fresh_mark(),
            wrong,
            seen=[
                SeenView(
                    ident=one.row.id,
                    cause=one.closed.cause,
                    facts=facts_of(one.row),
                    same=one.same,
                )
                for one in seen
            ],
            recording=recording,
        )
        return page("start.html", context, 422 if any(wrong.values()) else 200)

    def _book(self, name: str) -> Book:
        """A book of this shop, or the general one for a machine without a book."""
        if name in self.shop.books():
            return self.shop.book(name)
        general, _ = read_book(book_text(name), name) if name == starting.NO_BOOK else (None, ())
        if general is None:
            raise HTTPException(404, f"There is no wiring book “{name[:60]}” in this shop.")
        return general

    def _have(self, name: str) -> None:
        """Put a book that comes along into the shop when it is not there yet."""
        if name in BOOKS and name not in self.shop.books():
            self.shop.add_book(name, book_text(name))


async def _recording(form: FormData) -> tuple[str, bytes]:
    """Name and content of the recording sent along, ("", b"") when there is none."""
    sent = form.get("recording")
    if not isinstance(sent, UploadFile):
        return "", b""
    # the name is only shown, and tells the format by its ending; nothing is written under it
    return (sent.filename or "recording")[-80:], await sent.read()


def facts_of(row: JobRow) -> str:
    """Serial and hours of a job, in a line."""
    facts = [f"serial {row.serial}"] if row.serial else []
    if row.hours is not None:
        facts.append(f"{row.hours:g} h")
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
        hours="" if hours is None else f"{hours:g} h",
        jobs=tuple(_job_link(one) for one in machine.jobs),
    )
