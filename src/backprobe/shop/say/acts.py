"""Sentences about what was done: plugs, fuses, new parts, repairs, codes cleared, taking back."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final, get_args, get_type_hints

from backprobe.book.situations import Situation
from backprobe.findings.model import Act, AnyFinding, Approved, Bet, Recalled, Withdrawn
from backprobe.shop.say.ear import Ear, Sentence
from backprobe.shop.say.names import find, squeezed
from backprobe.shop.say.situation import stood
from backprobe.shop.say.states import named

_SORTS: Final = {
    "unplugged": "plug or part with a plug",
    "plugged": "plug or part with a plug",
    "pulled": "fuse or relay",
    "fitted": "fuse or relay",
    "replaced": "part",
    "repaired": "wire, plug, part or suspect",
}
_MINUTES: Final = re.compile(r"(\d{1,4}) ?(?:min|minutes)?", re.IGNORECASE)
_BY_HAND: Final = ("unplugged", "plugged", "pulled", "fitted")


def _act(ear: Ear, said: Sentence) -> AnyFinding | None:
    act = said.form.begins
    known = ear.names.mends if act == "repaired" else ear.names.parts
    target = named(ear, said, said.rest, known, _SORTS[act])
    if target is None:
        return None
    if act in _BY_HAND and target not in ear.names.plugged:
        ear.doubt(
            "say-not-here", said.line, said.rest, name=target, act=act,
            kind=ear.book.parts[target].kind,
            instead="For a stud, splice or cable type looked, repaired or replaced.",
        )  # fmt: skip
        return None
    told = stood(ear, said.line, said.items, ear.now)
    if told is None:
        return None
    key = "on" if told.situation.key == "run" and not told.key else told.situation.key
    situation = _after(replace(told.situation, key=key), act, target)
    return Act(situation=situation, act=act, target=target)  # type: ignore[arg-type]


def _after(situation: Situation, act: str, target: str) -> Situation:
    one = frozenset({target})
    if act == "unplugged":
        return replace(situation, unplugged=situation.unplugged | one)
    if act == "pulled":
        return replace(situation, pulled=situation.pulled | one)
    return replace(situation, unplugged=situation.unplugged - one, pulled=situation.pulled - one)


def _cleared(ear: Ear, said: Sentence) -> AnyFinding | None:
    target = ""
    if said.rest.text:
        unit = named(ear, said, said.rest, ear.names.units, "unit")
        if unit is None:
            return None
        target = unit
    start = replace(ear.now, key="on") if ear.now.key == "off" else ear.now
    told = stood(ear, said.line, said.items, start)
    return Act(situation=told.situation, act="codes cleared", target=target) if told else None


def _more_said(ear: Ear, said: Sentence) -> bool:
    """Whether more was said than such a sentence takes; noted as a doubt."""
    if said.items:
        ear.doubt(
            "say-left-over", said.line, said.items[0], words=squeezed(said.items[0].text),
            pattern=said.form.whole,
        )  # fmt: skip
    return bool(said.items)


def _bet(ear: Ear, said: Sentence) -> AnyFinding | None:
    target = named(ear, said, said.rest, {**ear.names.groups, **ear.names.parts}, "suspect")
    if target is None:
        return None
    if _more_said(ear, said):
        return None
    return Bet(situation=ear.now, target=target)


def _recalled(ear: Ear, said: Sentence) -> AnyFinding | None:
    known = {words: words for words in get_args(get_type_hints(Recalled)["what"])}
    what = named(ear, said, said.rest, known, "answer of a driver")
    if what is None:
        return None
    if _more_said(ear, said):
        return None
    return Recalled(situation=ear.now, what=what)  # type: ignore[arg-type]


def _approved(ear: Ear, said: Sentence) -> AnyFinding | None:
    minutes = _MINUTES.fullmatch(said.rest.text.strip())
    if minutes is None or said.items:
        ear.doubt(
            "say-left-over", said.line, said.items[0] if said.items else said.rest,
            words=squeezed((said.items[0] if said.items else said.rest).text),
            pattern=said.form.whole,
        )  # fmt: skip
        return None
    return Approved(situation=ear.now, seconds=60.0 * float(minutes[1]))


def _undo(ear: Ear, said: Sentence) -> AnyFinding | None:
    ids = [f.id for f in ear.known if f.id]
    wanted = find(said.rest.text, {ident: ident for ident in ids})
    if wanted is None:
        known = f"Findings that stand: {', '.join(ids)}." if ids else "Nothing was noted yet."
        ear.doubt(
            "say-unknown-finding", said.line, said.rest, name=squeezed(said.rest.text), known=known
        )
        return None
    if _more_said(ear, said):
        return None
    return Withdrawn(situation=ear.now, finding=wanted)


LISTENERS: Final[Mapping[str, Callable[[Ear, Sentence], AnyFinding | None]]] = {
    **dict.fromkeys(_SORTS, _act),
    "codes cleared": _cleared,
    "my bet": _bet,
    "driver says": _recalled,
    "approved": _approved,
    "undo": _undo,
}
