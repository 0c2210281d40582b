"""The planner against small problems whose answers are known.

Sources: Pattipati and Alexandridis 1990 (six states, as recalled, optimum reproduced by exact
search); Huffman 1952; wire runs and the four suspects: own enumeration; Kalagnanam and Henrion
1990 for the ratio rule; Jensen and Nielsen 2007 for the four repairs (statement printed, answer
own enumeration); de Kleer and Williams 1987 for the polybox (recalled, reproduced).
"""

from __future__ import annotations

import heapq
import importlib.util
import sys
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from backprobe.checks.course import saves_most, tells_most
from backprobe.checks.policy import best_step, expected_seconds
from backprobe.checks.table import Table
from backprobe.checks.worth import repair_seconds, score

_spec = importlib.util.spec_from_file_location(
    "exact_plan", Path(__file__).with_name("exact_plan.py")
)
exact = sys.modules.setdefault("exact_plan", importlib.util.module_from_spec(_spec))
if not hasattr(exact, "solve_exact"):
    _spec.loader.exec_module(exact)

SIX_PRIORS = (0.70, 0.01, 0.02, 0.10, 0.05, 0.12)
SIX_ROWS = ("00000", "01001", "00110", "10011", "11000", "11110")
LOOK, MEND, SHARE = (8, 3, 1, 4), (20, 10, 5, 40), (0.4, 0.3, 0.2, 0.1)


def table(seconds, shows, stories, repair=None, escalate=np.inf, sure=1.0 - 1e-12):
    return Table(
        seconds=np.array(seconds, float),
        outcome=exact.definite(shows, stories),
        group=np.arange(stories),
        repair=np.zeros(stories) if repair is None else np.array(repair, float),
        escalate=escalate,
        sure=sure,
    )


def columns(rows):
    return [tuple(row[c] for row in rows) for c in range(len(rows[0]))]


def test_six_states_optimum_is_2_18_and_telling_most_pays_2_86():
    shows = columns(SIX_ROWS)
    chance = np.array(SIX_PRIORS)
    assert exact.solve_exact([1] * 5, shows, SIX_PRIORS) == pytest.approx(2.18)
    problem = table([1] * 5, shows, 6)
    greedy = expected_seconds(problem, chance, tells_most, negligible=0.0)
    assert greedy == pytest.approx(2.86)
    assert np.argmax(score(problem, chance).bits) == 0


def identify(problem, chance):
    """Follows best_step with nothing to repair: a story left over costs a fortune to confuse."""
    dear = Table(
        seconds=problem.seconds,
        outcome=problem.outcome,
        group=problem.group,
        repair=np.full(problem.repair.size, 100.0),
        sure=problem.sure,
    )

    def follow(mass):
        total = mass.sum()
        step = best_step(dear, mass)
        if np.count_nonzero(mass) < 2:
            return 0.0
        assert step.does == "check"
        return problem.seconds[step.check] * total + sum(
            follow(mass * outcome) for outcome in dear.outcome[step.check] if mass @ outcome > 0
        )

    return follow(np.array(chance, float))


def test_looking_ahead_finds_the_2_18_of_the_six_states():
    problem = table([1] * 5, columns(SIX_ROWS), 6)
    assert identify(problem, SIX_PRIORS) == pytest.approx(2.18)


def huffman(chance):
    heap, total = list(chance), 0.0
    heapq.heapify(heap)
    while len(heap) > 1:
        pair = heapq.heappop(heap) + heapq.heappop(heap)
        total += pair
        heapq.heappush(heap, pair)
    return total


def test_every_subset_testable_costs_as_much_as_huffmans_tree():
    rng = np.random.default_rng(5)
    for _ in range(5):
        chance = rng.dirichlet(np.ones(5))
        shows = [bits for bits in product((0, 1), repeat=5) if 0 < sum(bits) < 5]
        best = exact.solve_exact([1] * len(shows), shows, tuple(chance))
        assert best == pytest.approx(huffman(chance))
        greedy = expected_seconds(
            table([1] * len(shows), shows, 5), chance, tells_most, negligible=0.0
        )
        assert best - 1e-9 <= greedy <= 1.2 * best


@pytest.mark.parametrize(
    ("chance", "optimum"),
    [((0.1,) * 10, 3.4), ((0.05, 0.10, 0.02, 0.30, 0.08, 0.15, 0.03, 0.20, 0.07), 3.0)],
)
def test_probing_one_wire_at_its_splices(chance, optimum):
    stories = len(chance)
    shows = [tuple(int(k > cut) for k in range(stories)) for cut in range(stories - 1)]
    assert exact.solve_exact([1] * len(shows), shows, chance) == pytest.approx(optimum)
    greedy = expected_seconds(
        table([1] * len(shows), shows, stories), np.array(chance), tells_most, negligible=0.0
    )
    assert optimum - 1e-9 <= greedy <= 1.147 * optimum  # worst of 200 such runs, own count


def test_ratio_order_of_four_suspects_costs_23_8():
    groups = np.array([*SHARE, 0.0])
    looks = float(repair_seconds(groups, np.array(LOOK, float)))
    assert looks + np.dot(SHARE, MEND) == pytest.approx(23.8)
    assert exact.best_order(SHARE, LOOK, MEND) == ((2, 1, 0, 3), pytest.approx(23.8))


def test_last_suspect_known_by_elimination_costs_21_4_where_the_ratio_order_pays_23_4():
    order, cost = exact.best_order(SHARE, LOOK, MEND, last_by_elimination=True)
    assert (order, cost) == ((2, 1, 3, 0), pytest.approx(21.4))
    ratio = exact.order_cost(SHARE, LOOK, MEND, (2, 1, 0, 3), last_by_elimination=True)
    assert ratio == pytest.approx(23.4)
    looks = [tuple(int(k == here) for k in range(4)) for here in range(4)]
    optimum = exact.solve_exact(LOOK, looks, SHARE, MEND)
    problem = table(LOOK, looks, 4, MEND)
    assert follow_to_the_end(problem, np.array(SHARE)) == pytest.approx(optimum)
    assert optimum <= 21.4 + 1e-9


