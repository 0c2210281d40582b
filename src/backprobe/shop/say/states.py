"""Sentences without a figure: codes, what works, fuses, looks, whether it is failing."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final, get_args

from backprobe.book.lines import Bit
from backprobe.book.situations import KEYS
from backprobe.findings.model import (
    AnyFinding,
    CodesFound,
    Condition,
    Failing,
    FuseFound,
    Looked,
    Provoked,
    Works,
)
from backprobe.shop.say.ear import Ear, Sentence
from backprobe.shop.say.names import find, near, squeezed
from backprobe.shop.say.readings import heard_live
from backprobe.shop.say.situation import stood

FUSES: Final = ("fuse", "fusible link", "circuit breaker")
FUSE_STATES: Final = (
    "looks good",
    "ohms good",
    "hot both sides",
    "hot one side",
    "blown",
    "blew",
    "held",
)
CONDITIONS: Final[tuple[Condition, ...]] = tuple(c for c in get_args(Condition) if c)
PROVOKING: Final[Mapping[str, Condition]] = {"moved": "moved", "wetted": "wet", "warmed": "hot"}
_AND: Final = re.compile(r"\s+and\s+")
_UNDER_LOAD: Final = ("hot both sides", "hot one side", "blew", "held")
_HOW_FOUND: Final = {"damage": True, "damaged": True, "nothing": False}
_SPN = re.compile(r"\bSPN\s*(\d+)\s*[,/]?\s*FMI\s*(\d+)", re.IGNORECASE)
_LISTS: Final = ("stored", "not", "by test", "first")
_COUNT: Final = re.compile(r"(?:x|\u00d7)(\d{1,4})", re.IGNORECASE)
BLINK_WORDS: Final = ("blink", "blinks", "blinking", "flash", "flashes", "flashing")
_BLINKS: Final = re.compile(r"\d{1,2}(-\d{1,2}){0,3}")
_MOST_BLINKS: Final = 24
"""Blink codes offered when one is not known."""


def _codes(ear: Ear, said: Sentence) -> AnyFinding | None:
    known = sorted(ear.names.units, key=len, reverse=True)
    unit = next((u for u in known if _begins(said.rest.text, u)), None)
    if unit is None:
        word = said.rest.text.split(" ", 1)[0]
        ear.doubt(
            "say-unknown-name", said.line, Bit(word, said.rest.column), sort="unit", name=word,
            near=near(word, known),
        )  # fmt: skip
        return None
    listed = _List(ear, said, unit)
    items = list(said.items)
    listed.hear(said.rest.part(len(unit)))
    while items and listed.is_code(items[0]):
        listed.hear(items.pop(0))
    start = replace(ear.now, key="on") if ear.now.key == "off" else ear.now
    sentence = replace(said, items=tuple(items))
    situation = heard_live(ear, sentence, start, key_needed=False)
    if listed.wrong or situation is None:
        return None
    if not listed.said:
        ear.doubt(
            "say-incomplete", said.line, said.line.body, begins=f"codes {unit}",
            missing="the list of codes, or none,", pattern=said.form.whole,
        )  # fmt: skip
        return None
    shown = (*listed.found["active"], *listed.found["stored"])
    return CodesFound(
        situation=situation,
        unit=unit,
        active=tuple(listed.found["active"]),
        stored=tuple(listed.found["stored"]),
        counts=tuple(listed.counts.get(code, 0) for code in shown) if listed.counts else (),
        first=tuple(code for code in listed.found["first"] if code in shown),
        by_test=tuple(listed.found["by test"]),
        absent=tuple(listed.found["not"]),
        complete=not (listed.more or listed.found["not"]),
    )


def _begins(text: str, name: str) -> bool:
    rest = text[len(name) :]
    return text[: len(name)].casefold() == name.casefold() and not rest[:1].strip()


class _List:
    """Codes word by word; a code may itself be several words."""

    def __init__(self, ear: Ear, said: Sentence, unit: str) -> None:
        self.found: dict[str, dict[str, None]] = {name: {} for name in ("active", *_LISTS)}
        self.more = self.said = self.wrong = False
        self._ear, self._said, self._unit = ear, said, unit
        self._codes = ear.names.codes(unit)
        self._blinks = ear.names.blinks(unit)
        self.counts: dict[str, int] = {}
        self._list = "active"
        self._blinking = False
        self._tokens = re.compile(r'"[^"]*"|\S+')

    def is_code(self, item: Bit) -> bool:
        """Whether an item after a comma goes on with the list."""
        text = _joined(item.text)
        first = text.split(" ", 1)[0].casefold()
        return (
            text.startswith('"')
            or first in ("stored", "not", "none", "perhaps", "first")
            or _COUNT.fullmatch(first) is not None
            or text.casefold().startswith("by test")
            or "/" in first
            or first in BLINK_WORDS
            or first in self._blinks
            or find(text, self._codes) is not None
        )

    def hear(self, bit: Bit) -> None:
        """Take the codes of one stretch."""
        text = _joined(bit.text)
        tokens = list(self._tokens.finditer(text))
        at = 0
        while at < len(tokens):
            at += self._one(bit, [m.group() for m in tokens[at:]], tokens[at].start())

    def _one(self, bit: Bit, words: list[str], start: int) -> int:
        """Take what stands first; how many words it was."""
        self.said = True
        pair = " ".join(words[:2]).casefold()
        if pair in ("by test", "perhaps more"):
            self.more = self.more or pair == "perhaps more"
            self._list = pair if pair in _LISTS else self._list
            return 2
        if (count := _COUNT.fullmatch(words[0])) and self.found[self._list]:
            self.counts[next(reversed(self.found[self._list]))] = int(count[1])
            return 1
        if words[0].casefold() in ("none", "stored", "active", "not", "first"):
            self._list = words[0].casefold() if words[0].casefold() != "none" else self._list
            return 1
        if words[0].casefold() in BLINK_WORDS and len(words) > 1:
            self._blinking = True
            return 1
        if _BLINKS.fullmatch(words[0]) and (self._blinking or self._is_bare_blink(words[0])):
            self._blink(Bit(words[0], bit.column + start))
            return 1
        if words[0].startswith('"') and words[0].endswith('"') and len(words[0]) > 2:
            self.found[self._list][squeezed(words[0].strip('"'))] = None
            return 1
        for length in range(min(6, len(words)), 0, -1):
            code = find(" ".join(words[:length]), self._codes)
            if code is not None:
                self.found[self._list][code] = None
                return length
        self.wrong = True
        self._ear.doubt(
            "say-unknown-code", self._said.line, Bit(words[0], bit.column + start),
            code=words[0], unit=self._unit, near=near(words[0], self._codes),
        )  # fmt: skip
        return 1

    def _is_bare_blink(self, word: str) -> bool:
        """Groups without a word before them: not where they may be a code of their own."""
        own = {word, word.replace("-", "/", 1)} & {*self._codes}
        return "-" in word and bool(self._blinks) and not own

    def _blink(self, bit: Bit) -> None:
        """Take a code as a lamp blinks it: "3-2" is three times, then twice."""
        if bit.text in self._blinks:
            self.found[self._list][self._blinks[bit.text]] = None
            return
        self.wrong = True
        known = [f"{blinks} ({code})" for blinks, code in sorted(self._blinks.items())]
        if len(known) > _MOST_BLINKS:
            known = [*known[:_MOST_BLINKS], f"{len(known) - _MOST_BLINKS} more"]
        self._ear.doubt(
            "say-unknown-blinks", self._said.line, bit, code=bit.text, unit=self._unit,
            known=", ".join(known) or f"no blink codes of {self._unit}",
        )  # fmt: skip


def _joined(text: str) -> str:
    """SPN and FMI in words as "157/4", of the same length so that columns stay right."""
    return _SPN.sub(lambda m: f"{m[1]}/{m[2]}".ljust(len(m[0])), text)


def _works(ear: Ear, said: Sentence) -> AnyFinding | None:
    target = _named(ear, said, said.rest, ear.names.workers, "function or part")
    if target is None:
        return None
    function = target in ear.book.functions
    start, use = ear.now, ear.names.use_of(target)
    if use is not None:
        own = next((key for key in KEYS if key == use[0]), start.key)
        key = own if function or own == "crank" or start.key == "off" else start.key
        start = replace(start, key=key, on=start.on | use[1])
    situation = heard_live(ear, said, start, key_needed=use is None)
    if situation is None:
        return None
    return Works(situation=situation, target=target, works=said.form.begins == "works")


def _fuse(ear: Ear, said: Sentence) -> AnyFinding | None:
    text = said.rest.text
    state = next((s for s in FUSE_STATES if _ends(text, s)), None)
    if state is None:
        ear.doubt(
            "say-unknown-answer", said.line, said.rest, words=squeezed(text),
            question="how was the fuse found", known=", ".join(FUSE_STATES),
            near=near(squeezed(text).partition(" ")[2], FUSE_STATES),
        )  # fmt: skip
        return None
    words = text.split()
    length = len(text.rstrip()) - len(words[-1])
    for word in reversed(words[-len(state.split()) : -1]):
        length = text.rindex(word, 0, length)
    name = _named(ear, said, said.rest.part(0, length), ear.names.parts, "fuse")
    if name is None:
        return None
    kind = ear.book.parts[name].kind
    if kind not in FUSES:
        ear.doubt("say-not-a-fuse", said.line, said.rest, name=name, kind=kind)
        return None
    if state in _UNDER_LOAD:
        situation = heard_live(ear, said, ear.now)
    else:
        told = stood(ear, said.line, said.items, ear.now)
        situation = told.situation if told else None
    if situation is None:
        return None
    return FuseFound(situation=situation, fuse=name, state=state)  # type: ignore[arg-type]


def _ends(text: str, state: str) -> bool:
    words, wanted = text.casefold().split(), state.split()
    return len(words) > len(wanted) and words[-len(wanted) :] == wanted


def _looked(ear: Ear, said: Sentence) -> AnyFinding | None:
    text = said.rest.text
    place, colon, answer = text.rpartition(":")
    if not colon:
        place, _, answer = text.rpartition(" ")
    word = squeezed(answer).casefold()
    if word not in _HOW_FOUND or not place.strip():
        ear.doubt(
            "say-unknown-answer", said.line, said.rest, words=squeezed(text),
            question="what was to be seen", known="PLACE: damage, PLACE: nothing",
            near=near(word, _HOW_FOUND),
        )  # fmt: skip
        return None
    target = _named(ear, said, said.rest.part(0, len(place)), ear.names.looks, "place")
    told = stood(ear, said.line, said.items, ear.now)
    if target is None or told is None:
        return None
    return Looked(situation=told.situation, target=target, damage=_HOW_FOUND[word])


def _failing(ear: Ear, said: Sentence) -> AnyFinding | None:
    words = squeezed(said.rest.text).casefold()
    items = said.items
    condition: Condition = ""
    if words.startswith("only when "):
        answer, told_so = "only when", words.removeprefix("only when ")
        condition = next((c for c in CONDITIONS if c == told_so), "")
        wrong = not condition
    else:
        answer, wrong = words, words not in ("yes", "gone")
    if wrong:
        known = ["yes", "gone", *(f"only when {c}" for c in CONDITIONS)]
        ear.doubt(
            "say-unknown-answer", said.line, said.rest, words=squeezed(said.rest.text),
            question="is it failing right now", known=", ".join(known), near=near(words, known),
        )  # fmt: skip
        return None
    if items and not condition:
        first = squeezed(items[0].text).casefold()
        condition = next((c for c in CONDITIONS if c == first), "")
        items = items[1:] if condition else items
    told = stood(ear, said.line, items, ear.now)
    if told is None:
        return None
    return Failing(situation=told.situation, answer=answer, condition=condition)  # type: ignore[arg-type]


def _places(ear: Ear, said: Sentence, bit: Bit) -> tuple[str, ...] | None:
    """Places joined by "and"."""
    whole = find(bit.text, ear.names.looks)
    if whole is not None:
        return (whole,)
    bits, start = [], 0
    for match in _AND.finditer(bit.text):
        bits.append(bit.part(start, match.start()))
        start = match.end()
    bits.append(bit.part(start))
    names = [_named(ear, said, one, ear.names.looks, "place") for one in bits]
    return tuple(name for name in names if name) if all(names) else None


def _provoked(ear: Ear, said: Sentence) -> AnyFinding | None:
    before, colon, answer = said.rest.text.partition(":")
    word = squeezed(answer).casefold()
    if not colon or not (word == "nothing" or word.startswith("shows at ")):
        ear.doubt(
            "say-unknown-answer", said.line, said.rest, words=squeezed(said.rest.text),
            question="what happened", known="PLACE: nothing, PLACE: shows at PLACE", near="",
        )  # fmt: skip
        return None
    places = _places(ear, said, said.rest.part(0, len(before)))
    told = stood(ear, said.line, said.items, ear.now)
    if places is None or told is None:
        return None
    shown = ""
    if word != "nothing":
        where = said.rest.part(len(before) + 1).part(len("shows at "))
        found = _named(ear, said, where, {place: place for place in places}, "place tried")
        if found is None:
            return None
        shown = found
    return Provoked(
        situation=told.situation,
        places=places,
        condition=PROVOKING[said.form.begins],
        shown_at=shown,
    )


def _named(ear: Ear, said: Sentence, bit: Bit, known: Mapping[str, str], sort: str) -> str | None:
    name = find(bit.text, known)
    if name is None and not bit.text:
        ear.doubt(
            "say-incomplete", said.line, said.line.body, begins=said.form.begins,
            missing=f"the {sort}", pattern=said.form.whole,
        )  # fmt: skip
    elif name is None:
        word = squeezed(bit.text)
        ear.doubt("say-unknown-name", said.line, bit, sort=sort, name=word, near=near(word, known))
    return name


named = _named

LISTENERS: Final[Mapping[str, Callable[[Ear, Sentence], AnyFinding | None]]] = {
    "codes": _codes,
    "works": _works,
    "dead": _works,
    "fuse": _fuse,
    "looked": _looked,
    "failing": _failing,
    **dict.fromkeys(PROVOKING, _provoked),
}
