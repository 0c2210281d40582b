"""The reference simulator ngspice as an outside solver of plain circuits.

An element below KILOHM, and every controlled one, is written with an auxiliary node whose voltage
is the element's current, joined to the circuit by linear controlled sources (G). Its own
resistors would be turned into conductances, and 1e3 S beside the 1e-12 S leak of a floating
island has no digits left: tenths of a volt wrong. Ground is the node "0".
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from oracles.plain import Element, Plain, Terms

NGSPICE = shutil.which("ngspice")
MISSING = "ngspice is not installed (apt-get install ngspice)"
KILOHM = 1e3
OPTIONS = ".options reltol=1e-9 abstol=1e-15 vntol=1e-12 gmin=1e-20 noacct nomod pivrel=0.9"


def deck(circuit: Plain) -> str:
    """The circuit as an ngspice deck: node k of `circuit.nodes` is called nk, the ground 0."""
    name = {node: f"n{k}" for k, node in enumerate(circuit.nodes)}
    name[circuit.ground] = "0"
    lines = ["* plain circuit"]
    lines += [
        f"Rleak_{name[node]} {name[node]} 0 {1 / circuit.leak_at(node):.17g}"
        for node in circuit.nodes
        if circuit.leak_at(node)
    ]
    for k, element in enumerate(circuit.elements):
        lines += _element(k, element, name)
    for k, source in enumerate(circuit.sources):
        lines.append(f"I{k} {name[source.p]} {name[source.n]} DC {source.amps:.17g}")
    return "\n".join([*lines, OPTIONS, ".end", ""])


def _element(k: int, element: Element, name: dict[str, str]) -> list[str]:
    p, n = name[element.p], name[element.n]
    if element.ordinary and element.ohm >= KILOHM:
        lines = [f"R{k} {p} x{k} {element.ohm:.17g}", f"V{k} x{k} {n} DC {element.emf:.17g}"]
        if element.emf == 0.0:
            lines = [f"R{k} {p} {n} {element.ohm:.17g}"]
        return lines
    lines = [f"I{k}e i{k} 0 DC {-element.emf:.17g}"] if element.emf else []
    if element.ohm:
        lines.append(f"G{k}r i{k} 0 i{k} 0 {-element.ohm:.17g}")
    for j, (node, size) in enumerate(_merged(element.left)):
        lines.append(f"G{k}v{j} i{k} 0 {name[node]} 0 {size:.17g}")
    for j, (node, size) in enumerate(_merged(element.right)):
        lines.append(f"G{k}i{j} {name[node]} 0 i{k} 0 {size:.17g}")
    return lines


def _merged(terms: Terms) -> list[tuple[str, float]]:
    total: dict[str, float] = {}
    for node, size in terms:
        total[node] = total.get(node, 0.0) + size
    return list(total.items())


def solve(circuits: Sequence[Plain], folder: Path) -> list[NDArray[np.float64]]:
    """Voltages of every circuit's nodes, in their order, all in one ngspice process."""
    control = ["* all circuits", ".control"]
    for k, circuit in enumerate(circuits):
        (folder / f"{k}.cir").write_text(deck(circuit), encoding="ascii")
        control += [f"source {k}.cir", "op", f"write {k}.raw", "destroy all", "remcirc"]
    control += ["quit", ".endc", ".end", ""]
    (folder / "all.cir").write_text("\n".join(control), encoding="ascii")
    assert NGSPICE is not None, MISSING
    run = subprocess.run(
        [NGSPICE, "-b", "all.cir"], cwd=folder, capture_output=True, text=True, check=False
    )
    answers = []
    for k, circuit in enumerate(circuits):
        written = folder / f"{k}.raw"
        assert written.exists(), f"ngspice left circuit {k} unsolved:\n{run.stdout}\n{run.stderr}"
        found = _raw(written.read_bytes())
        grounded = {circuit.ground: 0.0}
        answers.append(
            np.array(
                [
                    grounded[node] if node in grounded else found[f"v(n{place})"]
                    for place, node in enumerate(circuit.nodes)
                ]
            )
        )
    return answers


def _raw(data: bytes) -> dict[str, float]:
    """One operating point of a binary raw file: names with tabs around them, then doubles."""
    head, numbers = data.split(b"Binary:\n", 1)
    names = [line.split("\t")[2] for line in head.decode().splitlines() if line.startswith("\t")]
    return dict(zip(names, np.frombuffer(numbers, "=f8", count=len(names)).tolist(), strict=True))


def read_raw(data: bytes) -> dict[str, NDArray[np.float64]]:
    """Every vector of a binary raw file of real numbers: a transient's times and values."""
    head, numbers = data.split(b"Binary:\n", 1)
    names = [line.split("\t")[2] for line in head.decode().splitlines() if line.startswith("\t")]
    table = np.frombuffer(numbers, "=f8").reshape(-1, len(names))
    return {name: table[:, k] for k, name in enumerate(names)}
