"""Hidden truth, a hundred drives: do the 90 % intervals hold it in at least ninety?

Offsets, sigmas and distances of likeness differ from drive to drive. `coverage_run` does the same a thousand
times.
"""

from __future__ import annotations

import pytest

from tests.fieldcheck.coverage_run import KINDS, Held, run, truth_of

SEEDS = range(100)


@pytest.fixture(scope="module")
def runs() -> list[dict[str, Held]]:
    return [run(seed, truth_of(seed), samples=1000) for seed in SEEDS]


@pytest.mark.parametrize("kind", KINDS)
def test_intervals_hold_the_truth(runs: list[dict[str, Held]], kind: str) -> None:
    each = [one[kind] for one in runs]
    assert sum(r.offset for r in each) >= 90
    assert sum(r.sigma for r in each) >= 90
    # Intervals as wide as what was believed before would hold the truth, too: 26 dB, a factor of 2.2.
    assert sum(r.offset_width_db for r in each) / len(each) < 8.0
    assert sum(r.sigma_factor for r in each) / len(each) < 1.6
