"""docs/public-names.md: everything `import backprobe` offers, from its own docstrings."""

from __future__ import annotations

import inspect

import backprobe

HEAD = """# Public names

What `import backprobe` offers. Everything else may change without notice.
"""


def text() -> str:
    """The whole page."""
    return "\n".join([HEAD, *map(_entry, backprobe.__all__)])


def _entry(name: str) -> str:
    """One name with its signature and docstring; a constant with its type."""
    thing = getattr(backprobe, name)
    if inspect.isfunction(thing):
        return f"## {name}\n\n```python\n{name}{inspect.signature(thing)}\n```\n\n{_said(thing)}"
    if inspect.isclass(thing):
        return f"## {name}\n\n{_said(thing)}"
    return f"## {name}\n\nA constant, `{type(thing).__name__}`.\n"


def _said(thing: object) -> str:
    return f"{inspect.getdoc(thing) or ''}\n"
