"""Bayes' rule as used for suspects, against published networks and an independent library.

Stories are the joint states of what is hidden; their likelihood is the chance of what was seen.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from backprobe.suspects.weigh import combine

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the library warns about parts of itself
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

Chance = Callable[[Mapping[str, int]], float]


def posterior(
    hidden: Sequence[str], chance: Mapping[str, Chance], seen: Mapping[str, int]
) -> dict[str, float]:
    """P(name = 1 | seen) of every hidden name, stories being all states of the hidden ones."""
    states = [dict(zip(hidden, bits, strict=True)) for bits in product((0, 1), repeat=len(hidden))]

    def one(name: str, world: Mapping[str, int]) -> float:
        p = chance[name](world)
        return p if world[name] else 1.0 - p

    with np.errstate(divide="ignore"):
        log_prior = np.log([np.prod([one(n, {**s, **seen}) for n in hidden]) for s in states])
        log_lik = np.log([np.prod([one(n, {**s, **seen}) for n in seen]) for s in states])
    belief, _ = combine(log_prior, log_lik)
    return {n: float(sum(b for b, s in zip(belief, states, strict=True) if s[n])) for n in hidden}


ASIA: dict[str, Chance] = {
    "asia": lambda _: 0.01,
    "smoke": lambda _: 0.5,
    "tub": lambda w: 0.05 if w["asia"] else 0.01,
    "lung": lambda w: 0.1 if w["smoke"] else 0.01,
    "bronc": lambda w: 0.6 if w["smoke"] else 0.3,
    "xray": lambda w: 0.98 if w["tub"] or w["lung"] else 0.05,
    "dysp": lambda w: (
        (0.9 if w["bronc"] else 0.7) if w["tub"] or w["lung"] else (0.8 if w["bronc"] else 0.1)
    ),
}
"""Lauritzen and Spiegelhalter 1988, "Asia"."""


@pytest.mark.parametrize(
    ("seen", "expected"),
    [
        ({"asia": 1, "dysp": 1}, {"tub": 0.087751, "lung": 0.099525, "bronc": 0.811402}),
        (
            {"asia": 1, "dysp": 1, "smoke": 0},
            {"tub": 0.112835, "lung": 0.022567, "bronc": 0.717942},
        ),
        ({"asia": 1, "xray": 1}, {"tub": 0.337716, "lung": 0.371487, "bronc": 0.491102}),
    ],
)
def test_asia(seen: dict[str, int], expected: dict[str, float]) -> None:
    """Lauritzen and Spiegelhalter 1988; figures also from two independent programs."""
    hidden = [name for name in ("asia", "smoke", "tub", "lung", "bronc") if name not in seen]
    found = posterior(hidden, ASIA, seen)
    for name, chance in expected.items():
        assert found[name] == pytest.approx(chance, abs=5e-7)


def test_sprinkler() -> None:
    """The wet grass example of the Bayesian network literature (.4298, .7079, .1945)."""
    both = posterior(["cloudy", "sprinkler", "rain"], SPRINKLER, {"wet": 1})
    assert both["sprinkler"] == pytest.approx(0.429764, abs=5e-7)
    assert both["rain"] == pytest.approx(0.707928, abs=5e-7)
    rained = posterior(["cloudy", "sprinkler"], SPRINKLER, {"wet": 1, "rain": 1})
    assert rained["sprinkler"] == pytest.approx(0.194499, abs=5e-7)


def test_burglary() -> None:
    """Russell and Norvig, Artificial Intelligence: 0.284, and 0.00513 with one call only."""
    chance: dict[str, Chance] = {
        "burglary": lambda _: 0.001,
        "earthquake": lambda _: 0.002,
        "alarm": lambda w: {(1, 1): 0.95, (1, 0): 0.94, (0, 1): 0.29, (0, 0): 0.001}[
            w["burglary"], w["earthquake"]
        ],
        "john": lambda w: 0.9 if w["alarm"] else 0.05,
        "mary": lambda w: 0.7 if w["alarm"] else 0.01,
    }
    hidden = ["burglary", "earthquake", "alarm"]
    both = posterior(hidden, chance, {"john": 1, "mary": 1})
    one = posterior(hidden, chance, {"john": 1, "mary": 0})
    assert both["burglary"] == pytest.approx(0.284172, abs=5e-7)
    assert one["burglary"] == pytest.approx(0.005130, abs=5e-7)


SPRINKLER: dict[str, Chance] = {
    "cloudy": lambda _: 0.5,
    "sprinkler": lambda w: 0.1 if w["cloudy"] else 0.5,
    "rain": lambda w: 0.8 if w["cloudy"] else 0.2,
    "wet": lambda w: (0.0, 0.9, 0.99)[w["sprinkler"] + w["rain"]],
}
PARENTS: Mapping[str, tuple[str, ...]] = {
    "tub": ("asia",),
    "lung": ("smoke",),
    "bronc": ("smoke",),
    "xray": ("tub", "lung"),
    "dysp": ("tub", "lung", "bronc"),
    "sprinkler": ("cloudy",),
    "rain": ("cloudy",),
    "wet": ("sprinkler", "rain"),
}


@pytest.mark.parametrize("seen", [{"dysp": 1}, {"asia": 1, "dysp": 1}, {"xray": 1, "smoke": 0}])
def test_asia_equals_variable_elimination(seen: dict[str, int]) -> None:
    """Lauritzen and Spiegelhalter 1988, all chances against pgmpy to 1e-9."""
    equal_variable_elimination(ASIA, seen)


@pytest.mark.parametrize("seen", [{"wet": 1}, {"wet": 1, "rain": 1}, {"wet": 0}])
def test_sprinkler_equals_variable_elimination(seen: dict[str, int]) -> None:
    """The wet grass example, all chances against pgmpy to 1e-9."""
    equal_variable_elimination(SPRINKLER, seen)


def equal_variable_elimination(chance: Mapping[str, Chance], seen: Mapping[str, int]) -> None:
    """Every hidden chance of a network of yes and no equals pgmpy's to 1e-9."""
    network = DiscreteBayesianNetwork()
    network.add_nodes_from(list(chance))
    for name, of in chance.items():
        parents = PARENTS.get(name, ())
        network.add_edges_from([(parent, name) for parent in parents])
        worlds = product((0, 1), repeat=len(parents))
        yes = [of(dict(zip(parents, bits, strict=True))) for bits in worlds]
        network.add_cpds(
            TabularCPD(
                name,
                2,
                [[1.0 - p for p in yes], yes],
                evidence=list(parents),
                evidence_card=[2] * len(parents),
            )
        )
    hidden = [name for name in chance if name not in seen]
    ours = posterior(hidden, chance, seen)
    ask = VariableElimination(network)
    for name in hidden:
        theirs = ask.query([name], evidence=dict(seen), show_progress=False).values[1]
        assert ours[name] == pytest.approx(float(theirs), abs=1e-9), name


