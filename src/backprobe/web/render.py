"""Templates into responses."""

from __future__ import annotations

from functools import lru_cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from backprobe.web.contexts import RefusalPage
from backprobe.web.sun import here, in_the_sun


@lru_cache(maxsize=1)
def templates() -> Environment:
    """The templates of this package; everything a person typed is escaped."""
    made = Environment(
        loader=PackageLoader("backprobe.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["coded"] = coded
    made.globals.update(here=here, in_the_sun=in_the_sun)
    return made


def coded(words: str) -> Markup:
    """Words with what stands between backticks set as it is typed."""
    return Markup("").join(
        Markup("<code>{}</code>").format(part) if number % 2 else escape(part)
        for number, part in enumerate(words.split("`"))
    )


def page(template: str, context: object, status: int = 200) -> HTMLResponse:
    """A page; the template sees its context as `page`."""
    text = templates().get_template(template).render(page=context)
    return HTMLResponse(text, status, headers={"vary": "HX-Request"})


def refusal(status: int, what: str, remedy: str) -> Response:
    """A page that says why not, and what to do."""
    return page("refusal.html", RefusalPage(status=status, what=what, remedy=remedy), status)


def swaps(request: Request) -> bool:
    """Whether the browser asks for the sheet alone, to put it into a page it already shows."""
    headers = request.headers
    return "hx-request" in headers and "hx-history-restore-request" not in headers
