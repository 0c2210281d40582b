"""Three demo jobs on the tracked dumper: what is known when the technician arrives.

Machine, people and defects are invented. `Truth` is what is physically wrong; it is there for
the tests, which put it into the circuit and compare. Nothing that works a job may look at it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from backprobe.book.situations import Situation
from backprobe.findings.model import AnyFinding, CodesFound, Condition, Failing, FuseFound, Works


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The hidden defect. `atom`: its id in defects.model.Atom; `ohm`: its severity, one of the
    atom's; `target`: the damaged wire or part; `spot`: the weak spot on the loom, if it is a wire;
    `condition`: when it shows ("" = always); `blows`: the fuses it blows; `words` for the reader.
    """

    atom: str
    ohm: float
    words: str
    target: str
    spot: str = ""
    condition: Condition = ""
    blows: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoJob:
    """A job as it comes in. `complaint` in the operator's words; `arrival`: the findings noted
    before the first check, in order; `lived`: what the machine went through before."""

    name: str
    title: str
    book: str
    customer: str
    operator: str
    serial: str
    hours: float
    complaint: str
    weather: str
    arrival: tuple[AnyFinding, ...]
    lived: tuple[Situation, ...]
    truth: Truth


_ON: Final = Situation(key="on")
_CRANK: Final = Situation(key="crank")
_RUN: Final = Situation(key="run")
_LIGHTS: Final = Situation(key="on", on=frozenset({"S2"}))
_BEACON: Final = Situation(key="on", on=frozenset({"S3"}))
_HORN: Final = Situation(key="on", on=frozenset({"S1"}))

AFTER_WASHING: Final = DemoJob(
    name="after-washing",
    title="Derate and hard start after pressure-washing",
    book="tracked-dumper",
    customer="Haldern Groundworks (invented)",
    operator="Jory Pell (invented)",
    serial="4411-0187",
    hours=1312.0,
    complaint=(
        "Washed it down on Friday. Since then it cranks long, and when it runs it has no power "
        "and a yellow lamp. Five codes on the display. Next morning it ran as if nothing had "
        "been."
    ),
    weather="dry, washed down three days ago",
    arrival=(
        CodesFound(
            id="arrival-1",
            unit="ECU",
            situation=_ON,
            active=(),
            stored=("3509/4", "157/4", "102/4", "94/4", "91/4"),
            complete=True,
            note="all five stored, none active now",
        ),
        Failing(
            id="arrival-2",
            situation=_RUN,
            answer="only when",
            condition="wet",
            note="operator: only after washing, dry again by next morning",
        ),
        Failing(id="arrival-3", situation=_RUN, answer="gone", note="starts and pulls well"),
    ),
    lived=(_ON, _CRANK, _RUN),
    truth=Truth(
        words=(
            "wire 41a, the 5 V group A feed from ECU.44 to X10.3, is rubbed through at the hinge "
            "pin; water and mud join the bare copper to the hinge"
        ),
        atom="wire 41a/to ground/hinge",
        ohm=1.0,
        target="41a",
        spot="hinge pin",
        condition="wet",
    ),
)

NO_CRANK: Final = DemoJob(
    name="no-crank",
    title="No crank in wet weather",
    book="tracked-dumper",
    customer="Brook End Nursery (invented)",
    operator="Tilda Marsh (invented)",
    serial="4411-0093",
    hours=2874.0,
    complaint=(
        "Turn the key and nothing, no click from the engine. Lights and display stay bright. "
        "It has done it before on wet mornings and came back by noon. Raining again today."
    ),
    weather="raining",
    arrival=(
        Failing(id="arrival-1", situation=_CRANK, answer="yes", condition="wet"),
        Works(id="arrival-2", situation=_CRANK, target="engine cranks", works=False),
        Works(id="arrival-3", situation=_ON, target="display lights up", works=True),
        Works(id="arrival-4", situation=_HORN, target="horn sounds", works=True),
        Works(
            id="arrival-5",
            situation=_CRANK,
            target="K3",
            works=True,
            note="a click from the fuse box each time the key is turned",
        ),
    ),
    lived=(_ON, _CRANK),
    truth=Truth(
        words="the engine strap is corroded under its lug on the frame; wet, next to nothing goes through",
        atom="engine strap/bad lug 2",
        ohm=15.0,
        target="engine strap",
        condition="wet",
    ),
)

LIGHTS_DEAD: Final = DemoJob(
    name="lights-dead",
    title="Work lights and display dead",
    book="tracked-dumper",
    customer="Osier Lane Plant Hire (invented)",
    operator="Bram Coyle (invented)",
    serial="4411-0210",
    hours=640.0,
    complaint=(
        "Display is dark and the work lights are dead. It starts and drives. A colleague fitted "
        "a new fuse yesterday, that held until the evening."
    ),
    weather="dry",
    arrival=(
        FuseFound(id="arrival-1", situation=_ON, fuse="F5", state="blown"),
        Works(id="arrival-2", situation=_ON, target="display lights up", works=False),
        Works(id="arrival-3", situation=_LIGHTS, target="work lights", works=False),
        Works(id="arrival-4", situation=_HORN, target="horn sounds", works=True),
        Works(id="arrival-5", situation=_CRANK, target="engine cranks", works=True),
    ),
    lived=(_ON, _CRANK, _RUN, _LIGHTS, _BEACON),
    truth=Truth(
        words=(
            "wire 35a, the beacon lead behind switch S3, is rubbed through to the console at the "
            "panel edge; F5 blows when the beacon is switched on and stays blown"
        ),
        atom="wire 35a/to ground/beacon lead",
        ohm=0.02,
        target="35a",
        spot="panel edge",
        blows=("F5",),
    ),
)

JOBS: Final = (AFTER_WASHING, NO_CRANK, LIGHTS_DEAD)
