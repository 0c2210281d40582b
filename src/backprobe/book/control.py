"""What the book says about control units: roles of pins, 5 V groups, codes, display values."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from backprobe.base.units import parse_quantity
from backprobe.book.attributes import Reader
from backprobe.book.draft import UNIT, UNITS, Draft
from backprobe.book.facts import Fact
from backprobe.book.lines import Bit, Line
from backprobe.book.model import CodeRule, DisplayValue, Group, Pin, PinRole, Test
from backprobe.book.parts import read_number
from backprobe.book.wires import resolve_pin
from backprobe.kinds import KINDS, ROLES, role_named

_TO_GROUP = re.compile(r"(?:^|\s)(?:to\s+)?(?:5\s?V\s+)?group\s+(\S+)$", re.IGNORECASE)
_TEST = re.compile(r"^(?P<what>.+?)\s*(?P<sign>[<>])\s*(?P<low>[^<>]+?)"
                   r"(?:\s+or\s*>\s*(?P<high>[^<>]+))?$", re.IGNORECASE)  # fmt: skip
_RANGE = re.compile(
    r"^(?P<a>\S+\s*\S*)\s+to\s+(?P<b>\S+\s*\S*)\s+is\s+(?P<low>[+-]?[\d.,]+)\s+to\s+"
    r"(?P<high>[+-]?[\d.,]+)\s*(?P<measure>.*)$",
    re.IGNORECASE,
)
_BLINKS = re.compile(r"[1-9]\d?(?:(?:\s*-\s*|\s+)[1-9]\d?){0,3}")
GROUP_LIMIT_A = 0.1
"""Amperes a 5 V group gives when no limit was typed. Judgement."""


def unit_named(draft: Draft, bit: Bit, line: Line) -> str | None:
    """The control unit a bit names; made when nobody declared it and no name is near."""
    name = draft.name(bit, line)
    if name is None:
        return None
    part = draft.parts.get(name)
    if part is None:
        near = draft.report.near(name, draft.units(), cutoff=0.75)
        if near:
            draft.report.add("unknown-part", line.spot(bit), name=name, near=near)
            return None
        draft.add_assumed(name, KINDS[UNIT], "it has pins, groups or codes of a unit", line)
        return name
    if part.kind not in UNITS:
        draft.report.add(
            "not-a-unit", line.spot(bit), name=name, kind=f"a {draft.kind(name).words[0]}",
            near=draft.report.near(name, draft.units(), cutoff=0.6),
        )  # fmt: skip
        return None
    return name


def split_unit(draft: Draft, bit: Bit, *, least: int = 1) -> tuple[Bit, Bit]:
    """Part "ECU rail pressure" into unit and name: the longest start that names a unit, else the
    first word; `least` words are left for the name."""
    starts = [m.end() for m in re.finditer(r"\S+", bit.text)]
    for end in reversed(starts[: len(starts) - least]):
        if " ".join(bit.text[:end].split()) in draft.parts:
            return bit.part(0, end), bit.part(end)
    end = starts[0] if starts else 0
    return bit.part(0, end), bit.part(end)


def split_role(text: str) -> tuple[str, str]:
    """(role name, rest) of the longest start that names a role; ("", text) when none does."""
    words = text.split()
    for count in range(len(words), 0, -1):
        role = role_named(" ".join(words[:count]))
        if role is not None:
            return role.name, " ".join(words[count:])
    return "", text


def read_role(draft: Draft, fact: Fact) -> None:
    """`UNIT.PIN: ROLE [quantities], [ATTRIBUTE VALUE], ...`."""
    report, line, head = draft.report, fact.line, fact.head[0]
    dot = head.text.rindex(".")
    unit = unit_named(draft, head.part(0, dot), line)
    number = " ".join(head.text[dot + 1 :].split())
    if unit is None or not fact.items:
        return
    if not number:
        report.add("missing-pin", line.spot(head), part=unit, kind=UNIT, known="its numbered pins")
        return
    pin = Pin(unit, number)
    if not draft.first(f"pin {pin}", fact):
        return
    draft.add_pin(unit, number)
    first = fact.items[0]
    name, rest = split_role(first.text)
    if not name:
        known = [word for role in ROLES.values() for word in role.words[:1]]
        every = [word for role in ROLES.values() for word in role.words]
        report.add(
            "unknown-role", line.spot(first), word=first.text,
            known=", ".join(known), near=report.near(first.text, every, cutoff=0.6),
        )  # fmt: skip
        return
    role = ROLES[name]
    reader = Reader(role.attributes, role.words[0], line, report, also=("to group NAME",))
    group = ""
    words = first.text.split()
    taken = len(words) - len(rest.split())
    if rest and words[taken - 1].lower() == "group":
        group, taken = words[taken], taken + 1
    after = first.after_words(taken)
    items = [after] if taken < len(words) else []
    for item in (*items, *fact.items[1:]):
        match = _TO_GROUP.search(item.text)
        if match:
            group = match[1]
            if "to" in reader.attributes and re.match(r"\s*to\b", match.group(), re.IGNORECASE):
                reader.found["to"] = "group"
        before = item.part(0, match.start()) if match else item
        if before.text:
            reader.read(before)
    draft.add_role(PinRole(pin=pin, role=name, attrs=reader.found, group=group, origin=fact.origin))


def read_group(draft: Draft, fact: Fact) -> None:
    """`group UNIT NAME: 5 V, limit 100 mA, latches`."""
    line = fact.line
    head, name = split_group(fact.head[0])
    unit = unit_named(draft, head, line)
    if unit is None or not draft.first(f"group {unit} {name.text}", fact):
        return
    volts, limit, latches = 5.0, None, False
    for item in fact.items:
        word, _, rest = item.text.partition(" ")
        quantity = parse_quantity(item.text)
        if quantity and quantity.unit == "V":
            volts = quantity.value
        elif word.lower() == "limit":
            limit = read_number(draft, line, item, "limit", rest, "A")
        elif word.lower() == "latches" and rest.lower() in ("", "yes", "no"):
            latches = rest.lower() != "no"
        else:
            draft.report.add(
                "unknown-attribute", line.spot(item), word=item.text, owner="a 5 V group",
                known="its voltage, limit, latches",
                near=draft.report.near(word, ("limit", "latches")),
            )  # fmt: skip
    if limit is None:
        limit = default_limit(draft, unit, name.text)
    draft.groups[(unit, name.text)] = Group(
        unit=unit, name=name.text, volts=volts, limit_a=limit, latches=latches, origin=fact.origin
    )


def default_limit(draft: Draft, unit: str, name: str) -> float:
    """The limit of a 5 V group nobody gave one, listed as assumed."""
    draft.assume(f"group {unit} {name}", "limit 100 mA", "the usual size; no limit was typed")
    return GROUP_LIMIT_A


def split_group(bit: Bit) -> tuple[Bit, Bit]:
    """Unit and group name: the name is the last word."""
    words = bit.text.split()
    if len(words) < 2:
        return bit, Bit("", bit.column)
    start = bit.text.rindex(words[-1])
    return bit.part(0, start), bit.part(start)


@dataclass(slots=True)
class _Code:
    """A code line while it is read."""

    unit: str
    name: str
    tests: list[Test] = field(default_factory=list)
    lists: dict[str, list[str]] = field(default_factory=lambda: {"with": [], "hides": []})
    when: tuple[str, ...] = ("on", "crank", "run")
    for_s: float = 2.0
    effect: str = ""
    blinks: str = ""


def read_code(draft: Draft, fact: Fact) -> None:
    """`code UNIT CODE "words": TEST, ..., key on run, for 2 s, then derate, hides 94/1, blinks 3-2`."""
    line = fact.line
    head, name = split_unit(draft, fact.head[0])
    unit = unit_named(draft, head, line)
    code_name = " ".join(name.text.split())
    if unit is None or not draft.first(f"code {unit} {code_name}", fact):
        return
    code = _Code(unit, code_name)
    listing = ""
    for item in fact.items:
        word, _, rest = item.text.partition(" ")
        listing = _code_item(draft, line, code, item, word.lower(), rest.strip(), listing)
    if not code.tests:
        draft.report.add("code-without-test", line.spot(fact.head[0]), name=code_name, unit=unit)
        return
    draft.codes[(unit, code_name)] = CodeRule(
        unit=unit,
        code=code_name,
        words=fact.head[1].text.strip('"'),
        tests=tuple(code.tests),
        when=code.when,
        commands=tuple(code.lists["with"]),
        for_s=code.for_s,
        effect=code.effect,
        hides=tuple(code.lists["hides"]),
        blinks=code.blinks,
        origin=fact.origin,
    )


def _code_item(
    draft: Draft, line: Line, code: _Code, item: Bit, word: str, rest: str, listing: str
) -> str:
    """Take one item; returns the list the next bare item belongs to."""
    if word == "key" and rest:
        code.when = read_keys(draft, line, item, rest) or code.when
    elif word in code.lists and rest:
        code.lists[word] += [name.strip() for name in re.split(r"\s[/+]\s", rest)]
        return word
    elif word == "for" and rest:
        seconds = read_number(draft, line, item, "for", rest, "s")
        code.for_s = code.for_s if seconds is None else seconds
    elif word == "then" and rest:
        code.effect = rest
    elif word == "blinks" and rest:
        code.blinks = _blinks(draft, line, code, item, rest)
    elif word == "hears" and rest:
        other = unit_named(draft, item.part(len("hears")), line)
        if other:
            code.tests.append(Test(kind="hears", other=other))
    elif match := _TEST.match(item.text):
        test = _test(draft, line, code.unit, item, match)
        if test:
            code.tests.append(test)
    elif listing:
        code.lists[listing].append(item.text)
        return listing
    else:
        draft.report.add("unreadable-test", line.spot(item), text=item.text)
    return ""


def _blinks(draft: Draft, line: Line, code: _Code, item: Bit, text: str) -> str:
    """How often a lamp blinks in each group; "" when that cannot be or is another code's (reported)."""
    if not _BLINKS.fullmatch(text):
        draft.report.add("unreadable-blinks", line.spot(item), text=text)
        return ""
    groups = "-".join(text.replace("-", " ").split())
    for other in draft.codes.values():
        if other.unit == code.unit and other.blinks == groups:
            draft.report.add(
                "blinks-twice", line.spot(item), blinks=groups, unit=code.unit, first=other.code
            )
            return ""
    return groups


