"""From a wiring book to a network: every part, pin, contact, wire and unit pin as branches.

Names: "PART:pin" is a terminal inside a part, "PART.pin" the wire side of it where a probe
touches, "PART.pin/contact" the contact between; "X14.3a" and "X14.3b" are the two sides of an
inline plug way; a stud, splice or post has one lug per wire, "G2:1<wire id>".
"""

from __future__ import annotations

from math import inf
from typing import Literal

from backprobe.base.copper import wire_ohm
from backprobe.book.model import BODIES, MINUS, Book, End, Part, PinRole, Wire
from backprobe.book.values import attributes_of, group_attributes, role_attributes
from backprobe.circuit.naming import Names, group_name, inner, node_names, reference_post
from backprobe.circuit.net import (
    REFERENCE,
    Element,
    Input,
    Net,
    Shift,
    Source,
    StateOf,
    build_net,
)
from backprobe.kinds import GROUP, KINDS, ROLES
from backprobe.kinds.records import (
    Across,
    Attrs,
    Branch,
    Injection,
    Kind,
    Move,
    Role,
    State,
    When,
)
from backprobe.kinds.values import number

PLUG = "plug"
"""Kind of an inline plug: its ways join two wires."""


def contact_ohm(area_m2: float, joint: str) -> float:
    """Resistance of a healthy contact, ohm, from the wire it serves.

    3 mohm at 1 mm2 and falling with the wire's area for a plug contact (0.5-2 mohm for fresh
    contacts of 30-40 A parts: relay and power plug sheets; 3 mohm allows for age, judgement);
    a tenth of it for a bolted lug or a crimp.
    """
    plug = min(5e-3, max(2e-4, 3e-3 * 1e-6 / area_m2))
    return plug if joint == "plug" else plug / 10.0


def assemble(book: Book) -> Net:
    """The network of a book. Every part, wire and unit pin of a Book without errors has one."""
    return _Assembly(book).net()


