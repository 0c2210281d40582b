"""Rules about the way from the battery and back."""

from __future__ import annotations

from collections.abc import Iterable

from backprobe.book.draft import UNITS
from backprobe.book.feeds import GROUND, SUPPLY
from backprobe.book.model import BODIES, Part
from backprobe.book.nets import Node, conducts
from backprobe.book.rules.context import Checked, spot_of
from backprobe.kinds import KINDS


def no_way(checked: Checked) -> None:
    """Loads, sensors and units of typed circuits that no feed or no ground can reach."""
    feed, back = _sources(checked)
    fed = _reach(checked, feed, bodies=False)
    grounded = _reach(checked, back, bodies=True)
    returns = _sensor_returns(checked)
    for name, part in checked.draft.parts.items():
        if part.kind in UNITS:
            _unit(checked, name, fed, grounded, returns)
            continue
        for one, other in _ways(part):
            if checked.typed((name, one)) or checked.typed((name, other)):
                _part(checked, name, one, other, fed, grounded)


def _ways(part: Part) -> tuple[tuple[str, str], ...]:
    """Pairs of pins a part works between; "" is the metal it is bolted to."""
    kind = KINDS[part.kind]
    if kind.letter == "K" and "86" in kind.pins:
        return (("86", "85"),)
    if {"supply", "ground"} <= set(kind.aliases):
        return ((kind.aliases["supply"], kind.aliases["ground"]),)
    if kind.load and kind.pins == ("1", "2"):
        return (("1", "2"),)
    if kind.name == "starter":
        return (("30", ""), ("50", ""))
    if kind.load and kind.pins == ("1",):
        return (("1", ""),)
    return ()


def _part(
    checked: Checked, name: str, one: str, other: str, fed: set[Node], grounded: set[Node]
) -> None:
    a = (name, one)
    if not other:
        if a not in fed and checked.typed(a):
            _tell(checked, "no-feed", a)
        return
    b = (name, other)
    if (a in fed and b in grounded) or (a in grounded and b in fed):
        return
    if a not in fed and b not in fed:
        _tell(checked, "no-feed", b if a in grounded and b not in grounded else a)
    if a not in grounded and b not in grounded:
        _tell(checked, "no-ground", a if b in fed and a not in fed else b)


def _unit(
    checked: Checked, name: str, fed: set[Node], grounded: set[Node], returns: set[Node]
) -> None:
    """Supply and ground pins; a ground pin may be the return of sensors alone."""
    for pin, role in checked.draft.roles_of(name).items():
        at = (name, pin)
        if not checked.typed(at):
            continue
        if role.role == SUPPLY and at not in fed:
            _tell(checked, "no-feed", at)
        elif role.role == GROUND and at not in grounded and checked.nets.find(at) not in returns:
            _tell(checked, "no-ground", at)


def _sensor_returns(checked: Checked) -> set[Node]:
    """The nets sensors return their ground to."""
    return {
        checked.nets.find((part.name, aliases["ground"]))
        for part in checked.draft.parts.values()
        if "signal" in (aliases := KINDS[part.kind].aliases) and "ground" in aliases
    }


def _tell(checked: Checked, slug: str, at: Node) -> None:
    part, pin = at
    pins = [at, *((part, other) for other in checked.draft.pins_of(part))]
    hops = [hop for near in pins for hop in checked.at.get(near, ()) if hop.line]
    spot = spot_of(hops[0], f"{part}.{pin}", part) if hops else None
    checked.report.add(slug, spot, part=part, pin=f"{part}.{pin}")


def _sources(checked: Checked) -> tuple[list[Node], list[Node]]:
    """Pins that give a feed, and pins that take the current back. A unit's pin of unknown role
    may do either."""
    feed: list[Node] = []
    back: list[Node] = [(body, "") for body in BODIES]
    for name, part in checked.draft.parts.items():
        if part.kind == "battery":
            feed.append((name, "+"))
            back.append((name, "-"))
        elif part.kind == "alternator":
            feed.append((name, "B+"))
            back.append((name, "D+"))  # the charge lamp's way to ground is the field winding
        elif part.kind in UNITS:
            roles = checked.draft.roles_of(name)
            for pin in checked.draft.pins_of(name):
                role = roles[pin].role if pin in roles else ""
                if role not in (GROUND, SUPPLY, "low side driver", "PWM driver"):
                    feed.append((name, pin))
                if role not in (SUPPLY, "5 V group", "high side driver", "switched output"):
                    back.append((name, pin))
    return feed, back


def _reach(checked: Checked, start: Iterable[Node], *, bodies: bool) -> set[Node]:
    """Every pin current can come from or go to, through wires, contacts and fuses but no load."""
    onward = conducts(checked.draft.parts, passive=True)
    bolted: dict[str, list[Node]] = {}
    for part in checked.draft.parts.values():
        if part.kind in ("ground stud", "oil pressure switch"):
            bolted.setdefault(part.body, []).extend((part.name, pin) for pin in part.pins)
    reached = set(start)
    frontier = list(reached)
    while frontier:
        at = frontier.pop()
        near = [(end.part, end.pin) for hop in checked.at.get(at, ()) for end in (hop.a, hop.b)]
        if at[0] not in BODIES:
            near += onward(at)
        else:
            near += bolted.get(at[0], ())
        for there in near:
            if there not in reached and (bodies or there[0] not in BODIES):
                reached.add(there)
                frontier.append(there)
    return reached
