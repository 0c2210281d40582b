"""The words of every problem a wiring book can have, in one table.

A finding is told apart from its wording: rules and parsers name a slug and the facts. The facts
are the names in braces; `near` is "" or a question that offers the nearest known word.
An "error" means the line cannot be understood or would silently change the circuit if it were
left out; a "warning" means the book can be used, but somebody should look.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

from backprobe.base.problems import Weight


class Wording(NamedTuple):
    """How a problem is told. Templates for str.format."""

    weight: Weight
    what: str
    why: str
    remedy: str


_TEXT: dict[str, Wording] = {
    "not-a-text": Wording(
        "error",
        "This is not a text file.",
        "It holds bytes no text has, so it is a picture, a PDF, a spreadsheet or a damaged file.",
        "Save the book as plain text (UTF-8) and open that.",
    ),
    "book-too-large": Wording(
        "error",
        "This text is too large for a wiring book ({size}).",
        "A book holds one machine type; even a large one stays under 10000 lines.",
        "Check that the right file was chosen, or split it into one book per machine type.",
    ),
    "not-utf-8": Wording(
        "warning",
        "The text is not saved as UTF-8; it was read as Windows text (cp1252).",
        "Letters such as the ohm sign or those with accents may have been read wrongly.",
        "Save the book as UTF-8 in your editor.",
    ),
    "line-too-long": Wording(
        "error",
        "This line has {count} characters; a line may have {most}.",
        "One line holds one fact. So long a line is usually a lost line end.",
        "Break it into one fact per line.",
    ),
    "more-problems": Wording(
        "note",
        "And {count} more problems.",
        "Only the first 200 are kept, so that a wrong file does not drown you.",
        "Mend the ones above and read the book again.",
    ),
    "newer-format": Wording(
        "error",
        "This book has format {number}; this program reads format {known}.",
        "A newer program wrote it, with facts this one would misread.",
        "Update the program, or ask for the book in format {known}.",
    ),
    "unreadable-line": Wording(
        "error",
        "This line is no fact the book knows.",
        "A line is NAME: KIND, a chain PIN > PIN, UNIT.PIN: ROLE, or starts with a word such as"
        " machine, section, spot, code, display, function or group.",
        "{near}Write it in one of these forms, or put # in front to make it a comment.",
    ),
    "open-quote": Wording(
        "error",
        'A quote (") is opened and not closed.',
        "Everything after it would count as quoted words.",
        'Close it with a second ".',
    ),
    "no-machine": Wording(
        "warning",
        "The book has no machine line.",
        "Name and voltage are unknown; 12 V is assumed.",
        "Add a line such as: machine tracked dumper, 12 V",
    ),
    "nothing-in-it": Wording(
        "error",
        "The book names no part yet.",
        "Without parts and wires there is no circuit to search.",
        "Begin with a feed and what it feeds, for example: battery.+ > F1 > work light,"
        " and on the next line: work light.2 > frame",
    ),
    "duplicate-fact": Wording(
        "warning",
        "A second {form} line; the first one, in line {first}, counts.",
        "Only one can hold.",
        "Remove one of them.",
    ),
}

_WORDS: dict[str, Wording] = {
    "bad-name": Wording(
        "error",
        'A name cannot be "{name}": {reason}.',
        'Names may hold spaces but none of , : > ; # = " ? and no dot, because these part the'
        " facts of a line.",
        "Write the name without it.",
    ),
    "duplicate-name": Wording(
        "error",
        "{form} {name} is there twice; it was first named in line {first}.",
        "A name must mean one thing, or a reading lands on the wrong one.",
        "Give one of them the name printed on it, remove it, or say which variant of the machine"
        " has it (only ...).",
    ),
    "unreadable-number": Wording(
        "error",
        '"{text}" is no number with a unit I can read.',
        "{wanted}",
        "Write a number, then a unit: 10 A, 4.7 kohm, 0.75 mm2, 18 AWG, 0.9 m, 4 min, 90 %.",
    ),
    "wrong-unit": Wording(
        "error",
        '"{text}" is in the wrong unit for {what}.',
        "{what} is measured in {unit}.",
        "Write it in {unit}.",
    ),
    "out-of-range": Wording(
        "warning",
        "{what} {value} is outside the usual {low} to {high}.",
        "A slip of the finger or of the unit is likelier than such a part.",
        "Check the figure; if it is right, leave it.",
    ),
    "not-above-zero": Wording(
        "error",
        "{what} cannot be {value}.",
        "It is more than zero on any machine, and no circuit can be worked out with less.",
        "Correct the figure; leave it out if it is not known, and the usual one is assumed.",
    ),
    "unknown-kind": Wording(
        "error",
        'There is no kind of part called "{word}".',
        "The kind says what is inside the part: what it draws, how it fails, how it is checked.",
        "{near}Take the nearest kind from the list of kinds; the printed name stays the name.",
    ),
    "unknown-attribute": Wording(
        "error",
        '"{word}" says nothing I know about {owner}.',
        "{owner} knows: {known}.",
        "{near}Correct the word, or keep it as a line of your own: x-note: {word}",
    ),
    "unknown-word": Wording(
        "error",
        '"{word}" is not one of the words for {what}.',
        "{what} is one of: {known}.",
        "{near}Take one of these.",
    ),
    "missing-value": Wording(
        "error",
        '"{word}" stands without a value.',
        "{what} needs one.",
        "Add it, for example: {example}",
    ),
    "unknown-role": Wording(
        "error",
        'There is no "{word}" behind a pin of a control unit.',
        "The role says what the unit does with the pin: {known}.",
        "{near}Take the nearest of these.",
    ),
    "unknown-variant": Wording(
        "error",
        'The machine has no variant "{name}".',
        "The machine line lists: {known}.",
        "{near}Correct it, or add it there: machine ..., variants ... / {name}",
    ),
}

_PARTS: dict[str, Wording] = {
    "unknown-part": Wording(
        "error",
        "There is no part {name} in this book.",
        "Its kind cannot be told from its name, so nothing is known about what is inside.",
        "{near}Add a line such as: {name}: lamp 21 W",
    ),
    "undeclared-part": Wording(
        "warning",
        "{name} has no line of its own; from its name it is taken for {kind}.",
        "A mistyped name would make a part that is not on the machine.",
        "{near}Add a line: {name}: {kind}",
    ),
    "unknown-pin": Wording(
        "error",
        "{part} has no pin {pin}.",
        "{part} ({kind}) has: {known}.",
        "{near}Correct the pin.",
    ),
    "missing-pin": Wording(
        "error",
        "Which pin of {part} is meant?",
        "{part} ({kind}) has more than one way through: {known}.",
        "Write {part}.PIN",
    ),
    "not-a-unit": Wording(
        "error",
        "{name} is no control unit but {kind}.",
        "Only a control unit has roles behind its pins, 5 V groups, codes and display values.",
        "{near}Name the unit here, or make it one: {name}: control unit",
    ),
    "unknown-body": Wording(
        "error",
        "{name} is no metal a part can be bolted to.",
        "Parts are bolted to: {known}.",
        "Take one of these, for example: on frame",
    ),
    "unknown-group": Wording(
        "error",
        "{unit} has no 5 V group {name}.",
        "What hangs on it would float.",
        "{near}Add a line: group {unit} {name}: 5 V",
    ),
    "unknown-code": Wording(
        "warning",
        "{unit} has no code {name}.",
        "A code that is named here is nowhere described, so it can never be active.",
        "{near}Add a code line for it, or correct it.",
    ),
    "unknown-command": Wording(
        "warning",
        "{name} is neither a part nor a function of this book.",
        "{owner} depends on it, but nobody can switch it on.",
        "{near}Correct the name, or add a line for it.",
    ),
}

_FACES: dict[str, Wording] = {
    "unreadable-face": Wording(
        "error",
        '"{text}" cannot be how the pins of a plug lie: {reason}.',
        "The pin to probe is marked on a picture of the plug; a wrong picture sends the probe to a"
        " wrong pin.",
        "Write the rows from the top, each from the left, for example: mating side 1 to 6 / 7 to 12",
    ),
    "face-count": Wording(
        "warning",
        "{part} has {ways} ways, but its face shows {shown}.",
        "One of the two is misread, and pins would be counted wrongly.",
        "Count the places in the plug; one without a number is written -",
    ),
    "face-without-pin": Wording(
        "warning",
        "The face of {part} has no pin {pin}.",
        "A wire ends there, so it may have to be probed, and the picture could not mark it.",
        "Correct the pin of the wire, or the rows.",
    ),
    "face-half": Wording(
        "warning",
        "The face of {part} is said to be on {half}, which does not end at {part}.",
        "Sections that end there: {known}.",
        "{near}Name the section whose half of the plug the rows were read from.",
    ),
    "face-which-half": Wording(
        "note",
        "The face of {part} does not say which of its two halves it is.",
        "The halves mirror each other, so the picture can only warn.",
        "Name the loom section that half is on: ... on SECTION",
    ),
}

_WIRES: dict[str, Wording] = {
    "short-chain": Wording(
        "error",
        "A wire needs two ends; one is missing here.",
        "Each > stands between two pins.",
        "Write both pins, for example: F12 > X14.3",
    ),
    "wire-to-itself": Wording(
        "error",
        "This wire starts and ends at {pin}.",
        "It would carry nothing.",
        "Correct one of its ends.",
    ),
    "wire-names": Wording(
        "warning",
        "{names} wire names for {wires} wires.",
        "With one name all wires of the line carry it; with more, each needs its own.",
        "Give one name or {wires} names parted by /",
    ),
    "pin-used-twice": Wording(
        "warning",
        "{pin} already has a wire, from line {first}.",
        "One wire fits; with two, the pin number or the plug is often misread.",
        "Check the pin on the diagram. If two wires really join there, add a splice before it, or"
        " leave it.",
    ),
    "no-feed": Wording(
        "warning",
        "No path from {pin} to the battery's plus side.",
        "The circuit of {part} was typed, but where its feed comes from is missing: it would never"
        " work.",
        "Add the rows between {pin} and its fuse.",
    ),
    "no-ground": Wording(
        "warning",
        "No path from {pin} to ground.",
        "The circuit of {part} was typed, but its way back is missing: it would never work.",
        "Add the row from {pin} to its ground stud or control unit.",
    ),
    "feeds-joined": Wording(
        "warning",
        "{one} and {other} feed the same wire.",
        "With two feeds joined, pulling one fuse leaves the circuit live. A mistyped pin looks like"
        " this.",
        "Check the rows behind both fuses.",
    ),
    "fuse-too-large": Wording(
        "warning",
        "{fuse} is {rating}; wire {wire} ({size}) carries {carries}.",
        "A short would overheat the wire before the fuse opens (catalogue currents of thin-wall"
        " wire, ISO 6722 class B).",
        "Check the size and the fuse on the machine. Never fit a larger fuse than the maker's.",
    ),
    "wire-name-reused": Wording(
        "warning",
        "Wire {name} was already named in line {first}, in another circuit.",
        "A wire name may go on along one circuit; on two circuits it points at the wrong place.",
        "Check the name on both lines, or write what is printed: {name}A, {name}B.",
    ),
    "group-without-source": Wording(
        "warning",
        "5 V group {name} of {unit} has no pin.",
        "Nothing outside {unit} can be fed by it.",
        "Add a line such as: {unit}.47: 5 V group {name}",
    ),
    "sensor-pins-changed": Wording(
        "warning",
        "{name} is wired the other way round for a {kind}: {told}.",
        "The pins of a {kind} are {means}; with two of them changed over, every reading and code of"
        " {name} is worked out wrongly.",
        "Check the rows. If the maker numbers the pins so, {remedy}. Checks go on"
        " calling them {means}, and say how they are printed.",
    ),
    "unconnected-part": Wording(
        "note",
        "{name} has no wire.",
        "It is listed, but takes no part in any circuit.",
        "Add its wires when you need them.",
    ),
}

_LOOM: dict[str, Wording] = {
    "unknown-section": Wording(
        "error",
        "There is no loom section {name}.",
        "Places along the loom are counted from a section's end.",
        "{near}Add a line such as: section {name}: X14 to X22, 0.9 m",
    ),
    "loom-ring": Wording(
        "error",
        "Section {name} closes a ring: {a} and {b} are already joined by other sections.",
        "In a ring a wire could run either way round.",
        "Name one end as a place of its own, and say `in {name}` on the wires that run through it.",
    ),
    "spot-beyond-section": Wording(
        "error",
        "Spot {name} is at {place}, but section {section} is {length} long.",
        "It would lie beside the loom.",
        "Correct the distance (counted from {end}) or the section's length.",
    ),
    "section-not-passed": Wording(
        "warning",
        "Wire {wire} is said to be in {section}, but passes neither {a} nor {b}.",
        "The wires of a section run from one of its ends to the other.",
        "Check the section's name, or the plugs this wire goes through.",
    ),
    "no-length": Wording(
        "error",
        "Section {name} has no length.",
        "Distances along the loom and wire lengths come from it.",
        "Add it, for example: section {name}: {a} to {b}, 0.9 m",
    ),
}

_CODES: dict[str, Wording] = {
    "unreadable-test": Wording(
        "error",
        '"{text}" is no condition for a code.',
        "A condition is PIN < 0.2 V, PIN > 4.8 V, PIN < 0.1 A, group A < 4.6 V, supply < 9 V or"
        " hears UNIT.",
        "Write it in one of these forms.",
    ),
    "code-without-test": Wording(
        "error",
        "Code {name} has no condition.",
        "Without one nobody can tell when it is set.",
        "Add one, for example: code {unit} {name}: {unit}.31 < 0.2 V",
    ),
    "code-pin-not-sensed": Wording(
        "warning",
        "Code {name} looks at {pin}, which {unit} does not sense ({role}).",
        "The unit could never set it that way.",
        "Correct the pin, or say what is behind it: {unit}.{number}: analogue input",
    ),
    "open-wire-not-seen": Wording(
        "warning",
        "With the wire to {pin} open the pin reads {floats}: code {name}, set above {limit}, stays away.",
        "The pull-up of {up} works against the {leak} to ground that every input is taken to leak. Most"
        " such codes are set by an unplugged sensor.",
        "If the machine sets it with the plug off, type a limit below {floats}. If it does not, leave it.",
    ),
    "unreadable-blinks": Wording(
        "error",
        '"{text}" is no blink code.',
        "A lamp blinks one to four groups, each one to 99 times.",
        "Write how often it blinks in each group: blinks 3-2",
    ),
    "blinks-twice": Wording(
        "error",
        "{unit} blinks {blinks} for code {first} already.",
        "What was seen blinking must mean one code, or it lands on the wrong one.",
        "Correct one of them; where one blink code stands for both failures, make them one line:"
        " PIN < 0.25 V or > 4.75 V, blinks {blinks}",
    ),
    "empty-range": Wording(
        "error",
        "{name} goes from {low} to {high}: that is no range.",
        "The display value follows the voltage between two different points.",
        "Write two different voltages, the lower one first.",
    ),
    "function-without-needs": Wording(
        "warning",
        "Function {name} needs nothing.",
        "A function that needs nothing tells nothing when it works or fails.",
        "Add what it needs, for example: needs starter, key crank",
    ),
}

WORDING: Final[Mapping[str, Wording]] = MappingProxyType(
    _TEXT | _WORDS | _PARTS | _FACES | _WIRES | _LOOM | _CODES
)
