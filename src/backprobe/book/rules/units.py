"""Rules about control units: groups, codes, functions."""

from __future__ import annotations

from math import inf

from backprobe.base.problems import Spot
from backprobe.base.units import show
from backprobe.book.feeds import GROUP_ROLE
from backprobe.book.model import CodeRule, Pin
from backprobe.book.rules.context import Checked
from backprobe.kinds import ROLES
from backprobe.kinds.roles import FILTER_OHM


def _place(at: Spot | None, *words: str) -> Spot | None:
    """The stretch of a fact's line where one of the words stands last."""
    if at is None:
        return None
    for word in words:
        start = at.text.rfind(word) if word else -1
        if start >= 0:
            return Spot(
                file=at.file, line=at.line, column=start + 1, end=start + 1 + len(word),
                text=at.text,
            )  # fmt: skip
    return at


def group_without_source(checked: Checked) -> None:
    """A 5 V group without a pin of its unit."""
    sources = {
        (pin.part, role.group)
        for pin, role in checked.draft.roles.items()
        if role.role == GROUP_ROLE
    }
    for (unit, name), group in checked.draft.groups.items():
        if (unit, name) not in sources:
            checked.report.add("group-without-source", group.origin.at, unit=unit, name=name)


def unknown_group(checked: Checked) -> None:
    """A code that looks at a group its unit does not have."""
    for (unit, _), code in checked.draft.codes.items():
        for test in code.tests:
            if test.kind == "rail" and (unit, test.other) not in checked.draft.groups:
                known = [name for owner, name in checked.draft.groups if owner == unit]
                checked.report.add(
                    "unknown-group", _place(code.origin.at, f"group {test.other}"), unit=unit,
                    name=test.other, near=checked.report.near(test.other, known),
                )  # fmt: skip


def code_pin_not_sensed(checked: Checked) -> None:
    """A code on a pin its unit cannot sense that way."""
    for code in checked.draft.codes.values():
        for test in code.tests:
            if test.pin is None:
                continue
            trouble = _not_sensed(checked, code, test.pin, test.kind)
            if trouble:
                checked.report.add(
                    "code-pin-not-sensed", _place(code.origin.at, str(test.pin), test.pin.name),
                    name=code.code, pin=str(test.pin), unit=code.unit, role=trouble,
                    number=test.pin.name,
                )  # fmt: skip


def open_wire_not_seen(checked: Checked) -> None:
    """A code whose upper limit lies between what its pin reads with the wire open and the volts
    its pull-up hangs on."""
    for code in checked.draft.codes.values():
        for test in code.tests:
            role = checked.draft.roles.get(test.pin) if test.pin and test.kind == "volts" else None
            if role is None or test.high is None or "pull up" not in role.attrs:
                continue
            if role.attrs.get("to") == "supply":
                continue
            group = checked.draft.groups.get((code.unit, role.group))
            top = group.volts if group else 5.0
            up, down = float(role.attrs["pull up"]), float(role.attrs.get("pull down", inf))
            floats = top / (1.0 + up * (1.0 / FILTER_OHM + 1.0 / down))
            if floats < test.high < top:
                checked.report.add(
                    "open-wire-not-seen", _place(code.origin.at, f"{test.high:g} V", str(test.pin)),
                    name=code.code, pin=str(test.pin), limit=f"{test.high:g} V",
                    floats=f"{floats:.2f} V", up=show(up, "ohm"), leak=show(FILTER_OHM, "ohm"),
                )  # fmt: skip


def _not_sensed(checked: Checked, code: CodeRule, pin: Pin, kind: str) -> str:
    if pin.part != code.unit:
        return f"it belongs to {pin.part}"
    role = checked.draft.roles.get(pin)
    if role is None:
        return "nothing is said of what is behind it"
    record = ROLES[role.role]
    if kind == "amps" and not record.operated:
        return f"{record.words[0]} drives nothing"
    return "" if record.senses else record.words[0]


def unknown_code(checked: Checked) -> None:
    """A code that is hidden or needed but nowhere described."""
    draft = checked.draft
    units = list(draft.units())
    for code in draft.codes.values():
        for name in code.hides:
            if (code.unit, name) not in draft.codes:
                _tell_code(checked, code.unit, name, code.origin.at)
    for function in draft.functions.values():
        for need in function.needs:
            unit = next((u for u in units if need.startswith(f"{u} ")), "")
            if (
                need not in draft.parts
                and unit
                and (unit, need[len(unit) + 1 :]) not in draft.codes
            ):
                _tell_code(checked, unit, need[len(unit) + 1 :], function.origin.at)


def _tell_code(checked: Checked, unit: str, name: str, at: Spot | None) -> None:
    known = (code for owner, code in checked.draft.codes if owner == unit)
    checked.report.add(
        "unknown-code", _place(at, name), unit=unit, name=name,
        near=checked.report.near(name, known),
    )  # fmt: skip


def unknown_command(checked: Checked) -> None:
    """Something that depends on a switch or function nobody knows."""
    draft = checked.draft
    known = {**draft.parts, **draft.functions}
    asked = [(f"code {c.code}", c.commands, c.origin.at) for c in draft.codes.values()]
    asked += [(f"function {f.name}", f.commands, f.origin.at) for f in draft.functions.values()]
    for owner, attrs, at in (
        *((part.name, part.attrs, part.origin.at) for part in draft.parts.values()),
        *((str(role.pin), role.attrs, role.origin.at) for role in draft.roles.values()),
    ):
        listed = str(attrs.get("with", "")).split(" + ")
        asked.append((owner, tuple(name for name in listed if name), at))
    for owner, names, at in asked:
        for name in names:
            if name not in known:
                checked.report.add(
                    "unknown-command", _place(at, name), name=name, owner=owner,
                    near=checked.report.near(name, known),
                )  # fmt: skip
