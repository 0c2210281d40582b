"""The reference of all kinds for the manual, written from the same tables the engine uses."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite

from backprobe.kinds import GROUP, HAZARDS, KINDS, ROLES
from backprobe.kinds.hazards import DEFER
from backprobe.kinds.records import Attribute, Failure, Kind, Role, Task
from backprobe.kinds.values import complete, number

Row = Sequence[str]

_HEAD = """# Reference: kinds of parts

Written by the program from its own tables; do not edit by hand. A part line is
`NAME: KIND [quantities and words], [ATTRIBUTE VALUE], ...`. A quantity in **bold** below may stand
without its attribute's name: `F12: fuse 10 A`. Defaults hold for a 12 V machine; where they
follow from other attributes, the value for the other defaults is shown. Rates are expected
failures per 1000 machine years: only their relative size counts."""

_OPERATED = """`in on crank run` says in which key positions a part or pin is operated by itself, `with S7` what
must be switched on as well; without either it is operated by hand."""


def kinds_reference() -> str:
    """docs/reference-kinds.md as a string, ending in a newline."""
    parts = [_HEAD, _OPERATED, "## Parts"]
    parts += [_kind(kind) for kind in KINDS.values()]
    parts += ["## What stands behind a unit's pin", "`UNIT.PIN: ROLE [quantities], ...`"]
    parts += [_role(role) for role in ROLES.values()]
    parts += ["## The 5 V supply of a group", "`group UNIT NAME: 5 V, limit 100 mA, latches`"]
    parts += [_role(GROUP)]
    parts += ["## Hazards and the usual caution", DEFER, _hazards()]
    return "\n\n".join(parts) + "\n"


def _kind(kind: Kind) -> str:
    lines = [f"### {kind.name}", f"{_sentence(kind.meaning)} Class {kind.letter} (IEC 81346-2)."]
    if len(kind.words) > 1:
        lines.append(f"Also called: {', '.join(kind.words[1:])}.")
    lines.append(_pins(kind))
    lines += _tables(kind.attributes, kind.failures, kind.tasks)
    if kind.mend:
        lines.append(f"To mend it: {kind.mend}")
    if kind.hazards:
        lines.append(f"Hazards: {', '.join(kind.hazards)}.")
    return "\n\n".join(lines)


def _role(role: Role) -> str:
    lines = [f"### {role.name}", _sentence(role.meaning)]
    if len(role.words) > 1:
        lines.append(f"Also called: {', '.join(role.words[1:])}.")
    if role.senses:
        lines.append("Codes may watch it.")
    lines += _tables(role.attributes, role.failures, role.tasks)
    return "\n\n".join(lines)


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:] + "."


def _pins(kind: Kind) -> str:
    if not kind.pins:
        return "Pins: as printed on it."
    also = ", ".join(f"{alias} = {pin}" for alias, pin in kind.aliases.items())
    return f"Pins: {', '.join(kind.pins)}." + (f" Also accepted: {also}." if also else "")


def _tables(
    attributes: Iterable[Attribute], failures: Iterable[Failure], tasks: Iterable[Task]
) -> list[str]:
    filled = complete(attributes, {}, volts=None)
    return [
        table
        for table in (
            _table(
                ("attribute", "unit", "default", "range", "meaning", "source"),
                [_attribute(one, filled) for one in attributes],
            ),
            _table(
                ("fails as", "rate", "sometimes", "source"),
                [
                    (one.words, f"{one.rate:.3g}", f"{100 * one.sometimes:.0f} %", one.source)
                    for one in failures
                ],
            ),
            _table(
                ("check", "how", "caution", "source"),
                [
                    (one.words, f"{one.does}, {one.seconds / 60:.3g} min", ", ".join(one.hazards),
                     one.source)
                    for one in tasks
                ],
            ),
        )
        if table
    ]  # fmt: skip


def _attribute(one: Attribute, filled: dict[str, float | str]) -> Row:
    name = f"**{one.name}**" if one.bare else one.name
    if one.unit == "word":
        default = str(filled.get(one.name, ""))
        return (name, "word", default, ", ".join(one.words), one.meaning, one.source)
    default = f"{number(one.name, filled):.4g}" if one.name in filled else ""
    return (name, one.unit, default, _range(one), one.meaning, one.source)


def _range(one: Attribute) -> str:
    low = f"{one.low:g}" if isfinite(one.low) else ""
    high = f"{one.high:g}" if isfinite(one.high) else ""
    return f"{low} to {high}"


def _hazards() -> str:
    return _table(
        ("hazard", "caution", "authority"),
        [(one.slug, one.words, one.authority) for one in HAZARDS.values()],
    )


def _table(head: Row, rows: Sequence[Row]) -> str:
    """A Markdown table, or "" without rows."""
    if not rows:
        return ""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(_cell(cell) for cell in line) + " |" for line in lines)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")