def test_reboot_virus_tool_reformat_buy_costs_27_875():
    # Every story counts for the first action of the order that mends it.
    virus, slips = 0.15 * 0.95, 0.15 * 0.05
    groups = np.array([0.8, virus, slips * 0.99, 0.05 + slips * 0.01, 0.0])
    actions = np.array([1.0, 2.0, 25.0, 500.0])
    assert float(repair_seconds(groups, actions)) == pytest.approx(27.875)


def test_handing_on_is_taken_as_soon_as_it_is_cheaper():
    groups = np.array([0.5, 0.1, 0.4])
    repair = np.array([10.0, 100.0])
    assert float(repair_seconds(groups, repair, 50.0)) == pytest.approx(10 + 0.5 * 50)
    assert float(repair_seconds(groups, repair, 5.0)) == pytest.approx(5.0)
    assert float(repair_seconds(groups, repair, 1e4)) == pytest.approx(10 + 50 + 0.4 * 1e4)


def follow_to_the_end(problem, mass, **how):
    """Expected cost of obeying best_step until the job ends."""
    total = float(mass.sum())
    if total <= 1e-15:
        return 0.0
    step = best_step(problem, mass, **how)
    if step.does == "stop":
        return problem.escalate * total
    if step.does == "repair":
        rest = np.where(problem.group == step.group, 0.0, mass)
        return problem.repair[step.group] * total + follow_to_the_end(problem, rest, **how)
    cost = problem.seconds[step.check] * total
    for outcome in problem.outcome[step.check]:
        part = mass * outcome
        if part.sum() > 0:
            cost += follow_to_the_end(problem, part, **how)
    return cost


def random_problem(rng):
    stories, checks = 7, 9
    chance = rng.dirichlet(np.full(stories, 0.8))
    repair = np.exp(rng.uniform(np.log(10), np.log(120), stories))
    seconds = np.exp(rng.uniform(np.log(1), np.log(20), checks))
    shows = [
        tuple(int(x) for x in rng.integers(0, rng.integers(2, 4), stories)) for _ in range(checks)
    ]
    return seconds, shows, chance, repair, 180.0


def test_200_random_jobs_cost_little_more_than_the_exact_plan():
    rng = np.random.default_rng(11)
    base, ahead = [], []
    for number in range(200):
        seconds, shows, chance, repair, escalate = random_problem(rng)
        optimum = exact.solve_exact(tuple(seconds), shows, tuple(chance), tuple(repair), escalate)
        problem = table(seconds, shows, 7, repair, escalate)
        base.append(
            min(
                expected_seconds(problem, chance, way, negligible=0.0)
                for way in (saves_most, tells_most)
            )
            / optimum
        )
        if number % 4 == 0:
            ahead.append(follow_to_the_end(problem, chance) / optimum)
    print(
        f"better of two ways: mean {np.mean(base):.4f}, worst {max(base):.3f}; "
        f"looking ahead: mean {np.mean(ahead):.4f}, worst {max(ahead):.3f}"
    )
    assert min(base) > 1 - 1e-9
    assert min(ahead) > 1 - 1e-9
    assert np.mean(base) < 1.03
    assert max(base) < 1.25
    assert np.mean(ahead) < 1.005
    assert max(ahead) < 1.06


def polybox_states():
    """Health states of the five boxes that agree with F = 10 and G = 12, and what they predict.

    A=3 B=2 C=2 D=3 E=3; M1 makes X = A*C, M2 Y = B*D, M3 Z = C*E, A1 F = X+Y, A2 G = Y+Z.
    """
    for good in product((True, False), repeat=5):
        m1, m2, m3, a1, a2 = good
        x, y, z = (6 if m1 else None), (6 if m2 else None), (6 if m3 else None)
        for _ in range(2):
            if a1 and x is not None and y is None:
                y = 10 - x
            if a1 and y is not None and x is None:
                x = 10 - y
            if a2 and y is not None and z is None:
                z = 12 - y
            if a2 and z is not None and y is None:
                y = 12 - z
        if a1 and x is not None and y is not None and x + y != 10:
            continue
        if a2 and y is not None and z is not None and y + z != 12:
            continue
        bad = good.count(False)
        yield 0.01**bad * 0.99 ** (5 - bad), (x, y, z)


def test_polybox_probe_x_first_with_1_0408_bit():
    states = list(polybox_states())
    assert len(states) == 27
    chance = np.array([p for p, _ in states])
    chance /= chance.sum()
    shows = [tuple(-1 if seen[c] is None else seen[c] for _, seen in states) for c in range(3)]
    bits = score(table([1] * 3, shows, 27), chance).bits
    assert bits[0] == pytest.approx(1.04084, abs=1e-5)
    assert bits[1] == pytest.approx(0.08154, abs=1e-5)
    assert bits[2] == pytest.approx(0.0474, abs=1e-4)
    assert np.argmax(bits) == 0


def test_telling_severities_apart_is_worth_nothing():
    problem = Table(
        seconds=np.array([1.0]),
        outcome=exact.definite([(0, 1, 2)], 3),
        group=np.array([0, 0, 0]),
        repair=np.array([60.0]),
        escalate=900.0,
    )
    scores = score(problem, np.full(3, 1 / 3))
    assert scores.bits[0] == pytest.approx(0.0, abs=1e-12)
    assert best_step(problem, np.full(3, 1 / 3)).does == "repair"
