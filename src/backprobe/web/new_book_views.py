"""Adding a wiring book: typed, pasted or sent as a file, proofread, and kept when that is pressed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from backprobe.checks.wording import listed
from backprobe.shop.new_book import Proofread, proofread
from backprobe.shop.shelf import books_found
from backprobe.shop.workshop import Shop
from backprobe.web.book_contexts import NewBookPage
from backprobe.web.book_view import assumed_views, problem_view, size_of
from backprobe.web.gate import MOST_BOOK
from backprobe.web.render import page
from backprobe.web.views import see_other, texts_of

MOST_FIELDS: Final = 8
WEIGHTS: Final = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class NewBookViews:
    """The page that adds a wiring book to a shop."""

    shop: Shop

    async def add(self, request: Request) -> Response:
        """The form, and what it sends: to be proofread, or, once that was read, to be kept."""
        if request.method != "POST":
            return page("new_book.html", NewBookPage())
        sent = request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=MOST_BOOK)
        async with sent as form:
            typed, file = texts_of(form), form.get("file")
            data = await file.read() if isinstance(file, UploadFile) else b""
            stem = (file.filename or "").rpartition(".")[0] if isinstance(file, UploadFile) else ""
        name = typed.get("name", "").strip() or (stem if data else "")
        content = data or typed.get("text", "")
        wanted = "" if data else typed.get("keep", "")
        return await run_in_threadpool(self._read, name, content, wanted, typed.get("over", ""))

    def _read(self, name: str, content: str | bytes, wanted: str, over: str) -> Response:
        """Kept only as it was proofread, in place of what stood there then."""
        read = proofread(self.shop, name, content)
        if read.book is not None and wanted == read.digest and over == read.replaces:
            self.shop.add_book(read.name, read.text)
            return see_other(f"/book/{quote(read.name, safe='')}")
        return page("new_book.html", self._page(read), 200 if read.book else 422)

    def _page(self, read: Proofread) -> NewBookPage:
        before = next((one for one in books_found(self.shop) if one.name == read.name), None)
        counts = [(sum(p.weight == weight for p in read.problems), weight) for weight in WEIGHTS]
        found = listed([f"{n} {weight}{'s' if n > 1 else ''}" for n, weight in counts if n])
        book = read.book
        return NewBookPage(
            name=read.name,
            text=read.text,
            said=f"It cannot be used yet: {found}. Nothing was kept."
            if book is None
            else f"It reads: {book.machine.name}, {size_of(book)}; {found or 'no problems'}.",
            usable=book is not None,
            problems=tuple(problem_view(problem) for problem in read.problems),
            assumed=assumed_views(book) if book else (),
            digest=read.digest,
            over=read.replaces,
            replaces=f"{before.machine}, {before.parts} parts, {before.wires} wires"
            if read.replaces and before
            else "",
            alike=listed(read.alike),
        )
