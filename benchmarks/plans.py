"""The planner against exact search, and against a lower bound where exact search is too long.

    make plans ARGS="--jobs 500 --seed 1 --large 20"

Small jobs have 3 to 12 suspects with definite checks, costs and repairs (tests/oracles/exact_plan.py);
the planner knows no exact search, and its proposal is obeyed to the end. Large ones have 30 to 60.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from oracles.exact_plan import at_least, drawn, exact, obeyed


def main() -> None:
    """Print both comparisons."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=500)
    parser.add_argument("--large", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--look-ahead", type=int, default=None)
    parser.add_argument("--candidates", type=int, default=None)
    options = parser.parse_args()
    how = {
        name: value
        for name in ("look_ahead", "candidates")
        if (value := getattr(options, name)) is not None
    }
    rng = np.random.default_rng(options.seed)
    began = time.process_time()
    ratios = []
    for _ in range(options.jobs):
        problem = drawn(rng, int(rng.integers(3, 13)))
        ratios.append(obeyed(problem, **how) / exact(problem))
    small = np.array(ratios)
    if small.size:
        print(
            f"{small.size} jobs of 3 to 12 suspects: mean {small.mean():.4f}x of exact search, "
            f"worst {small.max():.3f}x, exact in {np.mean(small < 1 + 1e-9):.0%}, "
            f"99 %: {np.quantile(small, 0.99):.3f}x; {time.process_time() - began:.0f} s"
        )
    began = time.process_time()
    ratios = []
    for _ in range(options.large):
        problem = drawn(rng, int(rng.integers(30, 61)))
        ratios.append(obeyed(problem, **how) / at_least(problem))
    large = np.array(ratios)
    if large.size:
        print(
            f"{large.size} jobs of 30 to 60 suspects: mean {large.mean():.3f}x of a lower bound, "
            f"worst {large.max():.3f}x; {time.process_time() - began:.0f} s"
        )


if __name__ == "__main__":
    main()
