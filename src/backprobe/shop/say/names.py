"""Names of a book as a person types them: found as printed, in any case, or offered when near."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cached_property

from backprobe.book.model import BODIES, MINUS, Book
from backprobe.book.values import printed_pins
from backprobe.checks.layout import layout_of
from backprobe.defects.of_contacts import plug_group
from backprobe.defects.of_wires import rubbed_group, wire_group
from backprobe.kinds import KINDS, ROLES

NEAR = 3
_WORDY_PIN = re.compile(r"^(?P<part>.+?)\s+(?:way|pin|terminal)\s+(?P<pin>\S+)$", re.IGNORECASE)


def squeezed(text: str) -> str:
    """The text with single spaces."""
    return " ".join(text.split())


def near(word: str, known: Iterable[str]) -> str:
    """A sentence that offers the nearest known words, or ""."""
    by_fold = {name.casefold(): name for name in known}
    found = get_close_matches(word.casefold(), by_fold, n=NEAR, cutoff=0.6)
    return f" Did you mean {', '.join(by_fold[f] for f in found)}?" if found else ""


def find(word: str, known: Mapping[str, str]) -> str | None:
    """What a word stands for in a table of spellings: exactly, else in any case if only one."""
    word = squeezed(word)
    if word in known:
        return known[word]
    folded = word.casefold()
    found = {value for name, value in known.items() if name.casefold() == folded}
    return found.pop() if len(found) == 1 else None


def itself(names: Iterable[str]) -> dict[str, str]:
    """Names that stand for themselves."""
    return {name: name for name in names}


@dataclass(frozen=True)
class Names:
    """All names of a book, by what they may be used for; each table maps spellings to names."""

    book: Book = field(repr=False)

    @cached_property
    def places(self) -> dict[str, str]:
        """Where a probe can touch: "X10.3", "X10.3a", "G2", "frame", "battery minus"."""
        found = itself((MINUS, *BODIES))
        seen: dict[str, set[str]] = {}
        touches = layout_of(self.book, KINDS).ends.values()
        for touch in touches:
            if touch.part in BODIES:
                continue
            pin = f"{touch.part}.{touch.pin}"
            whole = f"{pin}{touch.side}"
            found |= {touch.node: touch.node, pin: pin, whole: whole}
            if touch.node == MINUS:
                found |= {pin: MINUS, whole: MINUS}
            seen.setdefault(touch.part, set()).add(pin)
        for touch in touches:
            part = self.book.parts.get(touch.part)
            # a printed name that is the kind's name of another pin stays the kind's
            if part is not None and touch.pin in (printed := printed_pins(part)):
                node = found[f"{touch.part}.{touch.pin}"]
                found.setdefault(f"{touch.part}.{printed[touch.pin]}", node)
        found |= itself(layout_of(self.book, KINDS).lugs)
        found |= itself(self.own_pins.values())
        for name, pins in seen.items():
            kind = KINDS[self.book.parts[name].kind]
            if len(pins) == 1 and kind.joint in ("stud", "crimp"):
                found.setdefault(name, name)
        return found

    @cached_property
    def own_pins(self) -> dict[str, str]:
        """The part's own pin by the loom's: "K3:85" by "K3.85", of what can be unplugged or pulled out
        and measured by itself. No ohmmeter is held to a control unit."""
        layout = layout_of(self.book, KINDS)
        return {
            touch.node: f"{touch.part}:{touch.pin}"
            for touch in layout.ends.values()
            if touch.part in self.plugged and KINDS[self.book.parts[touch.part].kind].pins
        }

    @cached_property
    def pins(self) -> dict[str, tuple[str, ...]]:
        """The wired pins of every part."""
        found: dict[str, dict[str, None]] = {}
        for wire in self.book.wires.values():
            for end in (wire.a, wire.b):
                found.setdefault(end.part, {})[end.pin] = None
        order = {name: part.pins for name, part in self.book.parts.items()}
        return {
            part: tuple(dict.fromkeys((*(p for p in order.get(part, ()) if p in pins), *pins)))
            for part, pins in found.items()
        }

    @cached_property
    def parts(self) -> dict[str, str]:
        """Every part."""
        return itself(self.book.parts)

    @cached_property
    def plugged(self) -> dict[str, str]:
        """Parts a hand can unplug or pull out."""
        return itself(n for n, p in self.book.parts.items() if KINDS[p.kind].joint == "plug")

    @cached_property
    def units(self) -> dict[str, str]:
        """Units that report codes or stand behind pins."""
        return itself({pin.part for pin in self.book.roles} | {unit for unit, _ in self.book.codes})

    @cached_property
    def wires(self) -> dict[str, str]:
        """Wires by id."""
        return itself(self.book.wires)

    def wires_printed(self, name: str) -> tuple[str, ...]:
        """Ids of the wires that carry a printed name."""
        return tuple(w.id for w in self.book.wires.values() if w.name == name)

    @cached_property
    def groups(self) -> dict[str, str]:
        """Suspect groups as they are printed: wires, plugs, loom sections."""
        found: dict[str, str] = {}
        for wire in self.book.wires.values():
            key = wire_group(wire).key
            found |= {key: key, f"wire {wire.id}": key}
        for part in self.pins:
            key = plug_group(self.book, part).key
            found.setdefault(key, key)
        found |= itself(f"loom section {name}" for name in self.book.sections)
        found |= itself(rubbed_group(name).key for name in self.book.sections)
        return found

    @cached_property
    def looks(self) -> dict[str, str]:
        """What can be looked at."""
        return {
            **self.groups,
            **itself(f"wire {name}" for name in self.book.wires),
            **itself((*self.book.sections, *self.book.spots, *self.book.parts)),
        }

    @cached_property
    def mends(self) -> dict[str, str]:
        """What can be repaired."""
        return {**itself(self.book.sections), **self.groups, **self.parts}

    @cached_property
    def workers(self) -> dict[str, str]:
        """What can work or not."""
        return {**self.parts, **itself(self.book.functions)}

    @cached_property
    def commands(self) -> dict[str, str]:
        """What can be switched: switches, levers, driver pins of units, what a `with` names."""
        book = self.book
        found = {n for n, part in book.parts.items() if KINDS[part.kind].operated}
        for pin, role in book.roles.items():
            record = ROLES.get(role.role)
            if record is not None and record.operated:
                found.add(str(pin))
        for function in book.functions.values():
            found |= set(function.commands)
        for attrs in (
            *(p.attrs for p in book.parts.values()),
            *(r.attrs for r in book.roles.values()),
        ):
            found |= {name.strip() for name in str(attrs.get("with") or "").split("+")}
        return itself(sorted(found - {""}))

    def use_of(self, name: str) -> tuple[str, frozenset[str]] | None:
        """Key and switches a function is tried with; of a load, those of the functions that need
        it when they agree."""
        function = find(name, itself(self.book.functions))
        load = find(name, self.parts)
        ways = {
            (f.key, frozenset(f.commands))
            for f in self.book.functions.values()
            if f.name == function or (function is None and load in f.needs)
        }
        return ways.pop() if len(ways) == 1 else None

    def switches_of(self, name: str) -> frozenset[str]:
        """What must be switched on for a function or load; empty when nothing, or unknown."""
        use = self.use_of(name)
        return use[1] if use else frozenset()

    @cached_property
    def displays(self) -> dict[str, tuple[tuple[str, str], ...]]:
        """Display values by name, with and without their unit."""
        found: dict[str, list[tuple[str, str]]] = {}
        for unit, name in self.book.displays:
            found.setdefault(name, []).append((unit, name))
            found.setdefault(f"{unit} {name}", []).append((unit, name))
        return {name: tuple(keys) for name, keys in found.items()}

    def codes(self, unit: str) -> dict[str, str]:
        """The codes of a unit."""
        return itself(code for of, code in self.book.codes if of == unit)

    def blinks(self, unit: str) -> dict[str, str]:
        """The codes of a unit by how its lamp blinks them."""
        return {
            rule.blinks: code
            for (of, code), rule in self.book.codes.items()
            if of == unit and rule.blinks
        }

    def place(self, text: str) -> str | None:
        """The node a place is called by, None when the book has no such place."""
        wordy = _WORDY_PIN.match(squeezed(text))
        spellings = [text, f"{wordy['part']}.{wordy['pin']}"] if wordy else [text]
        return next((node for s in spellings if (node := find(s, self.places))), None)

    def part_of(self, text: str) -> tuple[str, str]:
        """(part, pin) of a place as typed, the part as the book prints it or ""."""
        wordy = _WORDY_PIN.match(squeezed(text))
        head, dot, pin = text.rpartition(".")
        part, pin = (wordy["part"], wordy["pin"]) if wordy else (head, pin) if dot else (text, "")
        return find(part, self.parts) or "", pin
