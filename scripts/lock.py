"""Writes requirements.lock: every release the tests were last seen to pass with.

A scratch environment resolves pyproject.toml afresh; what pip put there is the lock. It is used
as a constraints file, so a plain install takes from it only what the package needs.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HEAD = "# Written by `make lock`. The releases the tests passed with; used as constraints.\n"


def main() -> int:
    """Resolve, freeze, write. 0 on success; pip's own messages otherwise."""
    with tempfile.TemporaryDirectory() as scratch:
        subprocess.run([sys.executable, "-m", "venv", scratch], check=True)
        python = str(Path(scratch) / "bin" / "python")
        pip = [python, "-m", "pip", "--disable-pip-version-check"]
        subprocess.run([*pip, "install", "--quiet", f"{ROOT}[test,dev]"], check=True)
        frozen = subprocess.run(
            [*pip, "freeze", "--exclude", "backprobe"], check=True, capture_output=True, text=True
        ).stdout
    (ROOT / "requirements.lock").write_text(HEAD + frozen, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
