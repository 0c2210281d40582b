"""Static files. Our own styles and scripts go out without indentation and comments: a phone beside the
machine pays for every byte, and they are written to be read."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

KINDS = {".css": "text/css", ".js": "text/javascript"}


def lean(text: str) -> str:
    """Lines without indentation, blank lines and lines that are a comment alone."""
    lines = (line.strip() for line in text.splitlines())
    return "\n".join(
        line
        for line in lines
        if line and not line.startswith("//") and not (line[:2] == "/*" and line[-2:] == "*/")
    )


def lean_style(text: str) -> str:
    """The same, without blanks around the signs that part rules; none of our styles has such a sign
    in quotes."""
    return re.sub(r"\s*([{};,])\s*", r"\1", lean(text))


class Assets(StaticFiles):
    """A folder of static files."""

    def __init__(self, folder: Path) -> None:
        super().__init__(directory=folder)
        self.own = {
            path.name: (
                (lean_style if path.suffix == ".css" else lean)(
                    path.read_text(encoding="utf-8")
                ).encode(),
                KINDS[path.suffix],
            )
            for path in folder.iterdir()
            if path.suffix in KINDS and ".min." not in path.name
        }

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file, or that the browser has it already."""
        if path not in self.own or scope["method"] not in ("GET", "HEAD"):
            return await super().get_response(path, scope)
        body, kind = self.own[path]
        tag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
        headers = {"etag": tag}
        if tag in Headers(scope=scope).get("if-none-match", ""):
            return Response(status_code=304, headers=headers)
        return Response(body, media_type=kind, headers=headers)
