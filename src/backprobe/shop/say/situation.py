"""The words after a comma: how key, loads, plugs and leads stood."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from backprobe.book.lines import Bit, Line
from backprobe.book.model import MINUS
from backprobe.book.situations import Key, Lead, Situation
from backprobe.book.values import printed_pins
from backprobe.circuit.fittings import DIODE_TESTER, FITTINGS
from backprobe.shop.say.ear import Ear
from backprobe.shop.say.names import find, near, squeezed

KEY_WORDS: Final[Mapping[str, Key]] = {
    "key off": "off",
    "key on": "on",
    "engine stopped": "on",
    "cranking": "crank",
    "key crank": "crank",
    "running": "run",
    "engine running": "run",
    "key run": "run",
}
BATTERY: Final = {
    "battery off": True,
    "battery minus off": True,
    "battery on": False,
    "battery minus on": False,
}
LEADS: Final = tuple(kind for kind in FITTINGS if kind != DIODE_TESTER)
ENDINGS: Final = ("unplugged", "plugged", "pulled", "fitted", "new", "on", "off")
_LEAD = re.compile(
    rf"^(?P<kind>{'|'.join(LEADS)})\s+from\s+(?P<p>.+?)\s+to\s+(?P<n>.+)$", re.IGNORECASE
)
_AND = re.compile(r"\s+and\s+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stood:
    """A situation as said. `key` and `battery`: whether the line itself named them."""

    situation: Situation
    key: bool
    battery: bool


def stood(ear: Ear, line: Line, items: tuple[Bit, ...], start: Situation) -> Stood | None:
    """The situation some items describe, from `start`; None when one is not understood."""
    listener = _Listener(ear=ear, line=line, now=start)
    others = [item for item in items if not listener.whole(item)]
    fine = True
    waiting: list[Bit] = []
    for item in others:
        if find(item.text, ear.names.commands | ear.names.plugged) is not None:
            waiting.append(item)
        else:
            fine = listener.hear(item, waiting) and fine
            waiting = []
    for bit in waiting:
        ear.doubt("say-unfinished-list", line, bit, words=squeezed(bit.text))
    if waiting or not fine:
        return None
    return Stood(situation=listener.now, key=listener.key, battery=listener.battery)


@dataclass(slots=True)
class _Listener:
    ear: Ear
    line: Line
    now: Situation
    key: bool = False
    battery: bool = False

    def whole(self, item: Bit) -> bool:
        """Take an item that holds no names: the key first, so that loads named before it stay."""
        word = squeezed(item.text).casefold()
        if word in KEY_WORDS:
            self._key(KEY_WORDS[word], again=word == "engine stopped")
        elif word == "all back":
            self.battery = True
            self.now = Situation(key=self.now.key, on=self.now.on, renewed=self.now.renewed)
        else:
            return False
        return True

    def hear(self, item: Bit, before: list[Bit]) -> bool:
        """Take one item, with the names that were listed before it."""
        word = squeezed(item.text).casefold()
        lead = _LEAD.match(item.text)
        if word in BATTERY and not before:
            self.battery = True
            self.now = replace(self.now, battery_off=BATTERY[word])
            return True
        if lead and not before:
            return self._lead(item, lead)
        ending = next((e for e in ENDINGS if word.endswith(f" {e}")), None)
        if ending is None:
            self._doubt(item)
            return False
        names = item.part(0, len(item.text) - len(ending))
        return self._names([*before, *self._listed(names, ending)], ending)

    def _key(self, key: Key, *, again: bool) -> None:
        if not (again and self.key):
            live = key != "off"
            off = False if live else self.now.battery_off
            self.now = replace(self.now, key=key, on=frozenset(), battery_off=off)
            self.battery = self.battery or live
        self.key = True

    def _lead(self, item: Bit, lead: re.Match[str]) -> bool:
        ends = []
        for end in ("p", "n"):
            bit = item.part(lead.start(end), lead.end(end))
            node = heard_place(self.ear, self.line, bit)
            if node is None:
                return False
            ends.append(node)
        kind = next(k for k in LEADS if k.casefold() == squeezed(lead["kind"]).casefold())
        fitted = Lead(kind=kind, p=ends[0], n=ends[1])
        if fitted not in self.now.fitted:
            self.now = replace(self.now, fitted=(*self.now.fitted, fitted))
        return True

    def _known(self, ending: str) -> dict[str, str]:
        names = self.ear.names
        return names.commands if ending in ("on", "off") else names.plugged

    def _listed(self, bit: Bit, ending: str) -> list[Bit]:
        """The names joined by "and", unless all of it is one name."""
        if find(bit.text, self._known(ending)) or self.ear.names.switches_of(bit.text):
            return [bit]
        found, start = [], 0
        for match in _AND.finditer(bit.text):
            found.append(bit.part(start, match.start()))
            start = match.end()
        return [*found, bit.part(start)]

    def _names(self, bits: list[Bit], ending: str) -> bool:
        known, switching = self._known(ending), ending in ("on", "off")
        found: set[str] = set()
        fine = True
        for bit in bits:
            name = find(bit.text, known)
            if name is not None:
                found.add(name)
            elif switching and (switches := self.ear.names.switches_of(bit.text)):
                found |= switches
            else:
                fine = False
                self.ear.doubt(
                    "say-unknown-name",
                    self.line,
                    bit,
                    sort="switch" if switching else "plug, fuse or relay",
                    name=squeezed(bit.text),
                    near=near(squeezed(bit.text), known),
                )
        self.now = _moved(self.now, ending, frozenset(found))
        return fine

    def _doubt(self, item: Bit) -> None:
        words = squeezed(item.text)
        self.ear.doubt(
            "say-unknown-situation",
            self.line,
            item,
            words=words,
            near=near(words, (*KEY_WORDS, *BATTERY, "all back")),
        )


def _moved(now: Situation, ending: str, names: frozenset[str]) -> Situation:
    match ending:
        case "on":
            return replace(now, on=now.on | names)
        case "off":
            return replace(now, on=now.on - names)
        case "unplugged":
            return replace(now, unplugged=now.unplugged | names)
        case "pulled":
            return replace(now, pulled=now.pulled | names)
        case "new":
            return replace(now, renewed=now.renewed | names, pulled=now.pulled - names)
        case _:
            return replace(now, unplugged=now.unplugged - names, pulled=now.pulled - names)


def _also(printed: Mapping[str, str], pin: str) -> str:
    """What is printed at a pin, where it is not its kind's name."""
    name = printed.get(pin, pin)
    return "" if name == pin else f" (printed {name})"


def heard_place(ear: Ear, line: Line, bit: Bit) -> str | None:
    """The node a stretch names; what is wrong with it is noted."""
    node = ear.names.place(bit.text)
    if node is not None:
        return node
    part, pin = ear.names.part_of(squeezed(bit.text))
    if not part:
        known = (*ear.names.parts, MINUS, *ear.names.places)
        ear.doubt(
            "say-unknown-name",
            line,
            bit,
            sort="place",
            name=squeezed(bit.text),
            near=near(squeezed(bit.text), known),
        )
        return None
    pins = ear.names.pins.get(part, ())
    printed = printed_pins(ear.book.parts[part])
    wired = ", ".join(f"{part}.{name}{_also(printed, name)}" for name in pins) or "none"
    if pin:
        ear.doubt(
            "say-unknown-pin", line, bit, part=part, pin=pin, known=wired, near=near(pin, pins)
        )
    else:
        ear.doubt("say-which-pin", line, bit, part=part, known=wired)
    return None
