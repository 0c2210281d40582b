"""Machine and part lines into a draft."""

from __future__ import annotations

import re
from dataclasses import replace

from backprobe.base.units import parse_quantity
from backprobe.book.attributes import Reader, fit_unit, tell_unusual, unit_words
from backprobe.book.draft import PLUG, Draft
from backprobe.book.faces import SIDES, is_face, read_face
from backprobe.book.facts import FORMAT, Fact, split_kind
from backprobe.book.lines import Bit, Line
from backprobe.book.model import BODIES, Machine, Part
from backprobe.kinds import KINDS, kind_named
from backprobe.kinds.records import Kind

PLACES = ("at", "on", "open", "close", "backprobe", "pins")
"""Words every part line knows, whatever its kind."""


def read_format(draft: Draft, fact: Fact) -> bool:
    """`book format N`. False when the book is newer than this program."""
    words = fact.head[0].text.split()
    quantity = parse_quantity(words[-1]) if words and words[0].lower() == "format" else None
    if quantity is None or len(words) != 2 or fact.items:
        draft.report.add("unreadable-line", fact.line.spot(), near="")
        return True
    if quantity.value > FORMAT:
        draft.report.add("newer-format", fact.line.spot(), number=words[-1], known=str(FORMAT))
        return False
    return True


def read_machine(draft: Draft, fact: Fact) -> None:
    """`machine NAME, 12 V, serial 4411-, variants cab / canopy`."""
    report, line = draft.report, fact.line
    name = draft.name(fact.head[0], line) or "machine"
    volts, serial = 0.0, ""
    variants: tuple[str, ...] = ()
    for item in fact.items:
        word, _, rest = item.text.partition(" ")
        quantity = parse_quantity(item.text)
        if word.lower() == "serial":
            serial = rest.strip()
        elif word.lower() in ("variants", "variant"):
            variants = tuple(v.strip() for v in re.split(r"\s*/\s*", rest) if v.strip())
        elif quantity and quantity.unit == "V":
            if tell_unusual(
                report, line.spot(item), what="voltage of the machine", value=quantity.value,
                unit="V", usual=(6.0, 48.0),
            ):  # fmt: skip
                volts = quantity.value
        else:
            known = ("serial", "variants")
            report.add(
                "unknown-attribute", line.spot(item), word=item.text, owner="a machine",
                known="its voltage, serial, variants", near=report.near(word, known),
            )  # fmt: skip
    if not volts:
        volts = 12.0
        draft.assume(name, "12 V", "no voltage was typed")
    draft.machine = Machine(
        name=name, volts=volts, serial=serial, variants=variants, origin=fact.origin
    )


def read_part(draft: Draft, fact: Fact) -> None:
    """`NAME: KIND [quantities and words], [ATTRIBUTE VALUE], ...`."""
    report, line = draft.report, fact.line
    name = draft.name(fact.head[0], line)
    if name is None or not fact.items or not draft.first(f"part {name}", fact):
        return
    found, words, rest = split_kind(fact.items[0].text)
    if not found:
        known = [word for kind in KINDS.values() for word in kind.words]
        words = _before_quantity(fact.items[0].text)
        report.add(
            "unknown-kind",
            line.spot(Bit(words, fact.items[0].column)),
            word=words,
            near=report.near(words, known),
        )
        return
    kind = kind_named(words)
    if kind is not None:
        draft.parts[name] = _part(draft, fact, name, kind, rest)
        for item in fact.items[1:]:
            if is_face(item):
                read_face(draft, name, item, line)


def _before_quantity(text: str) -> str:
    match = re.search(r"\s[+-]?\d", text)
    return text[: match.start()] if match else text


def _part(draft: Draft, fact: Fact, name: str, kind: Kind, rest: str) -> Part:
    line = fact.line
    first = fact.items[0]
    reader = Reader(kind.attributes, kind.words[0], line, draft.report, also=(*PLACES, *SIDES))
    part = Part(name=name, kind=kind.name, pins=kind.pins, origin=fact.origin)
    if rest:
        reader.read(first.after_words(len(first.text.split()) - len(rest.split())))
    printed: tuple[str, ...] = ()
    for item in fact.items[1:]:
        word, _, value = item.text.partition(" ")
        value = value.strip()
        if is_face(item):
            continue
        if word.lower() == "pins" and value:
            printed = tuple(v for v in re.split(r"\s*/\s*", value) if v)
        elif word.lower() in PLACES:
            part = _place(draft, line, part, item, word.lower(), value)
            if kind.name == "ground strap" and word.lower() == "on" and "/" in value:
                second = value.partition("/")[2].strip().lower()
                if second in BODIES:
                    reader.found["second body"] = second
        else:
            reader.read(item)
    pins = printed if printed and not kind.pins else _pins(kind, reader)
    if printed:
        reader.found["pins"] = " / ".join(printed)
    return replace(part, attrs=reader.found, pins=pins)


def _pins(kind: Kind, reader: Reader) -> tuple[str, ...]:
    if kind.pins or kind.name != PLUG:
        return kind.pins
    ways = reader.found.get("ways", 0)
    count = int(ways) if isinstance(ways, float | int) else 0
    return tuple(str(number) for number in range(1, min(count, 500) + 1))


def _place(draft: Draft, line: Line, part: Part, item: Bit, word: str, value: str) -> Part:
    report = draft.report
    if not value and word != "backprobe":
        examples = {
            "at": "at under the seat", "on": "on frame", "open": "open 4 min",
            "close": "close 3 min", "pins": "pins A / B",
        }  # fmt: skip
        report.add(
            "missing-value", line.spot(item), word=word, what=f"`{word}`", example=examples[word]
        )
        return part
    if word == "at":
        return replace(part, where=" ".join(value.split()))
    if word == "on":
        body = value.partition("/")[0].strip().lower()
        for name in value.lower().split("/"):
            if name.strip() not in BODIES:
                report.add(
                    "unknown-body", line.spot(item), name=name.strip(), known=", ".join(BODIES)
                )
                return part
        return replace(part, body=body)
    if word == "backprobe":
        if value.lower() not in ("", "yes", "no"):
            report.add(
                "unknown-word", line.spot(item), word=value, what="backprobe",
                known="yes, no", near="",
            )  # fmt: skip
        return replace(part, backprobe=value.lower() != "no")
    seconds = read_number(draft, line, item, word, value, "s")
    if seconds is None:
        return part
    return replace(part, open_s=seconds) if word == "open" else replace(part, close_s=seconds)


def read_number(
    draft: Draft, line: Line, item: Bit, what: str, text: str, unit: str
) -> float | None:
    """A quantity of one unit, or None (reported)."""
    quantity = parse_quantity(text)
    if quantity is None:
        draft.report.add(
            "unreadable-number", line.spot(item), text=text,
            wanted=f"{what} is measured in {unit_words(unit)}.",
        )  # fmt: skip
        return None
    value = fit_unit(quantity, unit)
    if value is None:
        draft.report.add("wrong-unit", line.spot(item), text=text, what=what, unit=unit_words(unit))
    return value
