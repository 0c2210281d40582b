"""Throw away machine code that was compiled before its source changed.

numba looks at the file of a compiled function, not at those of the functions it calls: after a change
of `circuit/small.py` it would go on with what `circuit/step.py` was compiled to before.
"""

from __future__ import annotations

import sys
from pathlib import Path

CIRCUIT = Path(__file__).resolve().parent.parent / "src" / "backprobe" / "circuit"
LAST = ("readout.readout", "pair_lists.unlike_both")
"""What is compiled last for one fault, and for two."""


def throw_away(folder: Path = CIRCUIT) -> list[Path]:
    """The indexes (.nbi) thrown away, with all that was kept for them (.nbc)."""
    changed = max(source.stat().st_mtime for source in folder.glob("*.py"))
    old = [index for index in folder.glob("__pycache__/*.nbi") if index.stat().st_mtime < changed]
    for index in old:
        for kept in index.parent.glob(f"{index.stem}.*nbc"):
            kept.unlink(missing_ok=True)
        index.unlink(missing_ok=True)
    return old


def compile_them() -> None:
    """Compile all that questions need, by asking one of the smallest demo book, and for two faults."""
    from backprobe.book import read_book
    from backprobe.book.situations import Situation
    from backprobe.shop.demo import book_text
    from backprobe.shop.job import start
    from backprobe.suspects.together import only_together

    book, problems = read_book(book_text("unplugged-sensor"), "unplugged-sensor")
    if book is None:
        raise SystemExit(str(problems))
    job = start(book)
    job.proposal  # noqa: B018 - worked out when it is looked at
    only_together(job.circuit, Situation(key="on"))


if __name__ == "__main__":
    throw_away()
    missing = [name for name in LAST if not any(CIRCUIT.glob(f"__pycache__/{name}-*.nbi"))]
    if "--compile" in sys.argv[1:] and missing:
        print("compiling the engine's loops (once, up to three minutes)", flush=True)
        compile_them()
