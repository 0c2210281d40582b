"""The same book gives the same order of everything in every process."""

from __future__ import annotations

import os
import subprocess
import sys

PROGRAM = """
from backprobe.book import read_book
from backprobe.checks.layout import layout_of
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text

book, _ = read_book(book_text("tracked-dumper"), "tracked-dumper.book")
layout = layout_of(book, KINDS)
print([(n, [str(end) for end in ends]) for n, ends in sorted(layout.members.items())])
print(list(layout.touch), [[str(e) for e in near] for near in layout.near.values()])
"""


def test_names_of_a_layout_stand_in_one_order_whatever_the_hash_seed():
    told = {
        subprocess.run(
            [sys.executable, "-c", PROGRAM],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(told) == 1
    assert len(next(iter(told))) > 1000
