"""Requests no browser would send, below the level of a client library: odd methods, paths that are
no text, headers that lie, bodies of any size. Never a server error, never a traceback, and what is
refused leaves nothing behind."""

from __future__ import annotations

import asyncio
import re
import socket
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from starlette.applications import Starlette
from starlette.routing import Route

from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from backprobe.web import views
from backprobe.web.app import make_app
from backprobe.web.gate import MOST_BYTES
from backprobe.web.sharing import Sharing
from web.browser_tools import served
from web.conftest import ARRIVAL, HERE, SMALL
from web.sheet_reader import words

HOST = HERE.removeprefix("http://").encode()
ODD = (
    "GET",
    "HEAD",
    "POST",
    "PUT",
    "PATCH",
    "DELETE",
    "OPTIONS",
    "TRACE",
    "PROPFIND",
    "get",
    "\x7f",
)
NAMES = (
    b"J-0001", b"J-0000", b"J-2", b"j-0001", b"J-0001%00", b"unplugged-sensor", b"..", b"%2e%2e",
    b"%2e%2e%2f%2e%2e%2fetc%2fpasswd", b"..%5c..", b"%ff%fe", b"%c3%28", b"%", b"%zz", b"%F0%9F%94%A7",
    b"a" * 3000, b"'; DROP TABLE jobs; --", b"${7*7}", b"con", b"~", b".",
)  # fmt: skip
BODIES = (
    b"", b"=", b"&&&", b"text", b"text=%ff%fe", b"text=%", b"\xff\xfe\x00", b"{}", b"[" * 5000,
    b"text=works+x&text=works+y", b"&".join(b"a%d=1" % n for n in range(400)),
    b"text=" + b"9" * (MOST_BYTES - 10), b"x" * (MOST_BYTES + 1), b"at=2&once=" + b"a" * 3000,
    b'--x\r\nContent-Disposition: form-data; name="text"; filename="../../x"\r\n\r\ny\r\n--x--\r\n',
    b'--x\r\nContent-Disposition: form-data; name="text"\r\n\r\n\xff\r\n--x--\r\n',
    b"--x\r\n\r\n", b"--x--", b"answer=gone&at=2&once=\xe2\x82",
)  # fmt: skip
SORTS = (
    b"application/x-www-form-urlencoded", b"application/x-www-form-urlencoded; charset=utf-16",
    b"multipart/form-data; boundary=x", b"multipart/form-data", b"multipart/form-data; boundary=",
    b"application/json", b"\xff\xff", b"text/html", b"", b"x" * 5000,
)  # fmt: skip
HEADERS = (
    (b"cookie", b"backprobe-device=x; =; \xff"), (b"cookie", b"a" * 9000),
    (b"hx-request", b"true"), (b"hx-request", b"\xff"), (b"range", b"bytes=9-2,-1"),
    (b"if-none-match", b"*"), (b"if-modified-since", b"yesterday"), (b"accept", b"\xff"),
    (b"content-length", b"-1"), (b"content-length", b"9" * 50), (b"content-length", b"\xb2"),
    (b"content-encoding", b"gzip"), (b"transfer-encoding", b"chunked, gzip"),
    (b"origin", b"http://[::1"), (b"origin", b"\xff"), (b"sec-fetch-site", b"cross-site"),
    (b"x-forwarded-for", b"127.0.0.1"), (b"expect", b"100-continue"),
)  # fmt: skip
QUERIES = (b"", b"since=2", b"since=-1", b"since=\xff", b"since=%ff&wait=1", b"&=&", b"at=" + b"9" * 400,
           b"since=" + "\u0663".encode(), b"as=%00", b"key=run&on=x&on=y", b"pin=%F0%9F%94%A7", b"x" * 5000)  # fmt: skip

junk = st.binary(max_size=40)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("junk") / "s.backprobe", clock=lambda: 1000.0)
    opened.add_book(SMALL, book_text(SMALL))
    opened.start_job(SMALL, "x", findings=ARRIVAL)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(views, "PATIENCE", 0.0)
        patch.setattr(views, "LONG_PATIENCE", 0.0)
        yield opened
    opened.close()


@pytest.fixture(scope="module")
def app(shop: Shop) -> Starlette:
    return make_app(shop)


