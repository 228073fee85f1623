"""Where map and log disagree most: blocks of ground, worst first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.results import CoverageMap
from linkplan.coverage.summary import azimuth_deg
from linkplan.fieldcheck.blocks import square_blocks
from linkplan.fieldcheck.predicted import Predicted
from linkplan.fieldcheck.samples import IN_TIME, NOT_OBSERVED, Samples

UNKEPT, UNPROMISED = "predicted, not received", "received, not predicted"
WEAKER, STRONGER = "weaker than predicted", "stronger than predicted"

FEWEST = 3
"""Samples in a block that is named."""
LEAST_LOST = 2.0
"""By so many samples a block differs at least from what the map leads to expect ..."""
LEAST_SHARE = 0.2
"""... and by so much of its samples."""
LEAST_SPREADS = 1.645
"""Mean level error, in spreads of the prediction, from which on a block is named: 1 in 10 of single cells."""
LISTED = 12


@dataclass(frozen=True)
class WrongPlace:
    """One block of ground."""

    number: int
    """1 is the worst."""
    kind: str
    samples: int
    predicted_share: float | None
    """Mean predicted chance; None where levels decide, as the next."""
    observed_share: float | None
    level_error_db: float | None
    """Measured less predicted, mean; None where outcomes decide."""
    x_m: float
    """The sample in it that is nearest to the middle of those that are wrong."""
    y_m: float
    easting: float
    northing: float
    distance_m: float
    """From the base, as the next."""
    azimuth_deg: float


def wrong_places(
    coverage: CoverageMap,
    samples: Samples,
    predicted: Predicted,
    outcome: NDArray[np.int8],
    block_m: float,
) -> tuple[WrongPlace, ...]:
    """The blocks of `block_m` metres that differ most from the prediction, at most `LISTED`.

    `outcome` (n,). Those told by outcomes come first, by how many samples differ; then those told by levels.
    """
    if not len(samples):
        return ()
    block = square_blocks(samples.x_m, samples.y_m, block_m)
    by_outcome = sorted(_by_outcome(block, predicted, outcome), key=lambda one: -one.weight)
    by_level = sorted(_by_level(block, samples, predicted, coverage.sigma_db), key=lambda one: -one.weight)
    found = [*by_outcome, *by_level]
    return tuple(
        _placed(coverage, samples, number, one) for number, one in enumerate(found[:LISTED], start=1)
    )


@dataclass(frozen=True)
class _Found:
    kind: str
    weight: float
    """Order among its like."""
    samples: int
    shares: tuple[float, float] | None
    level_error_db: float | None
    wrong: NDArray[np.intp]
    """Samples that are on the wrong side."""


def _by_outcome(
    block: NDArray[np.int64], predicted: Predicted, outcome: NDArray[np.int8]
) -> Iterator[_Found]:
    known = np.flatnonzero((outcome != NOT_OBSERVED) & np.isfinite(predicted.chance))
    for members in _members(block, known):
        chance, came = predicted.chance[members], outcome[members] == IN_TIME
        more = float(came.sum() - chance.sum())
        if members.size < FEWEST or abs(more) < max(LEAST_LOST, LEAST_SHARE * members.size):
            continue
        kind, wrong = (UNKEPT, members[~came]) if more < 0.0 else (UNPROMISED, members[came])
        shares = float(chance.mean()), float(came.mean())
        yield _Found(kind, abs(more), members.size, shares, None, wrong)


def _by_level(
    block: NDArray[np.int64], samples: Samples, predicted: Predicted, sigma_db: float
) -> Iterator[_Found]:
    error = samples.level_dbm - predicted.received_dbm
    for members in _members(block, np.flatnonzero(np.isfinite(error))):
        mean = float(error[members].mean())
        if members.size < FEWEST or abs(mean) < LEAST_SPREADS * sigma_db:
            continue
        kind = WEAKER if mean < 0.0 else STRONGER
        wrong = members[np.sign(error[members]) == np.sign(mean)]
        yield _Found(kind, members.size * abs(mean), members.size, None, mean, wrong)


def _members(block: NDArray[np.int64], which: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """Samples of each block that has any of `which`."""
    order = which[np.argsort(block[which], kind="stable")]
    cuts = np.flatnonzero(np.diff(block[order])) + 1
    return [part for part in np.split(order, cuts) if part.size]


def _placed(coverage: CoverageMap, samples: Samples, number: int, found: _Found) -> WrongPlace:
    x, y = samples.x_m[found.wrong], samples.y_m[found.wrong]
    nearest = int(np.argmin(np.hypot(x - np.median(x), y - np.median(y))))
    x_m, y_m = float(x[nearest]), float(y[nearest])
    easting, northing = coverage.grid.frame.to_job(x_m, y_m)
    shares = found.shares or (None, None)
    return WrongPlace(
        number=number,
        kind=found.kind,
        samples=found.samples,
        predicted_share=shares[0],
        observed_share=shares[1],
        level_error_db=found.level_error_db,
        x_m=x_m,
        y_m=y_m,
        easting=float(easting),
        northing=float(northing),
        distance_m=float(np.hypot(x_m, y_m)),
        azimuth_deg=azimuth_deg(x_m, y_m),
    )