@pytest.mark.parametrize("seed", range(6))
def test_many_faults_and_findings_equal_variable_elimination(seed: int) -> None:
    """A two-layer network of 5 faults and 7 findings (noisy-or, as in QMR, Shwe et al. 1991)
    against pgmpy's variable elimination."""
    rng = np.random.default_rng(seed)
    prior = rng.uniform(0.01, 0.3, 5)
    link = rng.uniform(0.1, 0.95, (5, 7)) * (rng.random((5, 7)) < 0.6)
    leak = rng.uniform(0.01, 0.05, 7)
    seen = rng.integers(0, 2, 7)
    states = np.array(list(product((0, 1), repeat=5)), float)
    off = (1.0 - leak) * np.exp(states @ np.log(1.0 - link))
    log_lik = np.log(np.where(seen == 1, 1.0 - off, off)).sum(axis=1)
    log_prior = np.log(np.where(states == 1, prior, 1.0 - prior)).sum(axis=1)
    ours = combine(log_prior, log_lik)[0] @ states
    theirs = _eliminated(prior, link, leak, seen)
    np.testing.assert_allclose(ours, theirs, atol=1e-9)


def _eliminated(
    prior: NDArray[np.float64],
    link: NDArray[np.float64],
    leak: NDArray[np.float64],
    seen: NDArray[np.int64],
) -> list[float]:
    network = DiscreteBayesianNetwork()
    network.add_nodes_from([f"d{k}" for k in range(5)] + [f"f{j}" for j in range(7)])
    for k, p in enumerate(prior):
        network.add_cpds(TabularCPD(f"d{k}", 2, [[1.0 - p], [p]]))
    for j in range(7):
        parents = [k for k in range(5) if link[k, j] > 0.0]
        network.add_edges_from([(f"d{k}", f"f{j}") for k in parents])
        off = [
            (1.0 - leak[j])
            * np.prod([1.0 - link[k, j] for k, b in zip(parents, bits, strict=True) if b])
            for bits in product((0, 1), repeat=len(parents))
        ]
        network.add_cpds(
            TabularCPD(
                f"f{j}",
                2,
                [off, [1.0 - p for p in off]],
                evidence=[f"d{k}" for k in parents],
                evidence_card=[2] * len(parents),
            )
        )
    ask = VariableElimination(network)
    told = {f"f{j}": int(value) for j, value in enumerate(seen)}
    return [
        float(ask.query([f"d{k}"], evidence=told, show_progress=False).values[1]) for k in range(5)
    ]


def diagnoses(
    parts: Sequence[str], consistent: Callable[[frozenset[str]], bool], p: float
) -> tuple[dict[str, float], set[frozenset[str]]]:
    """Chance of each part, and the smallest sets, with likelihoods of 0 and 1 only."""
    sets = [
        frozenset(part for part, bit in zip(parts, bits, strict=True) if bit)
        for bits in product((0, 1), repeat=len(parts))
    ]
    log_prior = np.array([len(s) * np.log(p) + (len(parts) - len(s)) * np.log(1 - p) for s in sets])
    log_lik = np.array([0.0 if consistent(s) else -np.inf for s in sets])
    belief, _ = combine(log_prior, log_lik)
    alive = [s for s, b in zip(sets, belief, strict=True) if b > 0.0]
    smallest = {s for s in alive if not any(other < s for other in alive)}
    chance = {
        part: float(sum(b for s, b in zip(sets, belief, strict=True) if part in s))
        for part in parts
    }
    return chance, smallest