def read_keys(draft: Draft, line: Line, item: Bit, text: str) -> tuple[str, ...]:
    """Key positions: "on run", "on / run"."""
    known = ("off", "on", "crank", "run")
    words = [word for word in text.lower().split() if word not in ("/", "or", "and")]
    for word in words:
        if word not in known:
            draft.report.add(
                "unknown-word", line.spot(item), word=word, what="key",
                known=", ".join(known), near=draft.report.near(word, known),
            )  # fmt: skip
            return ()
    return tuple(key for key in known if key in words)


def _test(draft: Draft, line: Line, unit: str, item: Bit, match: re.Match[str]) -> Test | None:
    limits: list[float | None] = []
    units = set()
    for text in (match["low"], match["high"]):
        quantity = parse_quantity(text) if text else None
        if text and (quantity is None or quantity.unit not in ("V", "A")):
            draft.report.add(
                "unreadable-number", line.spot(item), text=text.strip(),
                wanted="A code looks at volts or amperes.",
            )  # fmt: skip
            return None
        limits.append(quantity.value if quantity else None)
        if quantity:
            units.add(quantity.unit)
    low, high = limits
    if match["sign"] == ">":
        low, high = None, low
    if len(units) != 1:
        draft.report.add("unreadable-test", line.spot(item), text=item.text)
        return None
    amps = units == {"A"}
    what = match["what"].strip()
    if not amps and what.lower() == "supply":
        return Test(kind="supply", low=low, high=high)
    group = _TO_GROUP.search(what)
    if not amps and group and group.start() == 0:
        return Test(kind="rail", other=group[1], low=low, high=high)
    pin = read_unit_pin(draft, line, item.part(0, len(match["what"])), unit)
    return Test(kind="amps" if amps else "volts", pin=pin, low=low, high=high) if pin else None