class _Assembly:
    """Collects elements while the parts of the book are walked through."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.elements: list[Element] = []
        self.sources: list[Source] = []
        self.states: list[StateOf] = []
        self.shifts: list[Shift] = []
        self.numbers: dict[tuple[str, str], int] = {}
        self.alias: dict[str, str] = {}
        self.names: set[str] = set()
        self.wires_at: dict[tuple[str, str], list[Wire]] = {}
        for wire in book.wires.values():
            for end in (wire.a, wire.b):
                self.wires_at.setdefault((end.part, end.pin), []).append(wire)
        self.reference = reference_post(book)

    def net(self) -> Net:
        for part in self.book.parts.values():
            self._part(part)
        for group in self.book.groups.values():
            self._group(group.unit, group.name)
        for role in self.book.roles.values():
            self._role(role)
        self._wires()
        return build_net(
            self.elements,
            sources=self.sources,
            states=self.states,
            shifts=self.shifts,
            alias=self.alias,
        )

    def _names_of(self, part: str, **words: str) -> Names:
        return node_names(self.book, part, reference=self.reference, **words)

    def _node(self, name: str) -> str:
        return REFERENCE if name == self.reference else name

    # -- states ---------------------------------------------------------------------------
    def _state(self, owner: str, state: State, operated: str, attrs: Attrs) -> None:
        driven: Input | Literal[""] = ""
        if state.set_by == "situation" and state.name in ("key", operated):
            driven = "key" if state.name == "key" else "operated"
        self._add_state(
            StateOf(
                owner=owner,
                name=state.name,
                words=state.words,
                rest=state.rest,
                driven=driven,
                keys=tuple(str(attrs.get("in") or "").split()),
                needs=tuple(
                    name.strip() for name in str(attrs.get("with") or "").split("+") if name
                ),
            )
        )

    def _add_state(self, state: StateOf) -> int:
        self.numbers[(state.owner, state.name)] = len(self.states)
        self.states.append(state)
        return len(self.states) - 1

    def _when(self, when: When, *owners: str) -> tuple[tuple[int, tuple[str, ...]], ...]:
        result = []
        for name, allowed in when.items():
            number = next(
                self.numbers[(owner, name)] for owner in owners if (owner, name) in self.numbers
            )
            result.append((number, tuple(allowed)))
        return tuple(result)

    # -- parts ----------------------------------------------------------------------------
    def _part(self, part: Part) -> None:
        if part.kind == PLUG:
            self._ways(part)
            return
        kind = KINDS[part.kind]
        attrs = attributes_of(self.book, part.name)
        for state in kind.states:
            self._state(part.name, state, kind.operated, attrs)
        nodes = self._names_of(part.name)
        self._records(part.name, kind, attrs, nodes, (part.name,))
        if kind.joint in ("stud", "crimp"):
            for pin in kind.pins or part.pins:
                node = self._node(inner(part.name, pin))
                self.alias[f"{part.name}.{pin}"] = node
                self.alias.setdefault(part.name, node)

    def _ways(self, part: Part) -> None:
        mated = self._mated(part.name)
        for pin in part.pins:
            ends = self.wires_at.get((part.name, pin), [])
            if not ends:
                continue
            way = f"{part.name}.{pin}"
            area = max(wire.area_m2 for wire in ends)
            self._add(
                Element(
                    name=f"{way}/contact",
                    p=f"{way}a",
                    n=f"{way}b",
                    ohm=contact_ohm(area, "plug"),
                    when=((mated, ("yes",)),),
                    contact=True,
                )
            )
            self.alias[way] = f"{way}a"

    def _mated(self, owner: str) -> int:
        number = self.numbers.get((owner, "mated"))
        if number is not None:
            return number
        return self._add_state(
            StateOf(
                owner=owner,
                name="mated",
                words=("yes", "no"),
                rest="yes",
                driven="mated",
                parted_by=(owner,),
            )
        )

    # -- unit pins and groups -------------------------------------------------------------
    def _group(self, unit: str, name: str) -> None:
        owner = group_name(unit, name)
        attrs = group_attributes(self.book, unit, name)
        for state in GROUP.states:
            self._state(owner, state, "", attrs)
        nodes = self._names_of(unit, group=name)
        self._records(owner, GROUP, attrs, nodes, (owner, unit))

    def _role(self, role: PinRole) -> None:
        record = ROLES[role.role]
        owner = str(role.pin)
        attrs = role_attributes(self.book, role.pin)
        for state in record.states:
            self._state(owner, state, record.operated, attrs)
        unit = role.pin.part
        nodes = self._names_of(unit, pin=role.pin.name, group=role.group)
        self._records(owner, record, attrs, nodes, (owner, unit))

    def _records(
        self,
        owner: str,
        record: Kind | Role,
        attrs: Attrs,
        nodes: Names,
        owners: tuple[str, ...],
    ) -> None:
        for branch in record.branches:
            self._branch(owner, record, branch, attrs, nodes, owners)
        for source in record.injections:
            self._source(owner, source, attrs, nodes, owners)
        for move in record.moves:
            self._shift(owner, move, attrs, nodes)

    def _branch(
        self,
        owner: str,
        record: Kind | Role,
        branch: Branch,
        attrs: Attrs,
        nodes: Names,
        owners: tuple[str, ...],
    ) -> None:
        ohm = number(branch.ohm, attrs)
        if ohm == inf:
            return
        self._add(
            Element(
                name=f"{owner}/{branch.name}",
                p=nodes(branch.p),
                n=nodes(branch.n),
                ohm=ohm,
                emf=number(branch.emf, attrs),
                when=self._when(branch.when, *owners),
                row=tuple((nodes(name), number(k, attrs)) for name, k in branch.row),
                column=tuple((nodes(name), number(k, attrs)) for name, k in branch.column),
                contact=branch.contact,
                warms=branch.warms,
                battery=record.name == "battery" and bool(branch.emf),
            )
        )

    def _source(
        self,
        owner: str,
        source: Injection,
        attrs: Attrs,
        nodes: Names,
        owners: tuple[str, ...],
    ) -> None:
        self.sources.append(
            Source(
                name=f"{owner}/{source.name}",
                p=nodes(source.p),
                n=nodes(source.n),
                amps=number(source.amps, attrs),
                when=self._when(source.when, *owners),
            )
        )

    def _shift(self, owner: str, move: Move, attrs: Attrs, nodes: Names) -> None:
        quantity = move.quantity
        branch, p, n = "", "", ""
        if isinstance(quantity, Across):
            p, n = nodes(quantity.p), nodes(quantity.n)
        else:
            branch = f"{owner}/{quantity.branch}"
            if branch not in self.names:
                return
        self.shifts.append(
            Shift(
                state=self.numbers[(owner, move.state)],
                leaves=move.leaves,
                to=move.to,
                p=p,
                n=n,
                branch=branch,
                above=inf if move.above is None else number(move.above, attrs),
                below=-inf if move.below is None else number(move.below, attrs),
                size=move.size,
                pace=move.pace,
                lasting=move.lasting,
            )
        )

    # -- wires ----------------------------------------------------------------------------
    def _wires(self) -> None:
        for wire in self.book.wires.values():
            a = self._end(wire.a, wire.id, wire.area_m2)
            b = self._end(wire.b, wire.id, wire.area_m2)
            ohm = max(1e-5, wire_ohm(wire.area_m2, wire.length_m))
            self._add(Element(name=f"wire {wire.id}", p=a, n=b, ohm=ohm, warms=True))

    def _end(self, end: End, wire: str, area_m2: float) -> str:
        """The node a wire ends at; adds the contact between it and the part."""
        if end.part in BODIES:
            return self._contact(f"{end.part}<{wire}>", end.part, area_m2, "stud", None)
        part = self.book.parts[end.part]
        if part.kind == PLUG:
            return f"{end.part}.{end.pin}{end.side or 'a'}"
        kind = KINDS[part.kind]
        joint = kind.joint
        post = self._node(inner(part.name, end.pin))
        if joint == "none":
            return post
        if post == REFERENCE:
            lugs = self._mated(MINUS)
            return self._contact(f"{part.name}.{end.pin}<{wire}>", post, area_m2, joint, lugs)
        if joint == "plug":
            mated = self._mated(part.name)
            return self._contact(f"{part.name}.{end.pin}", post, area_m2, joint, mated)
        # The nut of a load with one stud comes off to measure it.
        off = self._mated(part.name) if kind.load and len(kind.pins) == 1 else None
        return self._contact(f"{post}<{wire}>", post, area_m2, joint, off)

    def _contact(self, outer: str, post: str, area_m2: float, joint: str, mated: int | None) -> str:
        name = f"{outer}/contact"
        if name not in self.names:
            ohm = contact_ohm(area_m2, joint)
            when = () if mated is None else ((mated, ("yes",)),)
            self._add(Element(name=name, p=outer, n=post, ohm=ohm, when=when, contact=True))
        return outer

    def _add(self, element: Element) -> None:
        self.names.add(element.name)
        self.elements.append(element)