def test_polybox() -> None:
    """de Kleer and Williams 1987: A=3 B=2 C=2 D=3 E=3, seen F=10 G=12."""

    def consistent(broken: frozenset[str]) -> bool:
        values = range(25)  # no inner value beyond 24 can matter
        xs = values if "M1" in broken else (6,)
        ys = values if "M2" in broken else (6,)
        zs = values if "M3" in broken else (6,)
        return any(
            ("A1" in broken or x + y == 10) and ("A2" in broken or y + z == 12)
            for x in xs
            for y in ys
            for z in zs
        )

    chance, smallest = diagnoses(("M1", "M2", "M3", "A1", "A2"), consistent, 0.01)
    assert smallest == {
        frozenset({"M1"}),
        frozenset({"A1"}),
        frozenset({"M2", "A2"}),
        frozenset({"M2", "M3"}),
    }
    for part, expected in {
        "M1": 0.4976,
        "A1": 0.4976,
        "M2": 0.0196,
        "M3": 0.0148,
        "A2": 0.0148,
    }.items():
        assert chance[part] == pytest.approx(expected, abs=6e-5)


def test_full_adder() -> None:
    """Reiter 1987: inputs 1 0, carry in 1; seen sum 1, carry 0."""

    def consistent(broken: frozenset[str]) -> bool:
        free = (0, 1)
        for x1 in free if "X1" in broken else (1,):
            for a1 in free if "A1" in broken else (0,):
                for a2 in free if "A2" in broken else (x1 & 1,):
                    sum_ok = "X2" in broken or (x1 ^ 1) == 1
                    if sum_ok and ("O1" in broken or (a1 | a2) == 0):
                        return True
        return False

    _, smallest = diagnoses(("X1", "X2", "A1", "A2", "O1"), consistent, 0.01)
    assert smallest == {frozenset({"X1"}), frozenset({"X2", "A2"}), frozenset({"X2", "O1"})}


C17: Mapping[str, tuple[str, str]] = {
    "g10": ("i1", "i3"),
    "g11": ("i3", "i4"),
    "g16": ("i2", "g11"),
    "g19": ("g11", "i5"),
    "g22": ("g10", "g16"),
    "g23": ("g16", "g19"),
}
"""ISCAS-85 c17 (Brglez and Fujiwara 1985): six NAND gates, each by the two it reads."""


def c17(inputs: Sequence[int], forced: Mapping[str, int]) -> tuple[int, int]:
    """Outputs of c17 with some gates' outputs forced."""
    value = {f"i{k + 1}": bit for k, bit in enumerate(inputs)}
    for gate, (one, other) in C17.items():
        value[gate] = forced.get(gate, 1 - (value[one] & value[other]))
    return value["g22"], value["g23"]


def test_c17_every_wrong_output() -> None:
    """All 96 wrong outputs: 83 have a smallest explanation of one gate, 13 of two, 236 smallest
    explanations in all (a full enumeration written apart from this one, which agrees with the 63 published cases
    of c17 in the diagnosis literature). For each, the likeliest sets are those smallest ones."""
    reachable = {
        (inputs, seen): broken
        for inputs in product((0, 1), repeat=5)
        for seen in product((0, 1), repeat=2)
        if seen != c17(inputs, {})
        for broken in [
            {
                frozenset(some)
                for some in _subsets(C17)
                if any(
                    c17(inputs, dict(zip(some, bits, strict=True))) == seen
                    for bits in product((0, 1), repeat=len(some))
                )
            }
        ]
    }
    sets = [frozenset(some) for some in _subsets(C17)]
    log_prior = np.array([len(s) * np.log(0.01) + (6 - len(s)) * np.log(0.99) for s in sets])
    sizes: list[int] = []
    found = 0
    for broken in reachable.values():
        log_lik = np.array([0.0 if s in broken else -np.inf for s in sets])
        belief, _ = combine(log_prior, log_lik)
        likeliest = [s for s, b in zip(sets, belief, strict=True) if b > 0.999 * belief.max()]
        smallest = min(len(s) for s in broken)
        assert set(likeliest) == {s for s in broken if len(s) == smallest}
        sizes.append(smallest)
        found += len(likeliest)
    assert (len(sizes), sizes.count(1), sizes.count(2), found) == (96, 83, 13, 236)


def _subsets(names: Mapping[str, object]) -> list[tuple[str, ...]]:
    return [
        tuple(name for name, bit in zip(names, bits, strict=True) if bit)
        for bits in product((0, 1), repeat=len(names))
    ]
