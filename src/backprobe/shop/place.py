"""Where the shop's file is kept when nobody says otherwise."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

NAME = "shop.backprobe"


def usual_place(
    env: Mapping[str, str] = os.environ, platform: str = sys.platform, home: Path | None = None
) -> Path:
    """The shop file in the user's own data folder, by the habit of the system.

    Windows: LOCALAPPDATA. macOS: Library/Application Support. Elsewhere: XDG_DATA_HOME
    (XDG Base Directory Specification 0.8), by default .local/share.
    """
    base = Path.home() if home is None else home
    if platform == "win32":
        folder = Path(env.get("LOCALAPPDATA") or base / "AppData" / "Local")
    elif platform == "darwin":
        folder = base / "Library" / "Application Support"
    else:
        stated = env.get("XDG_DATA_HOME", "")
        # the specification: a relative path is invalid and must be ignored
        absolute = bool(stated) and Path(stated).is_absolute()
        folder = Path(stated) if absolute else base / ".local" / "share"
    return folder / "backprobe" / NAME
