"""Installs the two programs the tests use besides Python, where that is allowed.

ngspice is the independent circuit simulator, Chromium the browser. Where they are missing and
cannot be installed, the tests that need them are skipped and say so.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

NEEDED = {"ngspice": ("ngspice",), "chromium": ("chromium", "chromium-browser", "google-chrome")}
"""Debian package -> names the program may have."""


def missing() -> list[str]:
    """The packages none of whose programs is on the path."""
    return [package for package, programs in NEEDED.items() if not any(map(shutil.which, programs))]


def may_install() -> bool:
    """True on a Debian-like system when the user may install packages."""
    return shutil.which("apt-get") is not None and sys.platform == "linux" and os.geteuid() == 0


def main() -> int:
    """Install what is missing. Always 0: the tests themselves say what they go without."""
    packages = missing()
    if not packages:
        return 0
    names = " ".join(packages)
    if not may_install():
        print(f"not installed: {names}. Tests that need them will be skipped.")
        print(f"To run them, have an administrator do: apt-get install {names}")
        return 0
    print(f"installing {names} with apt-get (once)")
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (
        ["apt-get", "-qq", "update"],
        ["apt-get", "-qq", "install", "--yes", "--no-install-recommends", *packages],
    ):
        done = subprocess.run(
            command, env=quiet, check=False, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL
        )
        if done.returncode:
            print(f"{' '.join(command)} failed with exit code {done.returncode}.")
            print(f"Tests that need {names} will be skipped.")
            break
    return 0


if __name__ == "__main__":
    sys.exit(main())
