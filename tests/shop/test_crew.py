"""The shop hands the engine the machine's processors."""

from __future__ import annotations

import os
import threading
from functools import partial

import pytest

from backprobe.circuit.crew import ALONE
from backprobe.shop import crew
from backprobe.shop.crew import Threads, everyone, processors
from backprobe.shop.job import start
from oracles.machines import machine


def test_jobs_are_done_at_the_same_time_and_answered_in_order() -> None:
    both_there = threading.Barrier(2, timeout=20)

    def job(number: int) -> int:
        both_there.wait()  # one after the other would wait for ever
        return number

    assert Threads(2).work([partial(job, 1), partial(job, 2)]) == [1, 2]


def test_what_goes_wrong_in_a_job_is_not_lost() -> None:
    def job() -> None:
        raise ValueError("a job of many")

    with pytest.raises(ValueError, match=r"^a job of many$"):
        Threads(2).work([job])


def test_a_job_on_a_machine_is_worked_by_everyone() -> None:
    made = start(machine(100).book)
    assert made.circuit._bases.crew is everyone()


@pytest.mark.parametrize(("many", "at_work"), [(1, 1), (2, 2), (64, crew.MOST)])
def test_as_many_work_as_there_are_processors(
    many: int, at_work: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: set(range(many)), raising=False)
    everyone.cache_clear()
    try:
        assert everyone().many == at_work
        assert (everyone() is ALONE) == (many == 1)
    finally:
        everyone.cache_clear()


def test_where_the_system_does_not_say_what_this_process_may_use(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 3)
    assert processors() == 3
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert processors() == 1


def test_a_process_that_was_forked_off_has_threads_of_its_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = Threads(2)
    before, pool = set(made.work([threading.get_ident, threading.get_ident])), made._pool
    assert made.work([os.getpid]) == [os.getpid()]
    assert made._pool is pool
    monkeypatch.setattr(os, "getpid", lambda: -1)
    assert not before & set(made.work([threading.get_ident]))
    assert made._pool is not pool
