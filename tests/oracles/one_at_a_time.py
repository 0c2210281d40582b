"""One defect at a time, by hand: elements changed, solved, states moved, again until still.

The engine solves every defect as low-rank ports on shared factorisations. This takes a Net as
data only, writes the changed circuit out in full (a wire that is tapped becomes two wires), solves
it with plain nodal analysis (oracles.nodal) and follows the same stated rule: start from key off,
lasting states carried over; of all moves due, those of the fastest pace go, of fuses only the one
furthest over its limit, and one below 350 % of its rating after relays and units; repeat until
nothing moves.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf, isinf

from backprobe.book.situations import Lead, Situation
from backprobe.circuit.net import GMIN, Net, Shift
from backprobe.kinds.records import Bridge, Change
from oracles import nodal
from oracles.plain import Element, Plain, Source

Words = dict[tuple[str, str], str]
When = tuple[tuple[int, tuple[str, ...]], ...]
TURNS = 48
_MADE: deque[tuple[Net, list[tuple[When, Element]]]] = deque(maxlen=4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """A wire bare at the share `t` of its length from p, touching node `to` through `ohm`; or,
    with `to_t`, touching the wire named `to` at that share. The halves are written out."""

    branch: str
    t: float
    to: str
    ohm: float
    to_t: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """Where a circuit came to rest. `margin`: how near (V or A, relative to the limit) any move
    was to going the other way; `steady` False when it never rested."""

    volts: Mapping[str, float]
    amps: Mapping[str, float]
    words: Words
    steady: bool
    margin: float


def written_out(net: Net, words: Words, changes: Iterable[Change | Tap] = ()) -> Plain:
    """The circuit of a net with its states in these words and with physical changes made."""
    changes = list(changes)
    met: dict[When, bool] = {}

    def live(when: When) -> bool:
        if when not in met:
            owners = ((net.states[number], allowed) for number, allowed in when)
            met[when] = all(words[state.owner, state.name] in allowed for state, allowed in owners)
        return met[when]

    elements = [element for when, element in _elements(net) if not when or live(when)]
    sources = [Source(name=s.name, p=s.p, n=s.n, amps=s.amps) for s in net.sources if live(s.when)]
    nodes = list(net.nodes)
    for number, tap in enumerate(c for c in changes if isinstance(c, Tap)):
        ends = [_halved(elements, nodes, tap.branch, tap.t, f"tap {number}")]
        if tap.to_t is None:
            ends.append(tap.to)
        else:
            ends.append(_halved(elements, nodes, tap.to, tap.to_t, f"other tap {number}"))
        elements.append(Element(name=f"touch {number}", p=ends[0], n=ends[1], ohm=tap.ohm))
    plain = Plain(
        ground=net.nodes[0],
        nodes=tuple(nodes),
        elements=tuple(elements),
        sources=tuple(sources),
        leak=GMIN,
        leaks=frozenset(net.nodes),
    )
    return plain.changed(c for c in changes if not isinstance(c, Tap))


def _elements(net: Net) -> list[tuple[When, Element]]:
    """All elements of a net, whatever its states; the last few nets are remembered."""
    for known, made in _MADE:
        if known is net:
            return made
    made = [
        (
            e.when,
            Element(name=e.name, p=e.p, n=e.n, ohm=e.ohm, emf=e.emf, row=e.row, column=e.column),
        )
        for e in net.elements
    ]
    _MADE.append((net, made))
    return made


def _halved(elements: list[Element], nodes: list[str], wire: str, t: float, middle: str) -> str:
    """Cut a wire in two at a new node; the second half keeps the wire's name."""
    place = next(k for k, element in enumerate(elements) if element.name == wire)
    whole = elements[place]
    first = Element(name=f"{wire} to {middle}", p=whole.p, n=middle, ohm=whole.ohm * t)
    elements[place] = Element(name=wire, p=middle, n=whole.n, ohm=whole.ohm * (1 - t))
    elements.append(first)
    nodes.append(middle)
    return middle


def key_off(net: Net) -> Words:
    """Every state at rest."""
    return {(state.owner, state.name): state.rest for state in net.states}


