"""docs/public-names.md: everything `import backprobe` offers, from its own docstrings."""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable, Iterator

import backprobe

HEAD = """# Public names

What `import backprobe` offers. Everything else may change without notice.
"""


def text() -> str:
    """The whole page."""
    return "\n".join([HEAD, *map(_entry, backprobe.__all__)])


def _entry(name: str) -> str:
    """One name: a function with its signature, a class with its fields and methods."""
    thing = getattr(backprobe, name)
    if inspect.isfunction(thing):
        return f"## {name}\n\n{_code(_signed(name, thing))}\n{_said(thing)}"
    if inspect.isclass(thing):
        return "\n".join([f"## {name}\n", *_of_class(thing)])
    return f"## {name}\n\n`{type(thing).__name__}`: `{thing!r}`\n"


def _of_class(thing: type) -> Iterator[str]:
    """The parts of a class, fields first."""
    if dataclasses.is_dataclass(thing):
        fields = [f"{field.name}: {field.type}" for field in dataclasses.fields(thing)]
        yield _code("\n".join(fields))
    yield _said(thing)
    for name, method in vars(thing).items():
        if name.startswith("_"):
            continue
        if isinstance(method, property):
            yield f"### {thing.__name__}.{name}\n\n{_said(method)}"
        elif inspect.isfunction(method):
            yield f"### {thing.__name__}.{name}\n\n{_code(_signed(name, method))}\n{_said(method)}"


def _signed(name: str, function: Callable[..., object]) -> str:
    """The signature with its annotations as they stand in the source, without quotes."""
    signature = inspect.signature(function)
    parameters = [p.replace(annotation=_bare(p.annotation)) for p in signature.parameters.values()]
    returned = _bare(signature.return_annotation)
    return f"{name}{signature.replace(parameters=parameters, return_annotation=returned)}"


def _bare(annotation: object) -> object:
    return _Bare(annotation) if isinstance(annotation, str) else annotation


class _Bare(str):
    """A string that shows itself without quotes."""

    __slots__ = ()

    def __repr__(self) -> str:
        return str(self)


def _code(lines: str) -> str:
    return f"```python\n{lines}\n```\n"


def _said(thing: object) -> str:
    return f"{inspect.getdoc(thing) or ''}\n"
