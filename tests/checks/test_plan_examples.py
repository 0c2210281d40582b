"""The planner against small problems whose answers are known.

Sources: Pattipati and Alexandridis 1990 (six states, as recalled, optimum reproduced by exact
search); Huffman 1952; wire runs and the four suspects: own enumeration; Kalagnanam and Henrion
1990 for the ratio rule; Jensen and Nielsen 2007 for the four repairs (statement printed, answer
own enumeration); de Kleer and Williams 1987 for the polybox (recalled, reproduced).
"""

from __future__ import annotations

import heapq
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from backprobe.checks.course import saves_most, tells_most
from backprobe.checks.policy import best_step, expected_seconds
from backprobe.checks.table import Table
from backprobe.checks.worth import repair_seconds, score
from oracles import exact_plan as exact

SIX_PRIORS = (0.70, 0.01, 0.02, 0.10, 0.05, 0.12)
SIX_ROWS = ("00000", "01001", "00110", "10011", "11000", "11110")
LOOK, MEND, SHARE = (8, 3, 1, 4), (20, 10, 5, 40), (0.4, 0.3, 0.2, 0.1)


def table(seconds, shows, stories, repair=None, escalate=np.inf):
    problem = exact.Problem(
        seconds=seconds, shows=shows, chance=[0.0] * stories, repair=repair, escalate=escalate
    )
    return problem.table()


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
    problem = exact.Problem(seconds=LOOK, shows=looks, chance=SHARE, repair=MEND)
    optimum = exact.exact(problem)
    assert exact.obeyed(problem) == pytest.approx(optimum)
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


def test_random_jobs_of_up_to_12_suspects_cost_as_much_as_the_exact_plan():
    """The first of the 500 of `make plans`, which says the whole: mean 1.0006, worst 1.02."""
    rng = np.random.default_rng(1)
    found = []
    for _ in range(15):
        problem = exact.drawn(rng, int(rng.integers(3, 13)))
        found.append(exact.obeyed(problem) / exact.exact(problem))
    print(f"mean {np.mean(found):.4f}, worst {max(found):.3f} of exact search")
    assert min(found) > 1 - 1e-9
    assert np.mean(found) < 1.01
    assert max(found) < 1.10


def test_neither_way_of_choosing_alone_is_good_enough():
    """The worst of the two base ways, against exact search: why both are followed."""
    rng = np.random.default_rng(1)
    worst = np.zeros(2)
    for _ in range(15):
        problem = exact.drawn(rng, int(rng.integers(3, 13)))
        chance, optimum = np.array(problem.chance), exact.exact(problem)
        worst = np.maximum(
            worst,
            [
                expected_seconds(problem.table(), chance, way, negligible=0.0) / optimum
                for way in (saves_most, tells_most)
            ],
        )
    assert min(worst) > 1.02


def test_a_job_of_30_suspects_costs_little_more_than_a_lower_bound():
    """Nobody can be faster than the sum of the optima of its parts (exact_plan.at_least)."""
    problem = exact.drawn(np.random.default_rng(3), 30)
    least = exact.at_least(problem)
    found = exact.obeyed(problem)
    print(f"{found / least:.3f} of the lower bound")
    assert least <= found <= 1.10 * least


def test_the_lower_bound_lies_below_the_optimum():
    rng = np.random.default_rng(4)
    for _ in range(5):
        problem = exact.drawn(rng, 9)
        assert exact.at_least(problem, block=3) <= exact.exact(problem) + 1e-9


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


def test_what_a_check_opened_is_open_for_the_next_one():
    """By hand: two readings tell four suspects apart. At one place they take 100 and 20, at two places 90 each;
    a wrong repair costs more than either: begun at the one place it takes 120, not 180."""
    halves = exact.definite([(0, 0, 1, 1), (0, 1, 0, 1), (0, 0, 1, 1), (0, 1, 0, 1)], 4)
    problem = Table(
        seconds=np.array([100.0, 100.0, 90.0, 90.0]),
        outcome=halves,
        group=np.arange(4),
        repair=np.full(4, 1000.0),
        opens=np.array([[1, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], bool),
        near_s=np.array([20.0, 20.0, 10.0, 10.0]),
    )
    step = best_step(problem, np.full(4, 0.25))
    assert step.check in (0, 1)
    assert step.left_s == pytest.approx(1120.0)
    alone = best_step(replace(problem, opens=None, near_s=None), np.full(4, 0.25))
    assert alone.check in (2, 3)
    assert alone.left_s == pytest.approx(1180.0)


def test_a_dear_repair_counts_as_found_when_it_is_better_than_handing_on():
    """By hand: 120 for the mend and 1200 lost with a good unit against 180: even at 1320 / 1380; what is cheap
    to mend counts as found at the usual chance, and so does what cannot be mended here."""
    problem = Table(
        seconds=np.array([1.0]),
        outcome=np.ones((1, 1, 4)),
        group=np.arange(4),
        repair=np.array([120.0, 20.0, 1e7]),
        vain=np.array([1200.0, 30.0, 30.0]),
        escalate=180.0,
    )
    assert problem.found_at == pytest.approx([1320.0 / 1380.0, 0.9, 0.9])