def read_unit_pin(draft: Draft, line: Line, bit: Bit, unit: str) -> Pin | None:
    """A printed pin ("ECU.31", or "31" of the unit itself); None when there is none (reported)."""
    head, dot, number = bit.text.rpartition(".")
    name = " ".join(head.split()) if dot else unit
    number = number.strip()
    if dot and name not in draft.parts:
        draft.part_named(bit.part(0, len(head)), line)
    if name not in draft.parts or not number:
        return None
    if name == unit:
        draft.add_pin(unit, number)
        return Pin(unit, number)
    found = resolve_pin(draft, name, number)
    if found is None:
        draft.report.add(
            "unknown-pin", line.spot(bit), part=name, pin=number,
            kind=draft.kind(name).words[0], known=", ".join(list(draft.pins_of(name))[:24]),
            near=draft.report.near(number, draft.pins_of(name)),
        )  # fmt: skip
        return None
    return Pin(name, found[0])


def read_display(draft: Draft, fact: Fact) -> None:
    """`display UNIT NAME: PIN, 0.5 V to 4.5 V is 0 to 1800 bar`."""
    line = fact.line
    head, bit = split_unit(draft, fact.head[0])
    unit = unit_named(draft, head, line)
    name = draft.name(bit, line)
    if unit is None or name is None or not draft.first(f"display {unit} {name}", fact):
        return
    pin = read_unit_pin(draft, line, fact.items[0], unit) if fact.items else None
    match = _RANGE.match(fact.items[1].text) if len(fact.items) == 2 else None
    volts = [parse_quantity(match[key]) for key in "ab"] if match else []
    if match is None or any(v is None or v.unit != "V" for v in volts):
        draft.report.add(
            "unreadable-number", line.spot(fact.items[1] if len(fact.items) > 1 else None),
            text=fact.items[1].text if len(fact.items) > 1 else "",
            wanted="A display value reads: 0.5 V to 4.5 V is 0 to 1800 bar.",
        )  # fmt: skip
        return
    low_v, high_v = (v.value for v in volts if v is not None)
    if low_v >= high_v:
        draft.report.add(
            "empty-range", line.spot(fact.items[1]), name=name,
            low=f"{low_v:g} V", high=f"{high_v:g} V",
        )  # fmt: skip
        return
    if pin is None:
        return
    draft.displays[(unit, name)] = DisplayValue(
        unit=unit,
        name=name,
        pin=pin,
        low_v=low_v,
        high_v=high_v,
        low=float(match["low"].replace(",", ".")),
        high=float(match["high"].replace(",", ".")),
        measure=match["measure"].strip(),
        origin=fact.origin,
    )
