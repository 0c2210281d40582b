"""Machine code that was compiled before a source changed is thrown away, the rest is kept."""

from __future__ import annotations

import os
from pathlib import Path

from stale_kernels import throw_away


def test_only_what_is_older_than_the_newest_source_goes(tmp_path: Path) -> None:
    kept = tmp_path / "__pycache__"
    kept.mkdir()
    for name, at in (("step.py", 50), ("small.py", 100)):
        (tmp_path / name).touch()
        os.utime(tmp_path / name, (at, at))
    for name, at in (("step.step-75.py311", 90), ("readout.readout-66.py311", 110)):
        for file in (kept / f"{name}.nbi", kept / f"{name}.1.nbc"):
            file.touch()
            os.utime(file, (at, at))
    assert [old.name for old in throw_away(tmp_path)] == ["step.step-75.py311.nbi"]
    assert sorted(file.name for file in kept.iterdir()) == [
        "readout.readout-66.py311.1.nbc",
        "readout.readout-66.py311.nbi",
    ]
