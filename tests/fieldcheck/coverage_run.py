"""How often do the learned intervals hold the truth, and how wide are they beside an oracle's?

`python -m tests.fieldcheck.coverage_run --seeds 1000`: some 20 minutes on one core.

The oracle knows how errors correlate, their sigma (for the offset) and their offset (for sigma), and sees
levels: nothing that learns from the same drive can be surer on average.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass

import numpy as np

from linkplan.fieldcheck.learning import Prior
from linkplan.fieldcheck.learning_certainty import fit
from linkplan.fieldcheck.learning_rows import Evidence, rows_of
from tests.fieldcheck.simulated_field import Drive, FloatArray, Truth, drive

DISTANCES_M = (50.0, 150.0, 400.0)
KINDS = ("outcomes", "levels", "both")
TWO_SIDED_90 = 1.6449


@dataclass(frozen=True)
class Held:
    """One run: did the intervals hold the truth, and their widths."""

    offset: bool
    sigma: bool
    offset_width_db: float
    sigma_factor: float
    """Upper bound over the estimate."""


def truth_of(seed: int, correlation_m: float | None = None) -> Truth:
    """Offset, sigma and correlation drawn afresh for each seed; -10 to 10 dB, 3 to 11 dB, 50 to 400 m."""
    rng = np.random.default_rng([11, seed])
    offset, sigma = float(rng.uniform(-10.0, 10.0)), float(rng.uniform(3.0, 11.0))
    drawn = float(np.exp(rng.uniform(math.log(50.0), math.log(400.0))))
    return Truth(offset, sigma, correlation_m or drawn)


def evidence_of(one: Drive, kind: str) -> Evidence:
    """`outcomes`, `levels`, or `both`: levels where something was heard, outcomes 0 elsewhere."""
    n = one.x_m.size
    residual, outcome = one.level_residual_db, one.outcome
    if kind == "outcomes":
        residual = np.full(n, math.nan)
    elif kind == "levels":
        outcome = np.full(n, -1, dtype=np.int8)
    else:
        residual = np.where(outcome == 1, residual, math.nan)
    return Evidence(one.margin_db, residual, outcome, np.full(n, -1), one.x_m, one.y_m)


def run(seed: int, truth: Truth, legs: int = 25, samples: int = 2500) -> dict[str, Held]:
    """One drive, learned from in each way."""
    one = drive(truth, seed, samples=samples, legs=legs)
    return {kind: held(evidence_of(one, kind), truth) for kind in KINDS}


def held(evidence: Evidence, truth: Truth) -> Held:
    found = fit(rows_of(evidence), truth.location_sigma_db, Prior())
    offset, sigma = found.offset_interval_db, found.sigma_interval_db
    return Held(
        offset.holds(truth.offset_db),
        sigma.holds(truth.sigma_db),
        offset.high - offset.low,
        sigma.high / found.point.sigma_db,
    )


def oracle(seed: int, truth: Truth, legs: int = 25, samples: int = 2500) -> tuple[float, float]:
    """Width of the best 90 % interval for the offset, dB, and factor for sigma, from every fifth level."""
    one = drive(truth, seed, samples=samples, legs=legs)
    x, y = one.x_m[::5], one.y_m[::5]
    alike = truth.sigma_db**2 * np.exp(-np.hypot(x[:, None] - x, y[:, None] - y) / truth.correlation_m)
    whole = alike + truth.location_sigma_db**2 * np.eye(x.size)
    information = float(np.ones(x.size) @ np.linalg.solve(whole, np.ones(x.size)))
    by_log_sigma: FloatArray = np.linalg.solve(whole, 2.0 * alike)
    of_sigma = 0.5 * float(np.einsum("ij,ji->", by_log_sigma, by_log_sigma))
    return 2.0 * TWO_SIDED_90 / math.sqrt(information), math.exp(TWO_SIDED_90 / math.sqrt(of_sigma))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=1000)
    parser.add_argument("--legs", type=int, default=25, help="straight legs of the drive")
    parser.add_argument("--distance", type=float, help="m: errors alike over this distance only")
    options = parser.parse_args()
    print("from      alike over  offset held  sigma held  width dB  factor  oracle's width  factor")
    for distance in (options.distance,) if options.distance else (None, *DISTANCES_M):
        seeds = range(options.seeds)
        best = np.array([oracle(s, truth_of(s, distance), options.legs) for s in range(0, options.seeds, 20)])
        runs = [run(s, truth_of(s, distance), options.legs) for s in seeds]
        for kind in KINDS:
            all_runs = [one[kind] for one in runs]
            offset = sum(r.offset for r in all_runs) / len(all_runs)
            sigma = sum(r.sigma for r in all_runs) / len(all_runs)
            width = float(np.mean([r.offset_width_db for r in all_runs]))
            factor = float(np.mean([r.sigma_factor for r in all_runs]))
            over = f"{distance:g} m" if distance else "50-400 m"
            print(
                f"{kind:<9} {over:>10} {100 * offset:>11.1f}% {100 * sigma:>10.1f}% {width:>9.2f} "
                f"{factor:>7.2f} {best[:, 0].mean():>15.2f} {best[:, 1].mean():>7.2f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
