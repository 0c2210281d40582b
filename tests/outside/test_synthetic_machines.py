"""The machines the benchmarks run on: same seed same book, right size, and they work."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.circuit.assemble import assemble
from backprobe.defects.model import Probe
from oracles.machines import machine

SMALL = [(100, seed) for seed in (1, 2, 3)] + [(400, seed) for seed in (1, 2, 3)]


def test_a_seed_gives_the_same_book_every_time():
    fresh = machine.__wrapped__
    assert fresh(400, 7).text == fresh(400, 7).text
    assert fresh(400, 7).text != fresh(400, 8).text


@pytest.mark.parametrize(("nodes", "seed"), [*SMALL, (200, 1), (800, 1), (1500, 1), (1500, 2)])
def test_books_read_without_remarks_and_have_the_size_asked_for(nodes, seed):
    made = machine(nodes, seed)
    book, problems = read_book(made.text, "synthetic")
    assert book is not None
    assert not problems, "\n".join(str(problem) for problem in problems)
    net = assemble(book)
    assert abs(len(net.node) - nodes) <= 0.15 * nodes


@pytest.mark.parametrize(("nodes", "seed"), [*SMALL, (1500, 1)])
def test_a_healthy_machine_works_and_blows_nothing(nodes, seed):
    made = machine(nodes, seed)
    circuit = made.circuit.within(np.zeros(1, np.int64))
    net = circuit.net
    words = {}
    for name, situation in made.situations.items():
        settled = circuit.settled(situation)
        assert settled.steady[0]
        states = settled.states[0]
        words[name] = {at: net.states[k].words[states[k]] for at, k in net.state.items()}
        troubled = {"blown", "limited", "fed back"}
        assert not [at for at, word in words[name].items() if word in troubled]
    assert {word for (_, what), word in words["run"].items() if what == "power"} == {"on"}
    loads = [part for part in made.book.parts if part.startswith(("lamp", "pump", "valve"))]
    amps = [Probe(kind="amps", p=circuit.load_of(part)) for part in loads]
    assert circuit.seen(made.situations["run"], amps).mean.min() > 0.3
    assert all(word == "off" for (_, what), word in words["off"].items() if what == "power")
    five = [
        Probe(kind="inner", p=f"{group.unit}:group {group.name}", n=f"{group.unit}:ground")
        for group in made.book.groups.values()
    ]
    assert circuit.seen(made.situations["on"], five).mean[0] == pytest.approx(5.0, abs=0.02)


def test_larger_machines_have_every_circuit():
    """Units on a bus, diodes, suppressed relays, 5 V groups, several grounds and looms."""
    book = machine(400, 1).book
    kinds = {part.kind for part in book.parts.values()}
    assert {"diode", "relay", "solenoid", "pump", "three-wire sensor", "ground stud"} <= kinds
    assert any(part.attrs.get("suppressed") == "diode" for part in book.parts.values())
    assert len(machine(1500, 1).book.groups) >= 4
    assert {"can high", "can low"} <= {
        role.role.lower() for role in machine(1500, 1).book.roles.values()
    }
    assert max(len(wire.route) for wire in book.wires.values()) >= 2
