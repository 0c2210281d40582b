"""The pictures of docs/guide.md, from those the tests took: few colours, so that they stay small."""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).parents[1]
TAKEN = ROOT / "artefacts" / "guide"
KEPT = ROOT / "src" / "backprobe" / "web" / "static" / "guide"
COLOURS = 64


def main() -> int:
    """Write every picture the guide names. 1 when the tests did not take one."""
    names = [p.name for p in TAKEN.glob("*.png")]
    guide = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
    wanted = [name for name in sorted(names) if f"/static/guide/{name})" in guide]
    missing = guide.count("/static/guide/") - len(wanted)
    if missing:
        print(f"{missing} pictures of the guide were not taken: look into {TAKEN}")
        return 1
    KEPT.mkdir(exist_ok=True)
    for name in wanted:
        with Image.open(TAKEN / name) as taken:
            few = taken.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
        few.save(KEPT / name, optimize=True)
        print(f"{name} {(KEPT / name).stat().st_size // 1024} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
