"""docs/api.md runs from top to bottom, and prints what it says it is about."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import backprobe

GUIDE = Path(__file__).parents[2] / "docs" / "api.md"


def test_the_examples_run_in_order(capsys: pytest.CaptureFixture[str]) -> None:
    blocks = re.findall(r"```python\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)
    space: dict[str, object] = {}
    for block in blocks:
        exec(compile(block, str(GUIDE), "exec"), space)
    said = capsys.readouterr().out
    assert "wire 41a" in said
    assert "healthy 5.0" in said
    assert "[say-unknown-pin]" in said
    assert "It holds.\nPut everything back, clear the codes, write it up" in said
    assert "[finding-unknown-name]" in said
    assert ", closed: True. Somebody will ask: ('The codes were not read again" in said
    assert len(blocks) == 7


def test_every_name_it_uses_is_public() -> None:
    used = set(re.findall(r"\bbp\.(\w+)", GUIDE.read_text(encoding="utf-8")))
    assert used <= set(backprobe.__all__)


def test_every_public_name_is_there_once_asked_for() -> None:
    assert [name for name in backprobe.__all__ if not hasattr(backprobe, name)] == []
    assert set(backprobe.__all__) <= set(dir(backprobe))


def test_error_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match=r"^module 'backprobe' has no attribute 'nothing'$"):
        _ = backprobe.nothing
