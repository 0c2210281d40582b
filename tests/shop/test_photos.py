"""Photos are judged by what is in them, and nothing but the picture is kept.

Markers: JPEG, ITU-T T.81 annex B: APP1 (FFE1) carries Exif, COM (FFFE) a comment. Orientation 6
(Exif 2.32, tag 0112): the first row is the right side of what was seen.
"""

from __future__ import annotations

from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from backprobe.base.problems import Problem
from backprobe.shop.photos import LONGEST_SIDE, MOST_PIXELS, cleaned

GPS, ORIENTATION, MAKE, LATITUDE = 0x8825, 0x0112, 0x010F, 2


def photo(
    size: tuple[int, int] = (60, 40), form: str = "JPEG", mode: str = "RGB", **more: object
) -> bytes:
    """A picture, red above and blue below."""
    image = Image.new(mode, size, "red")
    image.paste("blue", (0, size[1] // 2, size[0], size[1]))
    out = BytesIO()
    image.save(out, form, **more)
    return out.getvalue()


def with_place(orientation: int = 1) -> bytes:
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[MAKE] = "SECRETCAMERA"
    exif.get_ifd(GPS)[LATITUDE] = (51.0, 30.0, 12.0)
    return photo(exif=exif, comment=b"SECRETWORDS", icc_profile=b"SECRETPROFILE" * 20)


def opened(jpeg: bytes | Problem) -> Image.Image:
    assert isinstance(jpeg, bytes)
    return Image.open(BytesIO(jpeg))


def segments(jpeg: bytes) -> list[int]:
    """The markers before the picture itself (T.81, B.1.1.4: two bytes of length after each)."""
    found, at = [], 2
    while jpeg[at] == 0xFF and jpeg[at + 1] != 0xDA:
        found.append(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    return found


def test_place_camera_comment_and_profile_stay_behind() -> None:
    given_ = with_place()
    assert b"SECRETCAMERA" in given_
    assert b"SECRETWORDS" in given_
    assert b"SECRETPROFILE" in given_
    kept = cleaned(given_)
    assert isinstance(kept, bytes)
    assert b"SECRET" not in kept
    assert b"Exif" not in kept
    # APP1, APP2 (profile) and COM are gone; APP0 (JFIF) is the only application segment
    assert {0xE1, 0xE2, 0xFE} <= set(segments(given_))
    assert not {*range(0xE1, 0xF0), 0xFE} & set(segments(kept))
    assert dict(opened(kept).getexif()) == {}


def test_a_photo_taken_on_its_side_stands_upright() -> None:
    plain, turned = opened(cleaned(with_place(1))), opened(cleaned(with_place(6)))
    assert plain.size == (60, 40)
    assert turned.size == (40, 60)
    # what was the top (red) is now the right side
    right, left = turned.getpixel((36, 30)), turned.getpixel((4, 30))
    assert isinstance(right, tuple)
    assert isinstance(left, tuple)
    assert right[0] > 200
    assert right[2] < 60
    assert left[2] > 200
    assert left[0] < 60


def test_a_large_photo_is_made_small_and_a_small_one_stays() -> None:
    assert opened(cleaned(photo((4000, 3000)))).size == (LONGEST_SIDE, 1200)
    assert opened(cleaned(photo((1000, 2000)))).size == (800, LONGEST_SIDE)
    assert opened(cleaned(photo((30, 20)))).size == (30, 20)


@pytest.mark.parametrize(
    ("form", "mode"),
    [
        ("PNG", "RGB"),
        ("PNG", "RGBA"),
        ("PNG", "P"),
        ("PNG", "L"),
        ("WEBP", "RGB"),
        ("JPEG", "CMYK"),
    ],
)
def test_what_cameras_and_screens_make_becomes_a_jpeg(form: str, mode: str) -> None:
    out = BytesIO()
    Image.new("RGB", (50, 30), "red").convert(mode).save(out, form)
    kept = opened(cleaned(out.getvalue()))
    assert (kept.format, kept.size, kept.mode) == ("JPEG", (50, 30), "RGB")


def test_what_is_see_through_becomes_white() -> None:
    out = BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    assert opened(cleaned(out.getvalue())).getpixel((10, 10)) == (255, 255, 255)


UNREADABLE = "This is no photo that can be read."


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"%PDF-1.7",
        b"GIF89a" + bytes(40),
        photo((60, 40), "GIF"),
        photo((60, 40), "BMP"),
        photo((60, 40), "TIFF"),
        photo()[:200],
        b"\xff\xd8\xff\xe0" + bytes(100),
    ],
    ids=["empty", "svg", "pdf", "gif-head", "gif", "bmp", "tiff", "cut", "junk"],
)
def test_anything_else_is_refused_by_its_content(data: bytes) -> None:
    found = cleaned(data)
    assert isinstance(found, Problem)
    assert (found.what, found.why, found.remedy) == (
        UNREADABLE,
        "Nothing of it was kept.",
        "Send a JPEG, PNG or WebP as a camera makes it.",
    )


@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
def test_more_points_than_any_phone_makes_are_refused_before_they_are_unpacked() -> None:
    # 10000 x 10000 points of one colour are a few hundred kB as PNG
    found = cleaned(photo((10_000, 10_000), "PNG", "1"))
    assert isinstance(found, Problem)
    assert found.what == "This photo has 100 million points; at most 40 million are taken."
    assert MOST_PIXELS == 40_000_000


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_damaged_photo_is_a_photo_or_a_problem_and_never_an_exception(
    data: st.DataObject,
) -> None:
    whole = bytearray(photo(form=data.draw(st.sampled_from(["JPEG", "PNG", "WEBP"]))))
    for _ in range(data.draw(st.integers(1, 8))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    found = cleaned(bytes(whole))
    assert isinstance(found, Problem) or found.startswith(b"\xff\xd8\xff")
