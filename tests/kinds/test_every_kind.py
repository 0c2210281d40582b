"""One battery of checks that every kind, every role and the 5 V group must pass."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import chain
from math import inf, isfinite, isnan

import pytest

from backprobe.kinds import GROUP, HAZARDS, KINDS, ROLES
from backprobe.kinds.records import (
    SEVERITY,
    Across,
    Branch,
    Bridge,
    Kind,
    Lift,
    Role,
    Series,
    Through,
)
from backprobe.kinds.usual import DRIFT
from backprobe.kinds.values import complete, number

RECORDS: dict[str, Kind | Role] = {
    **{f"kind {name}": kind for name, kind in KINDS.items()},
    **{f"role {name}": role for name, role in ROLES.items()},
    "5 V group": GROUP,
}
UNITS = ("ohm", "A", "V", "W", "m", "m2", "s", "kg", "%", "1", "Hz", "C", "word")
METAL = {"@body", "@body2", "@minus"}
ROLE_NODES = {"pin", "supply", "ground", "group", "can high", "can low"}
LEAST_OHM = 1e-5

every = pytest.mark.parametrize("record", RECORDS.values(), ids=RECORDS.keys())
every_kind = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS.keys())


def settings(record: Kind | Role) -> Iterator[dict[str, float | str]]:
    """The defaults at 12 V and 24 V, every word of every word attribute, both ends of ranges."""
    yield complete(record.attributes, {})
    yield complete(record.attributes, {}, volts=24.0)
    for attribute in record.attributes:
        for word in attribute.words:
            yield complete(record.attributes, {attribute.name: word})
        for end in (attribute.low, attribute.high):
            if isfinite(end):
                yield complete(record.attributes, {attribute.name: end})


def nodes_of(branch: Branch) -> set[str]:
    return {branch.p, branch.n, *(node for node, _ in branch.row + branch.column)}


def state_words(record: Kind | Role) -> dict[str, tuple[str, ...]]:
    words = {state.name: state.words for state in record.states}
    if isinstance(record, Role):
        words["power"] = next(
            state.words for state in KINDS["control unit"].states if state.name == "power"
        )
    return words


@every
def test_names_within_a_record_are_unique(record: Kind | Role) -> None:
    for named in (
        record.attributes,
        record.states,
        (*record.branches, *record.injections),
        record.failures,
        record.tasks,
    ):
        counts = Counter(one.name for one in named)  # type: ignore[attr-defined]
        assert [name for name, count in counts.items() if count > 1] == []


@every
def test_attributes_are_stated_in_full(record: Kind | Role) -> None:
    filled = complete(record.attributes, {})
    for attribute in record.attributes:
        assert all((attribute.name, attribute.meaning, attribute.source)), attribute
        assert attribute.unit in UNITS, attribute
        assert attribute.low <= attribute.high
        if attribute.unit == "word":
            assert not attribute.words or filled[attribute.name] in attribute.words
        elif attribute.name in filled:
            value = number(attribute.name, filled)
            assert attribute.low <= value <= attribute.high, (attribute.name, value)
            assert isfinite(attribute.high - attribute.low), f"{attribute.name} has no range"


@every
def test_a_lone_quantity_can_mean_only_one_attribute(record: Kind | Role) -> None:
    units = Counter(attribute.unit for attribute in record.attributes if attribute.bare)
    assert [unit for unit, count in units.items() if count > 1] == []


@every
def test_states_rest_in_one_of_their_words(record: Kind | Role) -> None:
    for state in record.states:
        assert state.rest in state.words
        assert len(set(state.words)) == len(state.words) >= 2
    if record.operated:
        operated = next(state for state in record.states if state.name == record.operated)
        assert operated.set_by == "situation"
        assert operated.words[0] == operated.rest
        assert len(operated.words) == 2
    for state in record.states:
        if state.name == "key":
            assert state.words == ("off", "on", "crank", "run")


@every
def test_branches_stand_between_known_nodes_in_known_states(record: Kind | Role) -> None:
    words = state_words(record)
    for branch in (*record.branches, *record.injections):
        for state, allowed in branch.when.items():
            assert set(allowed) <= set(words[state]), (branch.name, state)
            assert allowed, branch.name
        assert branch.p != branch.n
    inner = Counter(chain.from_iterable(nodes_of(branch) for branch in record.branches))
    known = (set(record.pins) if isinstance(record, Kind) else ROLE_NODES) | METAL
    for node, times in inner.items():
        assert node in known or times >= 2 or node in ("supply", "ground"), (
            f"{node} is no pin and nothing else joins it"
        )


@every
def test_every_value_works_out_for_every_setting(record: Kind | Role) -> None:
    for attrs in settings(record):
        for branch in record.branches:
            ohm = number(branch.ohm, attrs)
            assert ohm >= LEAST_OHM, (branch.name, ohm, attrs)
            assert isfinite(number(branch.emf, attrs)), branch.name
            for _, coefficient in branch.row + branch.column:
                assert isfinite(number(coefficient, attrs)), branch.name
        for injection in record.injections:
            assert isfinite(number(injection.amps, attrs))
        for move in record.moves:
            for bound in (move.above, move.below):
                assert bound is None or not isnan(number(bound, attrs))


@every
def test_controlled_branches_conserve_current(record: Kind | Role) -> None:
    """What a branch takes out of some nodes it gives to others (Kirchhoff)."""
    for attrs in settings(record):
        for branch in record.branches:
            if branch.column:
                total = sum(number(value, attrs) for _, value in branch.column)
                assert total == pytest.approx(0.0, abs=1e-12), branch.name


@every
def test_moves_lead_between_words_of_states_the_circuit_sets(record: Kind | Role) -> None:
    states = {state.name: state for state in record.states}
    branches = {branch.name for branch in record.branches}
    nodes = set(chain.from_iterable(nodes_of(branch) for branch in record.branches)) | METAL
    for move in record.moves:
        state = states[move.state]
        assert state.set_by == "circuit"
        assert {move.leaves, move.to} <= set(state.words)
        assert move.leaves != move.to
        assert (move.above is None) != (move.below is None), "one bound each"
        if isinstance(move.quantity, Through):
            assert move.quantity.branch in branches
        else:
            assert isinstance(move.quantity, Across)
            assert {move.quantity.p, move.quantity.n} <= nodes | ROLE_NODES
    for state in record.states:
        if state.set_by == "circuit":
            assert any(move.state == state.name for move in record.moves), state.name


@every
def test_no_state_moves_there_and_back_on_the_same_reading(record: Kind | Role) -> None:
    """Of two moves on one quantity the one back must ask for less: hysteresis, no chatter."""
    for attrs in settings(record):
        for out in record.moves:
            for back in record.moves:
                if (out.state, out.leaves, out.to) != (back.state, back.to, back.leaves):
                    continue
                if out.quantity != back.quantity or out.above is None or back.below is None:
                    continue
                assert number(back.below, attrs) <= number(out.above, attrs), (out, back)


@every
def test_failures_change_what_is_there_and_say_so(record: Kind | Role) -> None:
    branches = {branch.name: branch for branch in record.branches}
    nodes = set(chain.from_iterable(nodes_of(branch) for branch in record.branches)) | METAL
    for failure in record.failures:
        assert all((failure.words, failure.source, failure.changes)), failure.name
        assert 0.0 < failure.rate < 100.0
        assert 0.0 <= failure.sometimes <= 1.0
        assert 0.0 <= failure.visible <= 1.0
        assert min(failure.wet, failure.hot, failure.moved) >= 1.0
        assert failure.mend_s > 0.0
        assert failure.opens in ("", "plug")
        severe = False
        for change in failure.changes:
            if isinstance(change, Bridge):
                assert {change.p, change.n} <= nodes | ROLE_NODES, failure.name
                severe |= change.ohm == SEVERITY
            else:
                assert isinstance(change, Series | Lift)
                assert change.branch in branches, (failure.name, change.branch)
                severe |= SEVERITY in (getattr(change, "ohm", 0.0), getattr(change, "emf", 0.0))
        by_degree = failure.cells and failure.cells is not DRIFT
        assert severe == bool(by_degree), f"{failure.name}: severity needs cells, cells use it"
        if failure.cells:
            assert sum(cell.weight for cell in failure.cells) == pytest.approx(1.0)
            assert all(cell.spread >= 1.0 and cell.ohm > 0.0 for cell in failure.cells)


@every
def test_failures_leave_every_resistance_positive(record: Kind | Role) -> None:
    branches = {branch.name: branch for branch in record.branches}
    for attrs in settings(record):
        for failure in record.failures:
            for severity in failure.cells or (None,):
                for change in failure.changes:
                    if isinstance(change, Series):
                        added = number(change.ohm, attrs, severity)
                        left = number(branches[change.branch].ohm, attrs) + added
                        assert left > 0.0, (failure.name, attrs)
                        assert added != 0.0, failure.name
                    elif isinstance(change, Bridge):
                        assert 0.0 < number(change.ohm, attrs, severity) < inf
                    else:
                        assert number(change.emf, attrs, severity) != 0.0


@every
def test_tasks_name_pins_and_known_hazards(record: Kind | Role) -> None:
    pins = set(record.pins) if isinstance(record, Kind) else ROLE_NODES
    for task in record.tasks:
        assert task.words
        assert task.source
        assert task.seconds > 0.0
        assert set(task.hazards) <= set(HAZARDS), task.name
        assert task.p in pins | {""}, (task.name, task.p)
        assert task.n in pins | {"@minus", "@body"}, (task.name, task.n)
        if task.does == "ohms":
            assert (task.needs, "ohms-live" in task.hazards) == ("dead", True), task.name
        if task.does == "unplug":
            assert "unplug-live" in task.hazards


@every_kind
def test_kinds_have_words_letter_and_pins(kind: Kind) -> None:
    assert kind.name == kind.words[0]
    assert kind.meaning
    assert len(kind.letter) == 1
    assert len(set(kind.pins)) == len(kind.pins)
    assert set(kind.aliases.values()) <= set(kind.pins)
    assert not set(kind.aliases) & set(kind.pins), "an alias that is a pin"
    assert set(kind.hazards) <= set(HAZARDS)
    assert not kind.load or kind.load in {branch.name for branch in kind.branches}


@every_kind
def test_every_pin_of_a_kind_leads_somewhere(kind: Kind) -> None:
    if kind.name in ("splice", "plug"):
        assert kind.branches == (), "wires meet there, nothing lies between"
        return
    reached = set(chain.from_iterable(nodes_of(branch) for branch in kind.branches))
    assert set(kind.pins) <= reached


@every_kind
def test_every_kind_can_fail_and_be_checked(kind: Kind) -> None:
    assert kind.failures or kind.name in ("splice", "plug"), "rates has their failures"
    assert kind.tasks


def test_operated_records_take_in_and_with() -> None:
    for name, record in RECORDS.items():
        if record.operated:
            assert {"in", "with"} <= {attribute.name for attribute in record.attributes}, name


def test_every_driver_shows_its_current_in_the_branch_drive() -> None:
    """Code rules on amperes read that branch."""
    for role in ROLES.values():
        if role.operated == "command":
            assert "drive" in {branch.name for branch in role.branches}, role.name
            assert role.senses


def test_words_mean_one_kind_and_one_role() -> None:
    for records in (KINDS.values(), ROLES.values()):
        counts = Counter(word.casefold() for record in records for word in record.words)
        assert [word for word, count in counts.items() if count > 1] == []


def test_hazards_carry_words_and_authority() -> None:
    for slug, hazard in HAZARDS.items():
        assert hazard.slug == slug
        assert hazard.words.endswith(".")
        assert hazard.authority
        assert "memory" not in hazard.authority, slug
    used = set(chain.from_iterable(record.hazards for record in KINDS.values())) | set(
        chain.from_iterable(task.hazards for r in RECORDS.values() for task in r.tasks)
    )
    assert used <= set(HAZARDS)
