"""What may be typed: one table for the listener, the manual and the help of both faces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """One sentence. `begins`: its first words; `pattern`: how it goes on, CAPITALS to be filled
    in; `means` in plain words; `examples` on the demo book of the tracked dumper."""

    begins: str
    pattern: str
    means: str
    examples: tuple[str, ...]

    @property
    def whole(self) -> str:
        """The sentence as a pattern."""
        return f"{self.begins} {self.pattern}".strip()


FORMS: Final[tuple[Form, ...]] = (
    Form(
        begins="codes cleared",
        pattern="[UNIT]",
        means="The codes were cleared, of one unit or of all.",
        examples=("codes cleared ECU", "codes cleared"),
    ),
    Form(
        begins="codes",
        pattern="UNIT CODES [stored CODES] [first CODES] [by test CODES] [not CODES] [perhaps more]",
        means="The whole code list of a unit; `none` when it is empty. `by test`: set by what was "
        "unplugged. `not`: only these were looked for, and are not active. `perhaps more`: not all could be seen. A code the book lacks goes in quotes. `blinks 3-2`: a lamp blinked three times, then twice. `x12` "
        "after a code: counted twelve times. `first`: which came before the rest, where the list has times.",
        examples=(
            "codes ECU 3509/4 157/4",
            "codes ECU none",
            "codes ECU stored 91/4",
            "codes ECU 3509/4 x12 157/4 x12 stored 91/4 x2 first 3509/4",
            "codes ECU not 3509/4, key on, X10 unplugged",
            'codes ECU 157/4 "4711/3" stored 91/4 perhaps more',
            "codes ECU SPN 157 FMI 4 by test 723/8, key on",
            "codes ECU blinks 2-1 3-1 stored 5-1",
        ),
    ),
    Form(
        begins="volts",
        pattern="PLACE [to PLACE] VALUE [with min-max | with lamp | with low impedance | "
        "with diode test]",
        means="A voltmeter; the black lead on battery minus unless said. A range `4.9..0.2` is a "
        "reading that jumps. `with lamp`: a test lamp loads the place while it is read; `with low impedance`: the meter "
        "does, 3 kohm. `with diode test`: key off, red lead on the first place, `OL` when it blocks; from pin "
        "to pin of a part that is off it is the part itself, as with `ohms`.",
        examples=(
            "volts X10.3 5.0, key on",
            "volts battery.+ to starter.30 0.2, cranking",
            "volts X10.3 4.9..0.2, key on",
            "volts starter.50 9.6 with min-max, cranking",
            "volts X7.1 11.9 with low impedance, key on, S2 on",
            "volts K3.85 to K3.86 0.09 with diode test, K3 pulled",
        ),
    ),
    Form(
        begins="ohms",
        pattern="PLACE to PLACE VALUE [with milliohm meter] [, part side | , loom side]",
        means="An ohmmeter, key off, on wire that is cut off from everything else; `OL` when "
        "nothing passes. `with milliohm meter`: four wires, on plain wire alone. From pin to pin of a "
        "part that is unplugged or pulled it is the part itself that was measured; `loom side` says it was "
        "the loom's plug or the socket. From one of its pins to elsewhere it is the loom; `part side` says "
        "it was the part. Likewise for `beeps`, `silent` and `with diode test`. A control unit has no part "
        "side: no ohmmeter is held to it.",
        examples=(
            "ohms X10.3b to frame OL, X10 and rail sensor unplugged, battery off",
            "ohms metering valve.1 to metering valve.2 3.1, metering valve unplugged",
            "ohms metering valve.1 to metering valve.2 OL, loom side, metering valve unplugged",
            "ohms metering valve.1 to engine OL, part side, metering valve unplugged",
            "ohms X10.3a to ECU.44 0.2, X10 and ECU unplugged",
            "ohms X10.3a to ECU.44 0.035 with milliohm meter, X10 and ECU unplugged",
        ),
    ),
    Form(
        begins="beeps",
        pattern="PLACE to PLACE",
        means="The ohmmeter's beeper sounds: a path of a few ohms at most. `silent`: it does not.",
        examples=("beeps ECU.45 to ECU.47, ECU unplugged, battery off",),
    ),
    Form(
        begins="silent",
        pattern="PLACE to PLACE",
        means="The ohmmeter's beeper stays silent.",
        examples=("silent ECU.45 to frame, ECU unplugged, battery off",),
    ),
    Form(
        begins="amps",
        pattern="wire WIRE VALUE",
        means="A clamp around one wire.",
        examples=("amps wire 31a 2.4, key on, S2 on",),
    ),
    Form(
        begins="millivolts",
        pattern="FUSE VALUE | PLACE to PLACE VALUE",
        means="Millivolts across a fuse, or along plain wire.",
        examples=(
            "millivolts F5 3.2, key on, S2 on",
            "millivolts X7.1a to X7.1b 1.5, key on, S2 on",
        ),
    ),
    Form(
        begins="display",
        pattern="[UNIT] NAME VALUE",
        means="A value on the machine's display, in the display's own measure.",
        examples=("display rail pressure 250, running",),
    ),
    Form(
        begins="works",
        pattern="FUNCTION or PART",
        means="It works. A function is taken in its own key position and commands.",
        examples=("works horn sounds", "works K3, cranking"),
    ),
    Form(
        begins="dead",
        pattern="FUNCTION or PART",
        means="It does not work.",
        examples=("dead work lights", "dead beacon, key on, S3 on"),
    ),
    Form(
        begins="fuse",
        pattern="FUSE blown | blew | held | looks good | ohms good | hot both sides | hot one side",
        means="How a fuse was found. `blown`: it already was; `blew` or `held`: a sound one in this situation; "
        "`hot`: lamp or meter on its two sides under load.",
        examples=(
            "fuse F5 blown",
            "fuse F5 looks good",
            "fuse F5 hot both sides, key on, S2 on",
            "fuse F5 blew, key on, S3 on",
            "fuse F5 held, key on, S2 on",
        ),
    ),
    Form(
        begins="looked",
        pattern="PLACE: damage | nothing",
        means="A close look at a part, plug, wire, loom section or weak spot.",
        examples=("looked hinge: damage", "looked hinge pin: nothing"),
    ),
    Form(
        begins="unplugged",
        pattern="PART",
        means="A plug, or the plug of a part, is off.",
        examples=("unplugged X10",),
    ),
    Form(begins="plugged", pattern="PART", means="It is on again.", examples=("plugged X10",)),
    Form(
        begins="pulled",
        pattern="PART",
        means="A fuse or relay is out.",
        examples=("pulled F5",),
    ),
    Form(begins="fitted", pattern="PART", means="It is in again.", examples=("fitted F5",)),
    Form(
        begins="replaced",
        pattern="PART",
        means="A new part went in. A fuse so named counts as a fresh one.",
        examples=("replaced F5", "replaced rail sensor"),
    ),
    Form(
        begins="repaired",
        pattern="WIRE, PLUG or SUSPECT",
        means="Something was mended; a suspect as it is printed in the list.",
        examples=("repaired wire 41a", "repaired plug X10"),
    ),
    Form(
        begins="my bet",
        pattern="SUSPECT",
        means="Your own hunch: that suspect counts three times as likely, once, until it is taken back.",
        examples=("my bet wire 41a", "my bet plug X10"),
    ),
    Form(
        begins="driver says",
        pattern="after wash | after storage | after repair | after boost start | display stayed on | "
        "display went out | display faded | started again | did not start again",
        means="What the driver recalls of the failure. What came before makes the defects it is known "
        "to bring likelier, the rest is held against the circuit; each once, until it is taken back.",
        examples=("driver says after wash", "driver says display went out"),
    ),
    Form(
        begins="approved",
        pattern="MINUTES min",
        means="What the customer approved for the whole job. What is still to go is held against it.",
        examples=("approved 90 min",),
    ),
    Form(
        begins="failing",
        pattern="yes | gone | only when CONDITION [, CONDITION]",
        means="Is it failing right now? Conditions the machine is in: wet, hot, moved. From gone "
        "to yes, or back, is a new visit.",
        examples=(
            "failing yes",
            "failing gone",
            "failing only when wet",
            "failing yes, wet",
        ),
    ),
    Form(
        begins="moved",
        pattern="PLACE [and PLACE]: nothing | shows at PLACE",
        means="Places were moved one after the other to bring the fault back.",
        examples=("moved hinge and engine trunk: nothing", "moved hinge: shows at hinge"),
    ),
    Form(
        begins="wetted",
        pattern="PLACE [and PLACE]: nothing | shows at PLACE",
        means="Likewise, with water.",
        examples=("wetted seat box run and hinge: shows at hinge, key on",),
    ),
    Form(
        begins="warmed",
        pattern="PLACE [and PLACE]: nothing | shows at PLACE",
        means="Likewise, by hand-warm air.",
        examples=("warmed rear engine run: nothing",),
    ),
    Form(
        begins="undo",
        pattern="FINDING",
        means="Takes a finding back. Nothing is deleted.",
        examples=("undo f1",),
    ),
    Form(
        begins="new visit",
        pattern="",
        means="What follows was found in another go: the machine stood, dried, cooled or was "
        "provoked in between, so that a fault that comes and goes may have changed.",
        examples=("new visit; failing gone",),
    ),
)
"""In the order of the manual. A longer beginning stands before a shorter one it begins with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SituationWord:
    """Words after a comma that say how the machine stood."""

    pattern: str
    means: str
    example: str


