"""One job of the trials, from its key to its record."""

from __future__ import annotations

import time
from dataclasses import asdict, dataclass
from functools import lru_cache

import numpy as np

from backprobe.shop import job as jobs
from backprobe.shop.job import Job, start
from trials.books import MACHINES, WRONG_BOOKS, book_of, wrong_book
from trials.draw import MODES, STRATA, Case, drawn, field_of
from trials.policies import BASELINES, POLICIES
from trials.walk import SLIPS, Work

Record = dict[str, object]


@dataclass(frozen=True, order=True)
class Key:
    """Which job. Everything about it follows from this."""

    seed: int
    number: int
    stratum: str
    mode: str
    policy: str
    machine: str

    @property
    def entropy(self) -> list[int]:
        """The seed of the case; the same for every policy."""
        return [self.seed, self.number, STRATA.index(self.stratum), MODES.index(self.mode)]


def keys(
    seed: int,
    jobs: int,
    strata: tuple[str, ...],
    modes: tuple[str, ...],
    machines: tuple[str, ...] = MACHINES,
    baselines: tuple[str, ...] = BASELINES,
) -> list[Key]:
    """All jobs in an order that may stop anywhere: round by round over strata and modes. Every case
    is worked by the proposals and by one of the baselines, which change in turns."""
    found = []
    for number in range(jobs):
        for place, stratum in enumerate(strata):
            for mode in modes:
                turn = (number + place) % max(1, len(baselines))
                machine = machines[number % len(machines)]
                found += [
                    Key(seed, number, stratum, mode, policy, machine)
                    for policy in ("proposals", *baselines[turn : turn + 1])
                ]
    return found


def worked(key: Key) -> Record:
    """The job done, as plain data."""
    began = time.process_time()
    case, drawing = _case(key)
    matched = key.mode == "matched"
    wrong = key.number % WRONG_BOOKS if not matched else -1
    fresh = _fresh(key.machine, wrong)
    work = Work(
        of=field_of(key.machine),
        case=case,
        book=fresh.book,
        hidden=case.hidden(seed=key.number, matched=matched),
        rng=np.random.default_rng([*key.entropy, 7]),
        slips=0.0 if matched else SLIPS,
    )
    walk = work.follow(fresh, POLICIES[key.policy])
    total = time.process_time() - began
    _forget()
    return {
        **asdict(key),
        "truth": [fault.atom.id for fault in case.faults],
        "group": [fault.atom.group for fault in case.faults],
        "rho": case.rho,
        "shows on arrival": case.now,
        "book": wrong,
        "wrong in the book": [] if matched else list(wrong_book(key.machine, wrong).changed),
        "books passed over": 0 if matched else len(wrong_book(key.machine, wrong).found_wrong),
        "right": walk.ended == "mended",
        "ended": walk.ended,
        "first repair right": walk.first_repair,
        "found": walk.found,
        "checks": walk.checks,
        "minutes": round(walk.minutes, 2),
        "spent": {what: round(seconds / 60.0, 2) for what, seconds in walk.spent.items()},
        "vain": walk.vain,
        "not in book": round(walk.outside, 4),
        "leading": walk.leading,
        "done": walk.done,
        "oracle s": round(walk.solving + drawing, 2),
        "engine s": round(total - walk.solving - drawing, 2),
    }


@lru_cache(maxsize=4)
def _drawn(machine: str, stratum: str, mode: str, book: int, *entropy: int) -> tuple[Case, float]:
    began = time.process_time()
    of = field_of(machine)
    case = drawn(of, stratum, mode, np.random.default_rng(list(entropy)), book)
    return case, time.process_time() - began


def _case(key: Key) -> tuple[Case, float]:
    return _drawn(key.machine, key.stratum, key.mode, key.number % WRONG_BOOKS, *key.entropy)


def _forget() -> None:
    """Jobs keep their circuits; those of a hundred wrong books would fill the memory."""
    jobs._standing.cache_clear()
    jobs._proposal.cache_clear()


@lru_cache(maxsize=2)
def _fresh(machine: str, wrong: int) -> Job:
    """A new job on the machine by its book (-1), or by one of its wrong books."""
    return start(book_of(machine) if wrong < 0 else wrong_book(machine, wrong).book)
