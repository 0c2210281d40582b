"""Reads the items of a part or role line by the attribute table of its kind."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from backprobe.base.problems import Spot
from backprobe.base.units import Quantity, parse_quantity, show
from backprobe.book.lines import Bit, Line
from backprobe.book.report import Report
from backprobe.kinds.records import Attribute

_WORD = re.compile(r"\S+")
_LOOKS_NUMERIC = re.compile(r"^[+-]?\d")


class Reader:
    """Reads items into a mapping of attributes. `owner` names the kind in problems."""

    def __init__(
        self,
        attributes: Sequence[Attribute],
        owner: str,
        line: Line,
        report: Report,
        *,
        also: Iterable[str] = (),
    ) -> None:
        self.attributes = {attribute.name: attribute for attribute in attributes}
        self.owner = owner
        self.line = line
        self.report = report
        self.also = tuple(also)
        self.found: dict[str, float | str] = {}

    def read(self, item: Bit) -> None:
        """Take one item: "coil 90 ohm", "10 A", "12 ways", "suppressed", "10 A slow"."""
        words = [Bit(m.group(), item.column + m.start()) for m in _WORD.finditer(item.text)]
        while words:
            taken = self._named(words) or self._quantity(words) or self._word(words)
            if not taken:
                self._unknown(item.part(words[0].column - item.column))
                return
            words = words[taken:]

    def _named(self, words: list[Bit]) -> int:
        for count in range(min(4, len(words)), 0, -1):
            name = " ".join(word.text for word in words[:count]).lower()
            attribute = self.attributes.get(name)
            if attribute is None:
                continue
            rest = words[count:]
            if attribute.unit == "word":
                self._set_word(attribute, words[0], rest)
                return len(words)
            return count + self._set_number(attribute, words[0], rest)
        return 0

    def _set_word(self, attribute: Attribute, name: Bit, rest: list[Bit]) -> None:
        text = " ".join(word.text for word in rest)
        if not text:
            if "yes" in attribute.words:
                self.found[attribute.name] = "yes"
            else:
                self._missing(attribute, name)
            return
        self.found[attribute.name] = self._checked_words(attribute, text, rest[0])

    def _checked_words(self, attribute: Attribute, text: str, at: Bit) -> str:
        known = {word.casefold(): word for word in attribute.words}
        if attribute.name == "in":
            known = {word: word for word in ("off", "on", "crank", "run")}
            words = [word for word in text.casefold().split() if word not in ("/", "+")]
            if words and all(word in known for word in words):
                return " ".join(words)
            known_words: Iterable[str] = known
        elif attribute.name == "with":
            return " + ".join(part.strip() for part in re.split(r"\s[/+]\s", text))
        elif not known:
            return text
        elif text.casefold() in known:
            return known[text.casefold()]
        else:
            known_words = attribute.words
        self.report.add(
            "unknown-word",
            self.line.spot(Bit(text, at.column)),
            word=text,
            what=attribute.name,
            known=", ".join(known_words),
            near=self.report.near(text, known_words),
        )
        return text

    def _set_number(self, attribute: Attribute, name: Bit, rest: list[Bit]) -> int:
        if not rest:
            self._missing(attribute, name)
            return 0
        quantity, count = take_quantity(rest)
        text = Bit(" ".join(word.text for word in rest[: max(1, count)]), rest[0].column)
        if quantity is None:
            self.report.add(
                "unreadable-number",
                self.line.spot(Bit(" ".join(w.text for w in rest[:2]), rest[0].column)),
                text=" ".join(word.text for word in rest[:2]),
                wanted=f"{attribute.name} is measured in {unit_words(attribute.unit)}.",
            )
            return len(rest)
        value = fit_unit(quantity, attribute.unit)
        if value is None:
            self.report.add(
                "wrong-unit",
                self.line.spot(text),
                text=text.text,
                what=attribute.name,
                unit=unit_words(attribute.unit),
            )
            return count
        self._keep(attribute, value, text)
        return count

    def _keep(self, attribute: Attribute, value: float, text: Bit) -> None:
        if tell_unusual(
            self.report,
            self.line.spot(text),
            what=f"{attribute.name} of {self.owner}",
            value=value,
            unit=attribute.unit,
            usual=(attribute.low, attribute.high),
        ):
            self.found[attribute.name] = value

    def _quantity(self, words: list[Bit]) -> int:
        quantity, count = take_quantity(words)
        if quantity is None:
            return 0
        text = Bit(" ".join(word.text for word in words[:count]), words[0].column)
        if quantity.unit == "1" and len(words) > count:
            attribute = self.attributes.get(words[count].text.lower())
            if attribute is not None and attribute.unit == "1":
                self._keep(attribute, quantity.value, text)
                return count + 1
        for attribute in self.attributes.values():
            if attribute.bare and attribute.name not in self.found:
                value = fit_unit(quantity, attribute.unit)
                if value is not None and attribute.unit == quantity.unit:
                    self._keep(attribute, value, text)
                    return count
        return 0

    def _word(self, words: list[Bit]) -> int:
        for count in range(min(4, len(words)), 0, -1):
            text = " ".join(word.text for word in words[:count]).casefold()
            for attribute in self.attributes.values():
                if attribute.unit == "word" and attribute.name not in self.found:
                    for word in attribute.words:
                        if word.casefold() == text and word not in ("yes", "no"):
                            self.found[attribute.name] = word
                            return count
        return 0

    def _missing(self, attribute: Attribute, name: Bit) -> None:
        example = _EXAMPLES.get(attribute.unit, "5")
        if attribute.unit == "word":
            example = attribute.words[0] if attribute.words else "..."
        self.report.add(
            "missing-value",
            self.line.spot(name),
            word=attribute.name,
            what=f"{attribute.name} of {self.owner}",
            example=f"{attribute.name} {example}",
        )

    def _unknown(self, item: Bit) -> None:
        known = [*self.attributes, *self.also]
        first = item.text.split()[0]
        if (
            _LOOKS_NUMERIC.match(item.text)
            and parse_quantity(" ".join(item.text.split()[:2])) is None
        ):
            bare = [a for a in self.attributes.values() if a.bare]
            wanted = ", ".join(f"{a.name} ({unit_words(a.unit)})" for a in bare)
            self.report.add(
                "unreadable-number",
                self.line.spot(item),
                text=item.text,
                wanted=f"{self.owner} takes: {wanted or ', '.join(known)}.",
            )
            return
        self.report.add(
            "unknown-attribute",
            self.line.spot(item),
            word=item.text,
            owner=self.owner,
            known=", ".join(sorted(known)),
            near=self.report.near(first, known),
        )


_EXAMPLES: Mapping[str, str] = {
    "ohm": "4.7 kohm", "V": "12 V", "A": "10 A", "W": "21 W", "m": "0.9 m", "m2": "0.75 mm2",
    "s": "2 s", "%": "90 %", "1": "12", "Hz": "100 Hz",
}  # fmt: skip

_UNIT_WORDS: Mapping[str, str] = {
    "m2": "mm2 or AWG", "s": "s, min or h", "m": "m, cm or mm", "1": "a plain number",
    "ohm": "ohm, kohm or mohm", "A": "A or mA", "V": "V or mV", "word": "words",
}  # fmt: skip


def unit_words(unit: str) -> str:
    """How to write a unit in a book."""
    return _UNIT_WORDS.get(unit, unit)


def tell_unusual(
    report: Report, at: Spot, *, what: str, value: float, unit: str, usual: tuple[float, float]
) -> bool:
    """Report a figure outside its usual range. False: it can only be above zero and is not, so that
    no circuit can be worked out with it."""
    low, high = usual
    if low > 0.0 >= value:
        report.add("not-above-zero", at, what=what, value=show(value, unit))
        return False
    if not low <= value <= high:
        report.add(
            "out-of-range", at, what=what, value=show(value, unit), low=show(low, unit),
            high=show(high, unit),
        )  # fmt: skip
    return True


def fit_unit(quantity: Quantity, unit: str) -> float | None:
    """The quantity's value in an attribute's unit, or None when they do not fit."""
    if quantity.unit == unit:
        return quantity.value
    if quantity.unit == "%" and unit == "1":
        return quantity.value
    return None


def take_quantity(words: Sequence[Bit]) -> tuple[Quantity | None, int]:
    """A quantity at the start of some words and how many words it took."""
    if not words or not _LOOKS_NUMERIC.match(words[0].text):
        return None, 0
    if len(words) > 1:
        quantity = parse_quantity(f"{words[0].text} {words[1].text}")
        if quantity is not None:
            return quantity, 2
    quantity = parse_quantity(words[0].text)
    return (quantity, 1) if quantity is not None else (None, 0)
