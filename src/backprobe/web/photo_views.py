"""Photos of a job: taking one in, showing it."""

from __future__ import annotations

import re
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from backprobe.base.problems import Problem
from backprobe.findings.fold import stand
from backprobe.findings.model import Photo
from backprobe.shop.outlook import state_of
from backprobe.shop.photos import cleaned
from backprobe.web.codes import oops_of
from backprobe.web.contexts import Oops
from backprobe.web.views import Views, texts_of

DIGEST: Final = re.compile(r"[0-9a-f]{64}")
LONGEST: Final = 200
NO_PHOTO: Final = Oops(
    what="No photo was chosen.", remedy="Choose one, or take one with the phone's camera."
)


class PhotoViews(Views):
    """The photos of the jobs of one shop."""

    async def take(self, request: Request) -> Response:
        """A photo for the job or one of its findings: checked, made small and bare, kept."""
        card = await self._card(request)
        async with request.form(max_files=1, max_fields=10) as form:
            typed, sent = texts_of(form), form.get("photo")
            data = await sent.read() if isinstance(sent, UploadFile) else b""
        if not data:
            return await self._wrong(request, card, photo=NO_PHOTO)
        jpeg = await run_in_threadpool(cleaned, data)
        if isinstance(jpeg, Problem):
            return await self._wrong(request, card, photo=oops_of(jpeg))
        digest = await run_in_threadpool(self.shop.add_photo, jpeg)
        state = state_of(card.job.book, card.job.findings)
        of = typed.get("of", "")
        photo = Photo(
            visit=state.visit,
            situation=state.now.bare(),
            digest=digest,
            of=of if any(finding.id == of for finding in state.findings) else "",
            words=" ".join(typed.get("words", "").split())[:LONGEST],
        )
        return await self._note(request, card, typed, (photo,))

    async def photo(self, request: Request) -> Response:
        """One photo of a job; one that was taken back is not shown."""
        card = await self._card(request)
        digest = request.path_params["digest"]
        known = {f.digest for f in stand(card.job.findings) if isinstance(f, Photo)}
        jpeg = (
            await run_in_threadpool(self.shop.photo, digest)
            if DIGEST.fullmatch(digest) and digest in known
            else None
        )
        if jpeg is None:
            raise HTTPException(404, "There is no such photo on this job.")
        return Response(
            jpeg, media_type="image/jpeg", headers={"cache-control": "private, max-age=86400"}
        )
