"""Listens to the interpreter: what a piece of code asks of the world outside it."""

from __future__ import annotations

import os
import random
import secrets
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType, ModuleType
from typing import Any
from unittest import mock

import numpy as np

WORLD = (
    "open", "os.", "socket.", "subprocess.", "sqlite3.", "shutil.", "tempfile.", "glob.",
    "urllib.", "http.", "ftplib.", "smtplib.", "pathlib.", "mmap.", "fcntl.", "winreg.", "syslog.",
)  # fmt: skip
"""Beginnings of the names of audit events (docs.python.org/3/library/audit_events.html) that
mean the world outside."""

CLOCKS = (
    "time", "time_ns", "monotonic", "monotonic_ns", "perf_counter", "perf_counter_ns",
    "process_time", "process_time_ns", "localtime", "gmtime", "sleep",
)  # fmt: skip
SOURCES = {
    os: ("urandom", "getrandom"),
    random: ("random", "randint", "randrange", "choice", "choices", "shuffle", "gauss", "uniform"),
    secrets: ("token_bytes", "randbits", "choice"),
    uuid: ("uuid1", "uuid4"),
    np.random: ("rand", "randn", "random", "normal", "uniform", "choice", "permutation", "shuffle"),
}

_heard: list[str] | None = None
_thread = 0


def _hook(event: str, arguments: tuple[object, ...]) -> None:
    if _heard is None or threading.get_ident() != _thread or not event.startswith(WORLD):
        return
    if not _importing(sys._getframe(1)):
        _heard.append(f"{event} {arguments[:2]!r}")


# An audit hook cannot be taken off again; this one sleeps while nobody listens.
sys.addaudithook(_hook)


def _importing(frame: FrameType | None) -> bool:
    """True when Python itself is loading a module, or numba the machine code of a function, and not a
    module of ours doing the asking."""
    while frame is not None:
        name = frame.f_globals.get("__name__", "")
        if frame.f_code.co_filename.startswith("<frozen importlib") or name.startswith("numba."):
            return True
        if name.startswith("backprobe"):
            return False
        frame = frame.f_back
    return False


@contextmanager
def listening() -> Iterator[list[str]]:
    """The list of what was asked for inside the block: files, sockets, processes, clocks,
    random numbers without a seed. Loading modules does not count."""
    global _heard, _thread  # noqa: PLW0603  the hook lives as long as the interpreter
    heard: list[str] = []
    clocks = mock.patch.multiple(time, **{name: _noted(heard, time, name) for name in CLOCKS})
    with clocks, _random_sources(heard):
        _heard, _thread = heard, threading.get_ident()
        try:
            yield heard
        finally:
            _heard = None


@contextmanager
def _random_sources(heard: list[str]) -> Iterator[None]:
    patches = [
        mock.patch.object(module, name, _noted(heard, module, name))
        for module, names in SOURCES.items()
        for name in names
        if hasattr(module, name)
    ]
    patches.append(mock.patch.object(np.random, "default_rng", _seeded_only(heard)))
    for patch in patches:
        patch.start()
    try:
        yield
    finally:
        for patch in reversed(patches):
            patch.stop()


def _noted(heard: list[str], module: ModuleType, name: str) -> Callable[..., Any]:
    real = getattr(module, name)

    def stand_in(*arguments: object, **named: object) -> object:
        if not _importing(sys._getframe(1)):
            heard.append(f"{module.__name__}.{name}")
        return real(*arguments, **named)

    return stand_in


def _seeded_only(heard: list[str]) -> Callable[..., np.random.Generator]:
    real = np.random.default_rng

    def default_rng(seed: Any = None) -> np.random.Generator:
        if seed is None:
            heard.append("numpy.random.default_rng without a seed")
            return real(0)
        return real(seed)

    return default_rng
