"""Work hidden defects to their end and write docs/accuracy.md.

    make trials ARGS="--jobs 40 --minutes 120"

Jobs come round by round over strata and modes, so a run may be stopped at any time and says the
same as a whole one, less surely. What is finished is kept (--file) and not done again; --page-only
writes the page from the file alone.
"""

from __future__ import annotations

import argparse
import os
import time
import traceback
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import asdict
from pathlib import Path

from trials import cheap
from trials.books import MACHINES
from trials.draw import MODES, STRATA
from trials.one import Key, keys, worked
from trials.policies import BASELINES
from trials.report import machine_words, page
from trials.store import (
    CHEAP,
    CODE,
    FILE,
    RECORDS,
    ROOT,
    Record,
    append,
    joined,
    kept,
    newest,
    pack,
    state_of_the_code,
    task_of,
)

PAGE = ROOT / "docs" / "accuracy.md"
BATCH = 50
"""Cheap trials done in one go."""
Task = Key | tuple[int, int, str, str]


def done(task: Task) -> list[Record]:
    """The records of a task. One that breaks is a record too."""
    name: Record
    if isinstance(task, Key):
        name = {"what": "job", **asdict(task)}
    else:
        name = {"what": "cheap", **dict(zip(CHEAP, task, strict=True))}
    try:
        if isinstance(task, Key):
            return [name | worked(task)]
        return [name | one for one in cheap.batch(*task, BATCH)]
    except Exception:  # noqa: BLE001  # a night's run does not end with one job
        return [name | {"what": "broken", "task": name["what"], "why": traceback.format_exc()}]


def tasks(options: argparse.Namespace) -> list[Task]:
    """All there is to do, in an order that may stop anywhere."""
    jobs = keys(
        options.seed,
        options.jobs,
        options.strata,
        options.modes,
        options.machines,
        options.against,
    )
    a_round = max(1, len(jobs) // max(1, options.jobs))
    batches = [
        (options.seed, number, mode, options.machines[number % len(options.machines)])
        for number in range(-(-options.cheap // BATCH))
        for mode in options.modes
    ]
    found: list[Task] = []
    rounds = max(options.jobs, -(-len(batches) // len(options.modes)))
    for number in range(rounds):
        found += jobs[number * a_round : (number + 1) * a_round]
        found += batches[number * len(options.modes) : (number + 1) * len(options.modes)]
    return found


def left(all_tasks: list[Task], records: list[Record]) -> Iterator[Task]:
    """Those not in the file."""
    known = {task_of(record) for record in records if record["what"] != "run"}
    for task in all_tasks:
        name = ("job", *asdict(task).values()) if isinstance(task, Key) else ("cheap", *task)
        if name not in known:
            yield task


def run(options: argparse.Namespace) -> None:
    """Do what is left, until the minutes are over."""
    code = state_of_the_code()
    records = [r for r in (*kept(RECORDS), *kept(options.file)) if r[CODE] == code]
    todo = left(tasks(options), records)
    began = time.monotonic()
    end = began + 60.0 * options.minutes
    going: set[Future[list[Record]]] = set()
    count = 0
    with ProcessPoolExecutor(options.workers) as pool:
        while True:
            while len(going) < options.workers and time.monotonic() < end:
                task = next(todo, None)
                if task is None:
                    break
                going.add(pool.submit(done, task))
            if not going:
                break
            finished, going = wait(going, return_when=FIRST_COMPLETED)
            for future in finished:
                found = future.result()
                append(options.file, [{CODE: code, **record} for record in found])
                count += 1
                print(f"{time.strftime('%H:%M:%S')} {count:5d} {_words(found[0])}", flush=True)
    spent = {"what": "run", "seconds": round(time.monotonic() - began), "on": machine_words()}
    append(options.file, [{CODE: code, **spent, "workers": options.workers}])


def _words(record: Record) -> str:
    keys_of = ("what", "number", "stratum", "mode", "policy", "truth", "ended", "minutes")
    words = " ".join(str(record[k]) for k in keys_of if k in record)
    return f"{words}\n{record['why']}" if record["what"] == "broken" else words


def _some(all_of: tuple[str, ...]) -> object:
    def parse(text: str) -> tuple[str, ...]:
        chosen = tuple(name for name in text.split(",") if name)
        if unknown := set(chosen) - set(all_of):
            raise argparse.ArgumentTypeError(f"no {', '.join(unknown)}; there are {all_of}")
        return chosen

    return parse


def main() -> None:
    """Work and write."""
    parser = argparse.ArgumentParser(prog="trials", description=__doc__)
    parser.add_argument("--jobs", type=int, default=1000, help="hidden defects a stratum and mode")
    parser.add_argument("--strata", type=_some(STRATA), default=STRATA)  # type: ignore[arg-type]
    parser.add_argument("--machines", type=_some(MACHINES), default=MACHINES)  # type: ignore[arg-type]
    parser.add_argument("--modes", type=_some(MODES), default=MODES)  # type: ignore[arg-type]
    parser.add_argument("--against", type=_some(BASELINES), default=BASELINES, help='"" for none')  # type: ignore[arg-type]
    parser.add_argument("--cheap", type=int, default=5000, help="weighings a mode")
    parser.add_argument("--minutes", type=float, default=1e9, help="start nothing after that")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--file", type=Path, default=FILE, help="finished jobs, appended to")
    parser.add_argument("--page", type=Path, default=PAGE)
    parser.add_argument("--pack", action="store_true", help=f"keep them in {RECORDS.name}, in git")
    parser.add_argument("--page-only", action="store_true", help="write the page from the file")
    options = parser.parse_args()
    if not options.page_only:
        run(options)
    records = newest(joined(kept(RECORDS), kept(options.file)))
    options.page.write_text(page(records, state_of_the_code()), encoding="utf-8")
    print(f"written to {options.page.name}")
    if options.pack:
        pack(RECORDS, records)


if __name__ == "__main__":
    main()