def commanded(net: Net, situation: Situation, lasting: Words | None = None) -> Words:
    """The states a situation starts in: key, loads and plugs set, the circuit's own at rest."""
    words = key_off(net)
    parted = situation.unplugged | situation.pulled
    if situation.battery_off:
        parted |= {"battery minus"}
    for state in net.states:
        at = (state.owner, state.name)
        if state.driven == "key":
            words[at] = situation.key
        elif state.driven == "operated":
            by_key = not state.keys or situation.key in state.keys
            by_need = all(name in situation.on for name in state.needs)
            ruled = bool(state.keys or state.needs) and by_key and by_need
            if ruled or state.owner in situation.on:
                words[at] = state.words[1]
        elif state.driven == "mated" and parted & set(state.parted_by):
            words[at] = "no"
    return words | (lasting or {})


def settle(net: Net, words: Words, changes: Iterable[Change | Tap] = ()) -> End:
    """Follow one circuit to rest from the states given."""
    changes, words = list(changes), dict(words)
    margin = inf
    for _ in range(TURNS):
        solved = nodal.solve(written_out(net, words, changes))
        due: list[tuple[int, float, Shift]] = []
        for shift in net.shifts:
            state = net.states[shift.state]
            if words[state.owner, state.name] != shift.leaves:
                continue
            amount, over, near = _against(shift, solved)
            margin = min(margin, near)
            if over > 0 or amount < shift.below:
                pace = shift.pace
                if pace == 1:
                    margin = min(margin, abs((1 + over) * 1.35 / 3.5 - 1))
                    pace = 3 if (1 + over) * 1.35 < 3.5 else 1
                due.append((pace, over, shift))
        if not due:
            return End(
                volts=solved.volts, amps=solved.amps, words=words, steady=True, margin=margin
            )
        pace = min(pace for pace, _, _ in due)
        going = [(over, shift) for at, over, shift in due if at == pace]
        if pace in (1, 3):
            going.sort(key=lambda item: -item[0])
            if len(going) > 1:
                margin = min(margin, going[0][0] / going[1][0] - 1 if going[1][0] > 0 else inf)
            del going[1:]
        for _, shift in going:
            state = net.states[shift.state]
            words[state.owner, state.name] = shift.to
    return End(volts={}, amps={}, words=words, steady=False, margin=margin)


def _against(shift: Shift, solved: nodal.Solution) -> tuple[float, float, float]:
    """The watched amount, how far it is over `above` (ratio less 1), how near to a limit."""
    if shift.branch:
        amount = solved.amps.get(shift.branch, 0.0)
    else:
        amount = solved.volts[shift.p] - solved.volts[shift.n]
    if shift.size:
        amount = abs(amount)
    over = -inf
    if not isinf(shift.above):
        over = amount / shift.above - 1 if shift.above > 0 else amount - shift.above
    bounds = [bound for bound in (shift.above, shift.below) if not isinf(bound)]
    absent = bool(shift.branch) and shift.branch not in solved.amps
    near = inf if absent else min((abs(amount - bound) for bound in bounds), default=inf)
    return amount, over, near


def lived(
    net: Net, situation: Situation, changes: Iterable[Change | Tap] = (), *, gone: bool = False
) -> End:
    """A situation with the ones it came after: what they blew stays blown unless renewed.
    `gone`: the defect was there before but does not show now."""
    changes = list(changes)
    lasting: Words = {}
    chain = [situation]
    while chain[-1].after is not None:
        chain.append(chain[-1].after)
    end: End | None = None
    for step in reversed(chain):
        lasting = {at: word for at, word in lasting.items() if at[0] not in step.renewed}
        shown = [] if gone and step is situation else changes
        shown = [*shown, *(_fitted(net, lead) for lead in step.fitted)]
        end = settle(net, commanded(net, step, lasting), shown)
        for shift in net.shifts:
            state = net.states[shift.state]
            at = (state.owner, state.name)
            if shift.lasting and end.words[at] == shift.to:
                lasting[at] = shift.to
    assert end is not None
    return end


FITTED_OHM = {
    "lamp 21 W": 144 / 21,
    "lamp 55 W": 144 / 55,
    "lamp 24 V 21 W": 576 / 21,
    "lamp 24 V 70 W": 576 / 70,
    "resistor 1 kohm": 1000.0,
    "jumper": 0.03,
    "booster cable": 0.002,
}


def _fitted(net: Net, lead: Lead) -> Bridge:
    """A lead between two printed places; lamps hot at 12 V."""
    p, n = (net.alias.get(place, place) for place in (lead.p, lead.n))
    return Bridge(p=p, n=n, ohm=FITTED_OHM[lead.kind])
