"""The loom tree as SVG: a section as thick as a loom, the chance on it as a band around it, spots
as marks that grow with their chance."""

from __future__ import annotations

from math import sqrt
from typing import Final

from backprobe.web.pictures import svg
from backprobe.web.pictures.loom import LINE, MARGIN, WORDS, Loom, Named, Row
from backprobe.web.pictures.text import width

THICK: Final = 7.0
BAND: Final = 26.0
"""Height of the band of the densest section, px."""
FAINT: Final = 0.005


def loom_svg(loom: Loom, *, key: str, title: str) -> str:
    """The drawing."""
    told = [f"{row.section.name} {percent(row.whole)}" for row in loom.rows if row.whole >= FAINT]
    describe = (
        f"From {loom.root} to the right, {len(loom.rows)} sections to scale. Chance on them: "
        f"{', '.join(told) or 'none'}. The same as a table stands below."
    )
    drawn = [_branch(row) for row in loom.rows if row.up is not None]
    starts = [row for row in loom.rows if row.up is None]
    if len(starts) > 1:
        drawn.append(svg.down(MARGIN, starts[0].y, starts[-1].y, "branch"))
    drawn += [_section(row) for row in loom.rows]
    drawn += [_named(row, one) for row in loom.rows for one in row.named]
    drawn += [_words(row) for row in loom.rows]
    drawn.append(_ruler(loom))
    return svg.picture(
        "".join(drawn), width=loom.width, height=loom.height, key=key, title=title,
        describe=describe, class_="loom",
    )  # fmt: skip


def percent(chance: float) -> str:
    """A chance as a figure: "17 %", "< 1 %"."""
    return f"{100.0 * chance:.0f}\u00a0%" if chance >= 0.01 else "<\u00a01\u00a0%"


def _branch(row: Row) -> str:
    return svg.down(row.x0, row.up or row.y, row.y, "branch")


def _section(row: Row) -> str:
    found = []
    if row.dense > 0.0 and row.whole >= FAINT:
        half = (THICK + 2.0 + (BAND - THICK) * row.dense) / 2.0
        found.append(svg.block(row.x0, row.y - half, row.x1, row.y + half, "band"))
    found.append(svg.block(row.x0, row.y - THICK / 2, row.x1, row.y + THICK / 2, "loom-line", rx=2))
    found.append(svg.tag("circle", cx=row.x1, cy=row.y, r=5.0, class_="joint"))
    return "".join(found)


def _words(row: Row) -> str:
    name, rest = row.words
    x = row.x0 + WORDS
    found = [
        svg.words(name, x, row.words_y, "name"),
        svg.words(rest, x, row.words_y + LINE, "soft"),
    ]
    if row.whole >= FAINT:
        at = x + width(name, bold=True) + 8.0
        said = percent(row.whole)
        room = width(said, bold=True)
        found.append(
            svg.block(
                at - 4.0, row.words_y - 12.5, at + room + 4.0, row.words_y + 4.0, "badge", rx=3
            )
        )
        found.append(svg.words(said, at, row.words_y, "on-badge"))
    return "".join(found)


def _named(row: Row, one: Named) -> str:
    size = 4.5 + 16.0 * sqrt(one.chance)
    found = [
        svg.tag(
            "path",
            d=f"M{svg.number(one.x)} {svg.number(row.y)}V{svg.number(one.y - 4)}h5",
            class_="leader",
        )
    ]
    if one.kind in ("plug", "end"):
        found.append(
            svg.block(
                one.x - 6,
                row.y - 6,
                one.x + 6,
                row.y + 6,
                "end" if one.chance < FAINT else "end hot",
            )
        )
    else:
        found.append(
            svg.tag(
                "circle",
                cx=one.x,
                cy=row.y,
                r=min(13.0, size),
                class_="spot hot" if one.chance >= FAINT else "spot",
            )
        )
    said = f"{one.words}: {percent(one.chance)}" if one.chance >= FAINT else one.words
    found.append(svg.words(said, one.x + 9.0, one.y, "name" if one.chance >= FAINT else "soft"))
    return "".join(found)


def _ruler(loom: Loom) -> str:
    """How long half a metre is here."""
    half = loom.metre / 2.0
    y = 11.0
    return svg.tag(
        "path",
        d=f"M{svg.number(MARGIN)} {svg.number(y - 4)}v8m0 -4h{svg.number(half)}m0 -4v8",
        class_="leader",
    ) + svg.words(f"0.5 m, from {loom.root}", MARGIN + half + 7.0, y + 4.5, "soft")
