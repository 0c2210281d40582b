"""Small pieces of SVG as text. Figures have at most one digit behind the point."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape


def number(value: float) -> str:
    """A length, px."""
    return f"{value:.1f}".removesuffix(".0")


def attributes(given: Mapping[str, float | str]) -> str:
    """Attributes in the order given; "_" at the end of a name and inside it make it legal Python."""
    return "".join(
        f' {name.rstrip("_").replace("_", "-")}="{escape(value) if isinstance(value, str) else number(value)}"'
        for name, value in given.items()
        if value != ""
    )


def tag(name: str, inner: str = "", /, **given: float | str) -> str:
    """An element; `inner` is SVG already."""
    start = f"<{name}{attributes(given)}"
    return f"{start}>{inner}</{name}>" if inner else f"{start}/>"


def words(text: str, x: float, y: float, class_: str = "", **given: float | str) -> str:
    """A line of words, escaped."""
    return tag("text", escape(text), x=x, y=y, class_=class_, **given)


def down(x: float, y0: float, y1: float, class_: str = "", **given: float | str) -> str:
    """A line straight down."""
    return tag("path", d=f"M{number(x)} {number(y0)}V{number(y1)}", class_=class_, **given)


def across(x0: float, x1: float, y: float, class_: str = "", **given: float | str) -> str:
    """A level line."""
    return tag("path", d=f"M{number(x0)} {number(y)}H{number(x1)}", class_=class_, **given)


def block(
    x0: float, y0: float, x1: float, y1: float, class_: str = "", **given: float | str
) -> str:
    """A rectangle by its corners."""
    return tag("rect", x=x0, y=y0, width=x1 - x0, height=y1 - y0, class_=class_, **given)


def picture(
    inner: str, *, width: float, height: float, key: str, title: str, describe: str, class_: str
) -> str:
    """A whole drawing with its name and description for those who cannot see it."""
    head = (
        f'<title id="{key}-t">{escape(title)}</title><desc id="{key}-d">{escape(describe)}</desc>'
    )
    return tag(
        "svg",
        head + inner,
        class_=class_,
        role="group",
        aria_labelledby=f"{key}-t",
        aria_describedby=f"{key}-d",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
    )
