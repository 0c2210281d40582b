"""`import backprobe`: what it promises is there, described and typed."""

from __future__ import annotations

import inspect
import subprocess
import sys

import pytest

import backprobe


def test_the_names_are_sorted_and_told_once() -> None:
    assert list(backprobe.__all__) == sorted(set(backprobe.__all__))


@pytest.mark.parametrize("name", backprobe.__all__)
def test_a_public_name_exists_and_says_what_it_is(name: str) -> None:
    thing = getattr(backprobe, name)
    if inspect.isfunction(thing) or inspect.isclass(thing):
        assert inspect.getdoc(thing)
    if inspect.isfunction(thing):
        signature = inspect.signature(thing)
        assert signature.return_annotation is not inspect.Signature.empty
        for parameter in signature.parameters.values():
            assert parameter.annotation is not inspect.Parameter.empty


def test_importing_the_package_is_light() -> None:
    code = "import sys, backprobe; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert not {"scipy", "sqlalchemy", "starlette", "can"} & set(done.stdout.split())
