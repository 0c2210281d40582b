"""Pins, colours and numbers in the words of the workshop."""

from __future__ import annotations

from dataclasses import replace
from math import isinf

from backprobe.base.units import decimal, show
from backprobe.book.model import BODIES, MINUS, Book, End
from backprobe.book.values import pin_words
from backprobe.checks.layout import Layout, Touch

COLOURS = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "TQ": "turquoise",
    "GD": "gold",
    "SR": "silver",
    "GNYE": "green-yellow",
}
"""Colour codes of IEC 60757."""

NOTHING = 0.02
"""Below this an unloaded volt reading is called zero, V."""


def colour_words(code: str) -> str:
    """RD/WH or RDWH is "red/white"; codes not in IEC 60757 stay as printed."""
    plain = code.replace("/", "").replace("-", "").replace(" ", "").upper()
    if plain in COLOURS:
        return COLOURS[plain]
    pairs = [plain[k : k + 2] for k in range(0, len(plain), 2)]
    return "/".join(COLOURS[p] for p in pairs) if all(p in COLOURS for p in pairs) else code


def wire_words(layout: Layout, wire: str) -> str:
    """The wire as a man sees it: "wire 31, red"; "" when there is no such wire."""
    known = layout.book.wires.get(wire)
    if known is None:
        return ""
    named = f"wire {known.name or known.id}"
    return f"{named}, {colour_words(known.colour)}" if known.colour else named


def node_words(layout: Layout, node: str) -> str:
    """A node as a place: "X14 way 3 on the F12 side (wire 31, red)"."""
    if node == MINUS:
        return MINUS
    if node in BODIES:
        return f"bare metal of the {node}"
    lug = layout.lugs.get(node)
    if lug is not None:
        return f"the lug of {wire_words(layout, lug.wire)}, on {touch_words(layout, replace(lug, wire=''))}"
    touch = layout.touch.get(node) or layout.touch.get(node.replace(":", ".", 1))
    return touch_words(layout, touch) if touch else node.replace(":", " ").replace(".", " pin ")


def touch_words(layout: Layout, touch: Touch) -> str:
    """A place for a probe in words: part, pin or way, side, wire and colour."""
    kind = layout.kind(touch.part)
    if touch.side:
        place = f"{touch.part} way {touch.pin}"
        far = _far_part(layout, touch)
        place += f" on the {far} side" if far else ""
    elif touch.pin and kind is not None and not (kind.joint != "plug" and len(kind.pins) <= 1):
        pin = pin_words(layout.book.parts[touch.part], touch.pin)
        place = f"{touch.part} {'stud' if kind.joint == 'stud' else 'pin'} {pin}"
    else:
        place = touch.part
    wire = wire_words(layout, touch.wire)
    return f"{place} ({wire})" if wire else place


def _far_part(layout: Layout, touch: Touch) -> str:
    wire = layout.book.wires.get(touch.wire)
    if wire is None:
        return ""
    here = End(touch.part, touch.pin, touch.side)
    return (wire.b if wire.a == here else wire.a).part


def blinking(book: Book, named: str) -> str:
    """A code with its unit, and how the unit's lamp tells it: "ECU 157/4 (blinks 2-1)"."""
    unit, _, code = named.rpartition(" ")
    rule = book.codes.get((unit, code))
    return f"{named} (blinks {rule.blinks})" if rule and rule.blinks else named


def volts(value: float) -> str:
    """Volts as read off a meter: two digits behind the point below 1 V, one above."""
    if abs(value) < NOTHING:
        return "0 V"
    return f"{value:.2f} V" if abs(value) < 1.0 else f"{value:.1f} V"


def reading(value: float, unit: str) -> str:
    """A reading in words: V, A, ohm ("OL" above 20 Mohm, what a meter shows for no way
    through), or the display's own measure. "mV": volts, said as a millivolt range shows them."""
    if unit == "V":
        return volts(value)
    if unit == "mV" and abs(value) >= 1.0:
        return volts(value)
    if unit == "mV":
        return f"{1e3 * value:.0f} mV" if abs(value) >= 0.01 else f"{1e3 * value:.1f} mV"
    if unit == "ohm":
        if isinf(value) or value > 2e7:
            return "OL"
        return f"{value:.1f} ohm" if value < 100.0 else show(value, "ohm", 2)
    if unit == "A":
        return show(value, "A", 2)
    return f"{decimal(value)} {unit}".strip()


def between(low: float, high: float, unit: str) -> str:
    """A range in words: "about 0.6 V" or "0.3 V to 0.9 V"."""
    one, other = reading(low, unit), reading(high, unit)
    wide = abs(high - low) > max(0.1 * abs(high + low) / 2.0, 0.001 if unit == "mV" else 0.05)
    return (
        f"{one} to {other}" if wide and one != other else f"about {reading((low + high) / 2, unit)}"
    )


def percent(chance: float) -> str:
    """A chance as a whole per cent, never 0 or 100 unless it is."""
    if chance >= 0.995:
        return "99 %" if chance < 1.0 else "100 %"
    return "under 1 %" if 0.0 < chance < 0.005 else f"{100.0 * chance:.0f} %"


def minutes(seconds: float) -> str:
    """Seconds as whole minutes, at least one."""
    return f"{max(1, round(seconds / 60.0))} min"


def left_words(half_s: float, ninety_s: float) -> str:
    """What is still to go, and how sure that is."""
    half, ninety = minutes(half_s), minutes(ninety_s)
    if half == ninety:
        return f"About {half} to a proven repair."
    return f"About {half} to a proven repair; nine in ten such jobs take less than {ninety}."


def ask_words(worked_s: float, half_s: float, approved_s: float | None) -> str:
    """That what was approved is likely not enough, "" when it is: half of such jobs take longer."""
    if approved_s is None or worked_s + half_s <= approved_s:
        return ""
    return (
        f"Ask the customer before you go on: {minutes(approved_s)} approved, "
        f"{round(worked_s / 60.0)} min spent, about {minutes(half_s)} to go."
    )


def listed(names: list[str] | tuple[str, ...], joiner: str = "and") -> str:
    """Names in a row: "a", "a and b", "a, b and c"."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {joiner} {names[-1]}"
