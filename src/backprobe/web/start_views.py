"""Starting a job: the form, what it sends, and the demo jobs."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from threading import Lock
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.shop.demo import BOOKS, JOBS, book_text
from backprobe.shop.history import seen_before
from backprobe.shop.recordings import listen
from backprobe.shop.workshop import Shop
from backprobe.web import intake_photos, starting
from backprobe.web.contexts import Oops
from backprobe.web.desk import Desk
from backprobe.web.front_views import facts_of
from backprobe.web.gate import MOST_RECORDING
from backprobe.web.once import ONCE
from backprobe.web.render import page
from backprobe.web.start_contexts import AskedPart, SeenView
from backprobe.web.views import form_of, fresh_mark, see_other, texts_of

MOST_FIELDS: Final = 250
MARKS: Final = 200
"""Forms remembered, so that one sent twice starts one job."""
TOO_LONG: Final = Oops(
    what=f"This recording is larger than {MOST_RECORDING // 2**20} MB.",
    remedy="Send a shorter piece of it, from the time of the failure.",
)


@dataclass(frozen=True, slots=True)
class StartViews:
    """The start of the jobs of one shop."""

    shop: Shop
    desk: Desk
    started: OrderedDict[str, str] = field(default_factory=OrderedDict)
    starting: Lock = field(default_factory=Lock)

    async def demo(self, request: Request) -> Response:
        """Start a demo job and open it."""
        name = request.path_params["name"]
        found = next((job for job in JOBS if job.name == name), None)
        if found is None:
            raise HTTPException(404, "There is no such demo job.")
        mark = (await form_of(request)).get("once", "")

        def begin() -> str:
            self._have(found.book)
            return self.shop.start_job(
                found.book,
                found.complaint,
                serial=found.serial,
                hours=found.hours,
                findings=found.arrival,
            )

        mark = f"{mark}-{name}" if mark else ""
        return see_other(f"/job/{await run_in_threadpool(self._once, mark, begin)}")

    async def start(self, request: Request) -> Response:
        """The form that starts a job on a book, and what it sends."""
        name = request.path_params["book"]
        if request.method != "POST":
            # from the list of machines: which one it is
            serial = request.query_params.get("serial", "")[:80]
            return await run_in_threadpool(self._form, name, {"serial": serial}, {})
        files = 1 + intake_photos.PHOTOS
        async with request.form(max_files=files, max_fields=MOST_FIELDS) as form:
            typed, recording = texts_of(form), await _recording(form)
            photos = await intake_photos.sent(form)
        return await run_in_threadpool(self._begin, name, typed, recording, photos)

    async def ask(self, request: Request) -> Response:
        """For what was typed so far: the questions worth asking, and jobs on such a machine."""
        name = request.path_params["book"]
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            typed = texts_of(form)

        def lay_out() -> Response:
            book = self._book(name)
            works = starting.works_asked(book, typed)
            seen = self._seen(name, book, typed)
            return page("asked_part.html", AskedPart(book=name, works=works, seen=seen))

        return await run_in_threadpool(lay_out)

    def _begin(
        self,
        name: str,
        typed: dict[str, str],
        recording: tuple[str, bytes],
        photos: Mapping[str, bytes],
    ) -> Response:
        book = self._book(name)
        typed, wrong = intake_photos.kept(typed, photos, self.shop.add_photo)
        if len(recording[1]) > MOST_RECORDING:
            return self._form(name, typed, wrong | {"recording": (TOO_LONG,)})
        if recording[1]:
            heard = listen(recording[1], recording[0])
            filled, lines, problems = starting.with_recording(book, typed, heard)
            return self._form(name, filled, wrong | {"recording": problems}, lines)
        read = starting.read_start(name, book, typed)
        if isinstance(read, dict) or wrong:
            return self._form(name, typed, wrong | (read if isinstance(read, dict) else {}))

        def begin() -> str:
            self._have(name)
            job = self.shop.start_job(
                name,
                read.complaint,
                machine=read.machine,
                serial=read.serial,
                hours=read.hours,
                findings=read.findings,
            )
            owners = starting.photo_owners(book, starting.works_asked(book, typed))
            taken = intake_photos.taken(typed, owners, self.shop.photo)
            self.shop.note(job, *intake_photos.findings_with(taken, self.shop.findings(job)))
            return job

        return see_other(f"/job/{self._once(typed.get('once', ''), begin)}")

    def _once(self, mark: str, begin: Callable[[], str]) -> str:
        """The job a form starts. One that was sent before, if only a moment ago, starts no other."""
        if not ONCE.fullmatch(mark):
            return begin()
        with self.starting:
            if mark not in self.started:
                self.started[mark] = begin()
            while len(self.started) > MARKS:
                self.started.popitem(last=False)
            return self.started[mark]

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
        context = starting.start_page(
            name,
            book,
            typed,
            fresh_mark(),
            wrong,
            seen=self._seen(name, book, typed),
            recording=recording,
        )
        return page("start.html", context, 422 if any(wrong.values()) else 200)

    def _seen(self, name: str, book: Book, typed: Mapping[str, str]) -> tuple[SeenView, ...]:
        machine = typed.get("machine", "") if name == starting.NO_BOOK else book.machine.name
        return tuple(
            SeenView(
                ident=one.row.id,
                words=one.closed.cause if one.closed else one.row.complaint,
                facts=facts_of(one.row),
                open=one.closed is None,
                same=one.same,
            )
            for one in seen_before(self.shop, machine, typed.get("serial", ""))
        )

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
