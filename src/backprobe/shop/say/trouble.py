"""The words of everything that can be wrong with a typed finding, in one table.

Facts stand in braces. `near` is "" or a sentence that offers the nearest known words.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

from backprobe.shop.meters import TEXTS


class Wording(NamedTuple):
    """How a problem is told. Templates for str.format."""

    what: str
    why: str
    remedy: str


_GUESS: Final = "A finding on the wrong place would clear or accuse the wrong thing."
_SHAPE: Final = "Only a sentence that can be read in one way is taken down."

WORDING: Final[Mapping[str, Wording]] = MappingProxyType(
    {
        "say-nothing": Wording(
            "Nothing was said.",
            "There is no finding in an empty line.",
            "Type what was found, for instance: volts X14.3 12.3, key on",
        ),
        "say-too-long": Wording(
            "This line has {count} characters; a line may have {most}.",
            "A finding fits in one line; something else was pasted.",
            "Type one finding per line.",
        ),
        "say-unknown-beginning": Wording(
            "{word!r} does not begin a finding.",
            "The first word says what sort of finding it is.",
            "Begin with one of: {known}.{near}",
        ),
        "say-incomplete": Wording(
            "{begins!r} needs more: {missing} is missing.",
            _SHAPE,
            "Type: {pattern}",
        ),
        "say-left-over": Wording(
            "{words!r} does not belong here.",
            _SHAPE,
            "Type: {pattern}",
        ),
        "say-unknown-name": Wording(
            "The book has no {sort} {name!r}.",
            _GUESS,
            "Type the name as the book prints it.{near}",
        ),
        "say-unknown-pin": Wording(
            "{part} has no wired pin {pin!r} in the book.",
            _GUESS,
            "Its pins are: {known}.{near}",
        ),
        "say-which-pin": Wording(
            "{part} has several pins, and the place does not say which.",
            _GUESS,
            "Type the pin too: {known}.",
        ),
        "say-which-wire": Wording(
            "Several wires are printed {name!r}.",
            _GUESS,
            "Type the one that was meant by its own name: {known}.",
        ),
        "say-which-display": Wording(
            "Several units show {name!r}.",
            _GUESS,
            "Say the unit first: {known}.",
        ),
        "say-unknown-code": Wording(
            "The book has no code {code!r} of {unit}.",
            "A mistyped code would point at the wrong circuit.",
            'If the display really shows it, put it in quotes: "{code}".{near}',
        ),
        "say-unknown-blinks": Wording(
            "The book has no code of {unit} that blinks {code}.",
            "A group miscounted would point at the wrong circuit.",
            'Count once more. The book has {known}. If the lamp really blinks so, put it in quotes: "blinks {code}".',
        ),
        "say-no-value": Wording(
            "There is no reading at the end of {words!r}.",
            "The reading is the finding.",
            "Type: {pattern}",
        ),
        "say-unit": Wording(
            "{unit!r} is not a measure of {begins}.",
            "A wrong measure is a wrong reading.",
            "Leave it out or type one of: {known}.",
        ),
        "say-beyond-display": Wording(
            "{value} is no value of {name} on the display of {unit}: it can show {scale}.",
            "A mistyped value would accuse the wrong part.",
            "Read the display again and type the number as it stands there.",
        ),
        "say-no-part-side": Wording(
            "There is no part side at {places}.",
            "Only what can be unplugged or pulled is measured by itself, and no ohmmeter is held to a "
            "control unit.",
            "Leave out: part side",
        ),
        **{slug: Wording(*text) for slug, text in TEXTS.items()},
        "say-shut": Wording(
            "No probe gets to {place} while {part} is on: the book says that none can be slid in from "
            "behind.",
            "With the plug off the same place reads quite differently.",
            "If it was off, add: {part} unplugged. If it was read with the plug on all the same, add: "
            "{part} plugged",
        ),
        "say-not-a-fuse": Wording(
            "{name} is no fuse: it is a {kind}.",
            "Only a fuse, fusible link or circuit breaker blows.",
            "For anything else type works, dead or looked.",
        ),
        "say-not-here": Wording(
            "{name} cannot be {act}: it is a {kind}.",
            "The put-back list must hold only what a hand can put back.",
            "{instead}",
        ),
        "say-unknown-answer": Wording(
            "{words!r} is no answer to: {question}?",
            _SHAPE,
            "Type one of: {known}.{near}",
        ),
        "say-unknown-situation": Wording(
            "{words!r} does not say how the machine stood.",
            "Key, loads and open plugs decide what a reading means.",
            "After the comma type for instance: key on, S2 on, X10 unplugged, battery off.{near}",
        ),
        "say-unfinished-list": Wording(
            "{words!r} stands alone: is it on, off, unplugged or pulled?",
            "Key, loads and open plugs decide what a reading means.",
            "Type for instance: {words} unplugged",
        ),
        "say-which-key": Wording(
            "Nothing was said about the key yet on this job.",
            "With key off, on, cranking or running the same place reads quite differently.",
            "Add it after a comma: key off, key on, cranking or running.",
        ),
        "say-battery-is-off": Wording(
            "The battery minus is still off from the finding before.",
            "Without it nothing reads volts or amps, nothing works and no unit reports.",
            "Say how it stood now: add for instance: battery on, key on",
        ),
        "say-ohms-live": Wording(
            "An ohm reading was taken with {key}.",
            "On a live circuit an ohmmeter shows a wrong figure and may be damaged.",
            "Key off, battery minus lifted, plugs of the piece open; measure again.",
        ),
        "say-unknown-finding": Wording(
            "There is no finding {name!r} to take back on this job.",
            "Only what still stands can be taken back.",
            "{known}",
        ),
        "say-empty-visit": Wording(
            "A new visit holds at least one finding.",
            "A visit is what was found in one go.",
            "Go on on the same line: new visit; failing gone",
        ),
    }
)