def asked(
    app: Starlette,
    method: str,
    path: bytes,
    query: bytes,
    headers: list[Any],
    chunks: list[bytes],
    server: str = "127.0.0.1",
) -> tuple[int, bytes]:
    """Status and body of one request, handed to the application as a server would."""
    from urllib.parse import unquote_to_bytes

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
        "scheme": "http", "path": unquote_to_bytes(path).decode("utf-8", "replace"),
        "raw_path": path, "query_string": query, "root_path": "", "headers": headers,
        "client": ("127.0.0.1", 1), "server": (server, 8787),
    }  # fmt: skip
    sent: list[Any] = []
    coming = [
        {"type": "http.request", "body": part, "more_body": number < len(chunks) - 1}
        for number, part in enumerate(chunks)
    ]

    async def receive() -> Any:
        return coming.pop(0) if coming else {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        sent.append(message)

    asyncio.run(app(scope, receive, send))
    return sent[0]["status"], b"".join(m.get("body", b"") for m in sent)


def paths(app: Starlette) -> list[bytes]:
    """Every address of the application with one place for a name."""
    found = [route.path for route in app.routes if isinstance(route, Route)]
    bare = [re.sub(r"\{[^}]+\}", "@", path).encode() for path in found]
    return [*bare, b"/static/@", b"/static/../@", b"/@", b"//@/", b"*", b""]


def saved(shop: Shop) -> tuple[int, int, int]:
    """Jobs, findings of all jobs, books."""
    jobs = shop.jobs()
    return len(jobs), sum(len(shop.card(row.id).job.findings) for row in jobs), len(shop.books())


def test_nothing_that_can_be_sent_breaks_the_page_and_refusals_save_nothing(
    app: Starlette, shop: Shop
) -> None:
    every = paths(app)
    tried: set[bytes] = set()
    seen: set[int] = set()

    @settings(max_examples=600)
    @example(b"/job/@/say", b"J-0001", "POST", b"", BODIES[9], SORTS[0], [], False)
    @given(
        path=st.sampled_from(every),
        name=st.sampled_from(NAMES) | junk,
        method=st.sampled_from(["GET", "POST", "POST", *ODD]),
        query=st.sampled_from(QUERIES) | junk,
        body=st.sampled_from(BODIES) | junk,
        sort=st.sampled_from(SORTS),
        more=st.lists(st.sampled_from(HEADERS), max_size=3),
        dripping=st.booleans(),
    )
    def one(
        path: bytes, name: bytes, method: str, query: bytes, body: bytes, sort: bytes,
        more: list[Any], dripping: bool,
    ) -> None:  # fmt: skip
        before = saved(shop)
        headers = [(b"host", HOST), (b"content-type", sort), *more]
        chunks = [body[k : k + 7000] for k in range(0, len(body), 7000)] if dripping else [body]
        status, said = asked(app, method, path.replace(b"@", name), query, headers, chunks or [b""])
        tried.add(path)
        seen.add(status)
        assert status < 500, (status, said[:400])
        assert b"Traceback" not in said
        assert b"site-packages" not in said
        if status >= 400 or method in ("GET", "HEAD", "OPTIONS"):
            assert saved(shop) == before

    one()
    assert tried == set(every)  # a new address comes into this test by itself
    assert {200, 303, 403, 404, 405, 413} <= seen


@pytest.mark.parametrize(
    "host", [b"", b"\xff", b"evil.example", b"127.0.0.1:8787:1", b"[", b"a" * 9000]
)
def test_junk_in_the_host_is_refused(app: Starlette, host: bytes) -> None:
    assert asked(app, "GET", b"/", b"", [(b"host", host)], [b""])[0] == 421
    assert asked(app, "GET", b"/", b"", [], [b""])[0] == 421


def test_a_stranger_on_the_network_breaks_nothing_and_learns_nothing(shop: Shop) -> None:
    sharing = Sharing("192.168.1.20:8787")
    app = make_app(shop, sharing=sharing)
    every = paths(app)
    seen: set[int] = set()

    @settings(max_examples=300)
    @given(
        path=st.sampled_from(every),
        name=st.sampled_from(NAMES) | junk,
        method=st.sampled_from(["GET", "POST", "POST", *ODD]),
        query=st.sampled_from(QUERIES),
        body=st.sampled_from(
            [*BODIES, b"code=", b"code=%ff", b"code=AAAAAAAAAA&name=" + b"x" * 900]
        ),
        sort=st.sampled_from(SORTS),
        more=st.lists(st.sampled_from(HEADERS), max_size=3),
    )
    def one(
        path: bytes, name: bytes, method: str, query: bytes, body: bytes, sort: bytes,
        more: list[Any],
    ) -> None:  # fmt: skip
        before = saved(shop)
        headers = [(b"host", b"192.168.1.20:8787"), (b"content-type", sort), *more]
        status, said = asked(
            app, method, path.replace(b"@", name), query, headers, [body], "192.168.1.20"
        )
        seen.add(status)
        assert status < 500, (status, said[:400])
        assert saved(shop) == before
        assert sharing.devices() == ()
        if not path.startswith((b"/static", b"/pair")):
            assert status in (400, 403, 404, 405, 413), (method, path, status)
        assert b"oil pressure" not in said
        assert b"/job/J-" not in said

    one()
    assert 403 in seen
    host = [(b"host", b"192.168.1.20:8787")]
    assert asked(app, "GET", b"/pair", b"", host, [b""], "192.168.1.20")[0] == 200


def test_an_address_that_is_no_text_is_refused(app: Starlette) -> None:
    status, said = asked(app, "GET", b"/", b"since=\xff", [(b"host", HOST)], [b""])
    assert status == 400
    assert words(said.decode()).endswith(
        "This address cannot be read. Open the job from the list. All jobs Status 400 "
        "Working it out ..."
    )


@pytest.mark.parametrize(
    "name", ["../app.py", "%2e%2e/app.py", "..%2fapp.py", "..%5capp.py", "/etc/passwd", "%00", "."]
)
def test_no_file_is_reached_by_a_name(app: Starlette, name: str) -> None:
    status, said = asked(app, "GET", b"/static/" + name.encode(), b"", [(b"host", HOST)], [b""])
    assert status in (404, 405)
    assert b"import" not in said


def test_bytes_that_are_no_request_do_not_stop_the_server(shop: Shop) -> None:
    with served(shop) as address:
        host, _, port = address.removeprefix("http://").partition(":")
        for sent in (b"\x16\x03\x01\x02\x00", b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"\x00" * 70_000,
                     b"POST / HTTP/1.1\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\nx",
                     b"GET /" + b"a" * 70_000, b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n"):  # fmt: skip
            with socket.create_connection((host, int(port)), timeout=5) as line:
                line.sendall(sent)
                line.shutdown(socket.SHUT_WR)
                said = line.recv(100)
                assert said == b"" or said.startswith(b"HTTP/1.1 4"), said
        with socket.create_connection((host, int(port)), timeout=5) as line:
            line.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
            assert line.recv(100).startswith(b"HTTP/1.1 200")
