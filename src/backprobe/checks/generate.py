"""Everything that could be checked near the suspicion."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from backprobe.book.model import MINUS, Book
from backprobe.book.situations import Situation
from backprobe.checks.bus import bus_ohms
from backprobe.checks.hands import FUSES, by_hand, made
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.model import Check
from backprobe.checks.outcomes import answers_of
from backprobe.checks.parted import parted
from backprobe.checks.places import at_places
from backprobe.checks.readings import reading, readings
from backprobe.checks.safety import reachable
from backprobe.checks.scene import Scene, scene_of
from backprobe.checks.trap import trap
from backprobe.defects.model import Defects, Probe
from backprobe.findings.model import (
    AnyFinding,
    CodesFound,
    DisplayRead,
    FuseFound,
    JobState,
    Looked,
    Provoked,
    Reading,
    Works,
)
from backprobe.kinds import KINDS
from backprobe.kinds.records import Task
from backprobe.suspects.model import Belief

MOST = 400
PARTS = 24


def candidates(
    book: Book, job: JobState, defects: Defects, belief: Belief, *, most: int = MOST
) -> tuple[Check, ...]:
    """Checks near the suspects with a real chance, at most `most`, not yet judged for safety.

    From the network: volts at every reachable pin, drops, ohms, a lamp, the clamp; from the
    kinds: their own tasks; and what needs only eyes and hands. Ids are stable within a book.
    """
    return from_scene(scene_of(layout_of(book, KINDS), job, defects, belief), most=most)


def from_scene(scene: Scene, *, most: int = MOST) -> tuple[Check, ...]:
    """candidates() for a scene already set."""
    found: dict[str, Check] = {}
    looked: set[str] = set()
    told = answering(scene.job)
    for check in (
        *by_hand(scene),
        *at_places(scene),
        *trap(scene),
        *bus_ohms(scene),
        *tasks(scene),
        *parted(scene),
        *readings(scene),
    ):
        if check.does == "look":
            # A part is looked at once, its plug and all.
            if check.opens[0] in looked and check.target == check.opens[0]:
                continue
            looked.add(check.opens[0])
        if not known_already(scene.job, check, told):
            found.setdefault(check.id, check)
    return tuple(found.values())[:most]


def tasks(scene: Scene) -> Iterator[Check]:
    """The tasks that the kinds of nearby parts bring with them."""
    layout = scene.layout
    near = dict.fromkeys([*(touch.part for touch in scene.near), *scene.owners])
    for name in [part for part in near if part in layout.book.parts][:PARTS]:
        kind = layout.kind(name)
        for task in kind.tasks if kind else ():
            yield from _task(scene, name, task)


def _task(scene: Scene, part: str, task: Task) -> Iterator[Check]:
    layout = scene.layout
    if task.does in ("volts", "drop", "millivolts", "ohms"):
        unplugged = frozenset({part}) if task.does == "ohms" else frozenset()
        p, n = _node(layout, part, task.p, task.does), _node(layout, part, task.n, task.does)
        if not p or not n:
            return
        probe = Probe(kind="ohms" if task.does == "ohms" else "volts", p=p, n=n)
        if task.does == "ohms":
            dead = scene.situation("off", unplugged=unplugged, battery_off=True)
            yield reading(
                layout,
                task.does,
                probe,
                dead,
                target=part,
                opens=(part,),
                hazards=task.hazards,
                seconds=task.seconds,
            )
            return
        for situation in scene.live:
            if task.needs == "on" and not _commanded(scene, part, situation):
                continue
            if all(reachable(layout, node, situation) for node in (p, n)):
                yield reading(
                    layout,
                    task.does,
                    probe,
                    situation,
                    target=part,
                    opens=(part,),
                    hazards=task.hazards,
                    seconds=task.seconds,
                )
    elif task.does == "look" and layout.book.parts[part].kind not in FUSES:
        yield made(
            "look",
            part,
            f"Look at {part}: {task.words}",
            scene.situation("off"),
            opens=(part,),
            hazards=task.hazards,
            seconds=task.seconds,
        )


def _commanded(scene: Scene, part: str, situation: object) -> bool:
    """Whether a part runs in a situation, as far as its kind says it must be commanded."""
    kind = scene.layout.kind(part)
    return (
        kind is None
        or not kind.operated
        or part in getattr(situation, "on", ())
        or bool(
            scene.layout.book.parts[part].attrs.get("in")
            or scene.layout.book.parts[part].attrs.get("with")
        )
    )


def _node(layout: Layout, part: str, pin: str, does: str) -> str:
    """The node of a task's pin: inside the part for ohms of the part itself, else its wire side."""
    if pin == "@minus":
        return MINUS
    if pin == "@body":
        return (layout.book.parts[part].body or "frame").split(" ")[0]
    if does == "ohms":
        return f"{part}:{pin}"
    for end in layout.end_at.get(part, ()):
        if end.pin == pin:
            return layout.ends[end].node
    return ""


ANSWERED_BY: Mapping[str, type[AnyFinding]] = {
    "display": DisplayRead,
    "works": Works,
    "fuse": FuseFound,
    "new fuse": FuseFound,
    "codes": CodesFound,
    "look": Looked,
    "provoke": Provoked,
}
"""The findings that answer a sort of check; all others are answered by readings."""
Told = Mapping[type[AnyFinding], Sequence[tuple[AnyFinding, Situation]]]


def answering(job: JobState) -> Told:
    """The findings that may answer a check of this visit by their sort, each with its situation without
    history."""
    told: dict[type[AnyFinding], list[tuple[AnyFinding, Situation]]] = {}
    for finding in job.findings:
        if finding.trusted and (
            isinstance(finding, Looked | Provoked) or finding.visit == job.visit
        ):
            told.setdefault(type(finding), []).append((finding, finding.situation.bare()))
    return told


def known_already(job: JobState, check: Check, told: Told) -> bool:
    """Whether this visit has the answer already; looks and provocations count for good. `told`: as of
    answering()."""
    situation = check.situation.bare()
    for finding, its in told.get(ANSWERED_BY.get(check.does, Reading), ()):
        same = finding.visit == job.visit and its == situation
        match finding:
            case Reading():
                probe = check.probe
                known = (
                    same
                    and probe is not None
                    and check.does != "beep"
                    and finding.instrument != "beeper"
                    and (
                        (finding.p, finding.n) == (probe.p, probe.n)
                        or (check.does == "amps" and finding.p == probe.p)
                        or (check.does == "drop" and (finding.n, finding.p) == (probe.p, probe.n))
                    )
                )
                known = known or (
                    same
                    and check.does == "beep"
                    and finding.instrument == "beeper"
                    and probe is not None
                    and finding.p == probe.p
                )
            case DisplayRead():
                known = same and check.target == f"{finding.unit} {finding.name}"
            case Works():
                known = finding.visit == job.visit and check.target == finding.target
            case FuseFound():
                known = (
                    finding.visit == job.visit
                    and check.target == finding.fuse
                    and (
                        (check.does == "fuse" and finding.state not in ("blew", "held"))
                        or (check.does == "new fuse" and same and finding.state != "blown")
                    )
                )
            case CodesFound():
                known = same and _answers(finding, check)
            case Looked():
                known = finding.target in answers_of(check)
            case Provoked():
                known = check.condition == finding.condition and set(
                    check.target.split(", ")
                ) <= set(finding.places)
            case _:
                known = False
        if known:
            return True
    return False


def _answers(found: CodesFound, check: Check) -> bool:
    unit, _, code = check.target.rpartition(" ")
    told = (*found.active, *found.absent)
    return unit == found.unit and (found.complete or code in told)