SITUATION_WORDS: Final[tuple[SituationWord, ...]] = (
    SituationWord(
        pattern="key off | key on | cranking | running",
        means="The key. Saying it switches every load off that is not named on the line.",
        example="volts F8.1 12.3, key on",
    ),
    SituationWord(
        pattern="PART on | PART off",
        means="A switch, lever or driver commanded; a function stands for its switches.",
        example="volts X7.1 12.2, key on, S2 on",
    ),
    SituationWord(
        pattern="PART unplugged | PART plugged",
        means="A plug, or the plug of a part, off or on.",
        example="volts X10.3a 5.0, key on, X10 unplugged",
    ),
    SituationWord(
        pattern="PART pulled | PART fitted",
        means="A fuse or relay out or in.",
        example="volts F5.1 12.2, key on, F5 pulled",
    ),
    SituationWord(
        pattern="FUSE new",
        means="A new fuse was fitted just before.",
        example="fuse F5 blew, key on, S3 on, F5 new",
    ),
    SituationWord(
        pattern="battery off | battery on",
        means="The battery's minus cable lifted or back.",
        example="ohms X10.3b to frame OL, battery off, X10 unplugged",
    ),
    SituationWord(
        pattern="lamp 21 W | lamp 55 W | lamp 24 V 21 W | lamp 24 V 70 W | jumper | fused jumper | "
        "booster cable | resistor 1 kohm, then: from PLACE to PLACE",
        means="A lead fitted between two places. The fused jumper has a 10 A fuse of its own.",
        example="volts X7.1b 11.8, key on, S2 on, lamp 21 W from X7.1b to battery minus",
    ),
    SituationWord(
        pattern="all back",
        means="Every plug on, every fuse in, battery on, no lead left.",
        example="works horn sounds, all back",
    ),
)
