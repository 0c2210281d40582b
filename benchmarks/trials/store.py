"""The file of finished jobs: JSON lines, only ever appended to."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterable, Sequence
from dataclasses import fields
from hashlib import sha256
from pathlib import Path
from typing import Final

from trials.one import Key

Record = dict[str, object]
ROOT: Final = Path(__file__).parents[2]
FILE: Final = ROOT / "build" / "trials.jsonl"
RECORDS: Final = ROOT / "benchmarks" / "records.jsonl.gz"
"""Finished jobs behind docs/accuracy.md; what is done anew goes into FILE."""
CODE: Final = "code"
"""Name under which a record says which state of the code it was made with."""


JOB: Final = tuple(field.name for field in fields(Key))
CHEAP: Final = ("seed", "number", "mode", "machine")
"""What a job and a batch of cheap trials are known by."""
TIMES: Final = (CODE, "engine s", "oracle s")
"""What may differ where a task came out the same."""
ENOUGH: Final = 40
"""Jobs that a later state of the code must have worked again alike before those of an earlier one count on."""
WITHOUT: Final = ("web", "cli", "jobs", "logs")
"""Packages that no trial loads."""
TELLS: Final = ("__main__.py", "report.py", "score.py", "store.py")
"""Files that keep and tell what was found, and find nothing."""


def state_of_the_code(root: Path = ROOT) -> str:
    """Digits that change with any line of what trials work with: the engine, a demo book, the trials
    themselves."""
    digest = sha256()
    product = root / "src" / "backprobe"
    places = [place for place in product.glob("*") if place.name not in WITHOUT]
    places += [root / "benchmarks" / "trials", root / "tests" / "oracles"]
    for path in sorted(p for at in places for end in ("*.py", "*.book") for p in at.rglob(end)):
        if path.parent.name != "trials" or path.name not in TELLS:
            digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]


def kept(file: Path) -> list[Record]:
    """All records, of a packed file too. A last line that broke off is left out."""
    if not file.exists():
        return []
    found: list[Record] = []
    content = file.read_bytes()
    text = gzip.decompress(content) if file.suffix == ".gz" else content
    lines = text.decode("utf-8").split("\n")
    for number, line in enumerate(lines):
        if not line:
            continue
        try:
            found.append(json.loads(line))
        except json.JSONDecodeError:
            if number < len(lines) - 1 and any(lines[number + 1 :]):
                raise
    return found


def append(file: Path, records: Iterable[Record]) -> None:
    """Add records; a line that broke off before is ended first."""
    file.parent.mkdir(parents=True, exist_ok=True)
    text = "".join(json.dumps(record, ensure_ascii=False) + "\n" for record in records)
    mend(file)
    with file.open("a", encoding="utf-8") as out:
        out.write(text)


def pack(file: Path, records: Iterable[Record]) -> None:
    """Write records as a packed file, the same bytes for the same records."""
    text = "".join(json.dumps(record, ensure_ascii=False) + "\n" for record in records)
    file.write_bytes(gzip.compress(text.encode("utf-8"), mtime=0))


def mend(file: Path) -> None:
    """Cut off a last line that has no end."""
    if file.exists():
        text = file.read_bytes()
        if text and not text.endswith(b"\n"):
            file.write_bytes(text[: text.rfind(b"\n") + 1])


def joined(records: Sequence[Record], more: Iterable[Record]) -> list[Record]:
    """The records of one file and of another, which may hold some of them too."""
    known = {json.dumps(record, sort_keys=True) for record in records}
    return [*records, *(r for r in more if json.dumps(r, sort_keys=True) not in known)]


def task_of(record: Record) -> tuple[object, ...]:
    """What a task is known by in the file."""
    what = str(record.get("task", record["what"]))
    return (what, *(record.get(part) for part in (JOB if what == "job" else CHEAP)))


def newest(records: list[Record]) -> list[Record]:
    """The records made with the state of the code that the last one was made with, and those of earlier
    states: where it did ENOUGH of their jobs again, and every task that it did came out the same."""
    if not records:
        return []
    last = records[-1][CODE]
    mine, alike = _tasks(records, last), {last}
    for code in {record[CODE] for record in records} - alike:
        theirs = _tasks(records, code)
        both = [task for task in theirs if task in mine]
        enough = sum(task[0] == "job" for task in both) >= ENOUGH
        if enough and all(_same(theirs[task], mine[task]) for task in both):
            alike.add(code)
    return [record for record in records if record[CODE] in alike]


def once(records: Sequence[Record]) -> list[Record]:
    """Every task once, as the last state of the code did it where it did."""
    last = records[-1][CODE] if records else ""
    mine = _tasks(records, last)
    return [r for r in records if r[CODE] == last or r["what"] == "run" or task_of(r) not in mine]


def _tasks(records: Iterable[Record], code: object) -> dict[tuple[object, ...], list[Record]]:
    """What one state of the code did."""
    found: dict[tuple[object, ...], list[Record]] = {}
    for record in records:
        if record[CODE] == code and record["what"] != "run":
            found.setdefault(task_of(record), []).append(record)
    return found


def _same(one: Sequence[Record], other: Sequence[Record]) -> bool:
    """Whether a task came out the same but for the time it took; numbers to six digits."""

    def told(records: Sequence[Record]) -> list[object]:
        return [_rounded({k: v for k, v in r.items() if k not in TIMES}) for r in records]

    return told(one) == told(other)


def _rounded(value: object) -> object:
    if isinstance(value, dict):
        return {key: _rounded(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_rounded(part) for part in value]
    return float(f"{value:.6g}") if isinstance(value, float) else value
