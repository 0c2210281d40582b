"""Photos as they are kept: upright, small, and without what a camera writes into them."""

from __future__ import annotations

import struct
from io import BytesIO
from typing import Final

from PIL import Image, ImageOps

from backprobe.base.problems import Problem

FORMATS: Final = ("JPEG", "PNG", "WEBP")
MOST_PIXELS: Final = 40_000_000
"""More than any phone's ordinary photo has (12 to 25 million, from memory)."""
LONGEST_SIDE: Final = 1600
QUALITY: Final = 82


def cleaned(data: bytes) -> bytes | Problem:
    """The photo as a new JPEG of at most 1600 px, or what is wrong with it.

    What the file says it is does not count, only what is in it. Only the picture itself is taken
    over: place, time, camera and comments stay behind.
    """
    try:
        with Image.open(BytesIO(data), formats=FORMATS) as image:
            if image.width * image.height > MOST_PIXELS:
                return _refused(
                    f"This photo has {image.width * image.height / 1e6:.0f} million points; at most "
                    f"{MOST_PIXELS / 1e6:.0f} million are taken.",
                    "Send a smaller one.",
                )
            image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            upright = ImageOps.exif_transpose(image)
            upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            seen = upright.convert("RGBA")
            bare = Image.new("RGB", seen.size, "white")
            bare.paste(seen, mask=seen.getchannel("A"))
            out = BytesIO()
            bare.save(out, "JPEG", quality=QUALITY)
            return out.getvalue()
    except (
        OSError,
        ValueError,
        SyntaxError,
        struct.error,
        IndexError,
        KeyError,
        EOFError,
        MemoryError,
        Image.DecompressionBombError,
    ):
        return _refused(
            "This is no photo that can be read.", "Send a JPEG, PNG or WebP as a camera makes it."
        )


def _refused(what: str, remedy: str) -> Problem:
    return Problem(
        slug="photo-unusable",
        weight="error",
        at=None,
        what=what,
        why="Nothing of it was kept.",
        remedy=remedy,
    )
