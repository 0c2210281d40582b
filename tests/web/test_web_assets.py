"""Own styles and scripts go out lean; what is not ours goes out as it is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from backprobe.web import app
from backprobe.web.assets import lean

OWN = sorted(
    p.name for p in app.STATIC.iterdir() if p.suffix in (".css", ".js") and ".min." not in p.name
)


def test_only_indentation_blank_lines_and_whole_line_comments_go() -> None:
    text = '/* all of it */\na {\n  b: url("//x"); /* kept */\n\n}\n// gone\n  c = "// kept";\n'
    assert lean(text) == 'a {\nb: url("//x"); /* kept */\n}\nc = "// kept";'


@pytest.mark.parametrize("name", OWN)
def test_nothing_but_that_differs_from_the_file(client: TestClient, name: str) -> None:
    sent = client.get(f"/static/{name}")
    assert sent.status_code == 200
    assert sent.headers["content-type"].startswith(("text/css", "text/javascript"))
    text = (app.STATIC / name).read_text(encoding="utf-8")
    if name.endswith(".css"):
        quoted = re.findall(r'"[^"]*"', text)
        assert not any(sign in one for one in quoted for sign in "{};,")
        rules = re.sub(r"/\*.*?\*/", "", text)
        assert re.sub(r"\s", "", re.sub(r"/\*.*?\*/", "", sent.text)) == re.sub(r"\s", "", rules)
        return
    written = text.splitlines()
    left = [line.strip() for line in written]
    assert set(sent.text.splitlines()) <= set(left)
    gone = [line for line in left if line and line not in sent.text.splitlines()]
    assert all(line.startswith(("//", "/*")) for line in gone)
    # no line of a text that runs over several lines is taken for indentation
    assert all(line.count("`") % 2 == 0 for line in left)


def test_what_is_not_ours_is_sent_as_it_is(client: TestClient) -> None:
    name = "htmx-4.0.1.min.js"
    assert client.get(f"/static/{name}").content == (Path(app.STATIC) / name).read_bytes()
