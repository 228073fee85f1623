"""What may the map learn from field logs, and is it worth learning?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from linkplan.fieldcheck.blocks import BLOCK_M, TILE_M, TILES_A_BLOCK, Blocks, gather, t_quantile
from linkplan.fieldcheck.learning_certainty import Fit, fit
from linkplan.fieldcheck.learning_check import Check, check
from linkplan.fieldcheck.learning_classes import ClassOffset, class_offsets
from linkplan.fieldcheck.learning_fit import Point, Prior, estimate
from linkplan.fieldcheck.learning_rows import Evidence, Rows, rows_of, scaled
from linkplan.fieldcheck.reliability_table import Interval
from linkplan.ranges import require_range

__all__ = ["Evidence", "Learned", "Prior", "learn"]

FEWEST_BLOCKS = 8
"""Separate blocks of ground below which nothing is learned."""

FEWEST_EFFECTIVE = 4.0
"""The same in equal blocks, when a few hold most of what the samples say."""

FEWEST_RARER = 4
"""Blocks that must hold the rarer of the two outcomes."""

TOO_UNSURE = 0.4
"""Standard error of the offset, as a share of the prior's, above which the data have said too little."""

LARGEST_SIGMA_DB = 15.0
"""Above this the prediction is beside the point, and no number mends it (common practice: 6 to 12 dB)."""


@dataclass(frozen=True)
class Learned:
    """Offset and error of the prediction. Where `worth_it` is false, nothing is to be changed: the values are
    then the prior's, or, if a fit was possible, the fit's, for a report only."""

    offset_db: float
    """Add to every predicted level; negative where it is weaker than predicted."""
    offset_interval_db: Interval
    sigma_db: float
    """Error of the prediction, without the scatter within a cell."""
    sigma_interval_db: Interval
    class_offsets: tuple[ClassOffset, ...]
    """Beside `offset_db`, only where they hold on ground kept out."""
    levels: int
    """Samples used by their level."""
    outcomes: int
    """Samples used by their outcome."""
    unknown_ground: int
    """Samples left out because nothing is predicted there."""
    not_observed: int
    """Samples left out for lack of a level, an outcome or a place."""
    blocks: int
    """Blocks of ground of `block_side_m` with samples."""
    block_side_m: float
    alike_over_m: float
    """Distance over which errors were seen to be alike; NaN where no fit was possible."""
    check: Check | None
    """Before and after on ground kept out; None where no fit was possible."""
    worth_it: bool
    reasons: tuple[str, ...]
    """Why it is not, or what limits it."""
    prior: Prior

    @property
    def samples(self) -> int:
        return self.levels + self.outcomes


def learn(evidence: Evidence, location_sigma_db: float, prior: Prior | None = None) -> Learned:
    """Offset and sigma with 90 % intervals, class offsets, and whether they hold on ground kept out.

    `location_sigma_db` is the known scatter within a cell, dB. Declines in words where the samples are too
    few, too close together or too much alike. Raises RangeError for a scatter outside 0 to 20 dB.
    """
    require_range("location_sigma_db", location_sigma_db, 0.0, 20.0, unit="dB")
    prior = prior or Prior()
    rows = rows_of(evidence)
    blocks = gather(rows.tiles, TILES_A_BLOCK)
    reasons = _too_little(rows, blocks)
    if reasons:
        return _declined(rows, blocks, prior, reasons)
    fitted = fit(rows, location_sigma_db, prior)
    rows = scaled(rows, fitted.worth)
    classes = class_offsets(rows, fitted.point, location_sigma_db, prior)
    checks = check(rows, location_sigma_db, fitted.prior, with_classes=bool(classes))
    held, point = checks.common, fitted.point
    if checks.classes is not None and checks.whole is not None and checks.classes.is_better:
        held = checks.whole
        moved = estimate(rows, location_sigma_db, fitted.prior, {c.code: c.offset_db for c in classes})
        point = Point(moved.offset_db, min(moved.sigma_db, point.sigma_db))
    else:
        classes = ()
    reasons = _too_little_said(fitted, prior) or _too_wild(fitted) or _no_better(held)
    shift_db, factor = point.offset_db - fitted.point.offset_db, point.sigma_db / fitted.point.sigma_db
    return Learned(
        offset_db=point.offset_db,
        offset_interval_db=fitted.offset_interval_db.moved(shift_db),
        sigma_db=point.sigma_db,
        sigma_interval_db=fitted.sigma_interval_db.scaled(factor),
        class_offsets=classes,
        levels=rows.levels,
        outcomes=rows.outcomes,
        unknown_ground=rows.unknown_ground,
        not_observed=rows.not_observed,
        blocks=blocks.count,
        block_side_m=blocks.side_m,
        alike_over_m=fitted.alike.distance_m,
        check=held,
        worth_it=not reasons,
        reasons=reasons,
        prior=prior,
    )


def _too_little(rows: Rows, blocks: Blocks) -> tuple[str, ...]:
    """Why no fit is tried."""
    if rows.samples == 0:
        return ("no sample has both a prediction and an observation",)
    side = f"{blocks.side_m:g} m"
    if blocks.count < FEWEST_BLOCKS:
        spot = _spot(rows)
        if spot is not None:
            return (f"all samples lie within {spot:.0f} m: one spot says nothing about other ground",)
        return (
            f"samples lie in {blocks.count} blocks of {side}; errors are alike within a block, "
            f"and {FEWEST_BLOCKS} blocks are needed",
        )
    with_levels = np.unique(blocks.of_tile[rows.level_tile]).size
    return () if with_levels >= FEWEST_BLOCKS else _outcomes_too_alike(rows, blocks, with_levels)


def _spot(rows: Rows) -> float | None:
    """Extent of the samples where it is below one block, m."""
    across = max(np.ptp(rows.tiles.column), np.ptp(rows.tiles.row)) + 1
    return float(across) * TILE_M if across * TILE_M < BLOCK_M else None


def _outcomes_too_alike(rows: Rows, blocks: Blocks, with_levels: int) -> tuple[str, ...]:
    """Why outcomes alone, or nearly alone, say nothing about sigma."""
    if rows.outcomes == 0:
        return (f"levels lie in {with_levels} blocks; {FEWEST_BLOCKS} are needed",)
    good, bad = rows.in_time > 0.0, rows.not_in_time > 0.0
    if not (good.any() and bad.any()):
        word = "in time" if good.any() else "late or missing"
        return (
            f"corrections were {word} at all {rows.outcomes} samples: outcomes that are all alike give at "
            "best a bound for the offset, and say nothing about sigma",
        )
    block = blocks.of_tile[rows.outcome_tile]
    fewest = min(np.unique(block[good]).size, np.unique(block[bad]).size)
    if fewest < FEWEST_RARER:
        rarer = "in time" if np.unique(block[good]).size == fewest else "late or missing"
        return (f"corrections were {rarer} in {fewest} blocks only; {FEWEST_RARER} are needed",)
    highest_bad = float(rows.outcome_margin_db[bad].max())
    lowest_good = float(rows.outcome_margin_db[good].min())
    if highest_bad <= lowest_good:
        return (
            f"outcomes change over cleanly at a margin of {highest_bad:.1f} to {lowest_good:.1f} dB: "
            "without any overlap sigma has no lower bound",
        )
    if float(rows.outcome_margin_db[good].max()) < float(rows.outcome_margin_db[bad].min()):
        return (
            "corrections came where the margin is low and not where it is high: another cause is at work",
        )
    return ()


def _too_little_said(fitted: Fit, prior: Prior) -> tuple[str, ...]:
    """Why a fit is not trusted."""
    if fitted.effective_blocks < FEWEST_EFFECTIVE:
        return (
            f"what the samples say comes from the equal of {fitted.effective_blocks:.1f} blocks; "
            f"{FEWEST_EFFECTIVE:g} are needed",
        )
    if fitted.offset_se_db > TOO_UNSURE * prior.offset_sd_db:
        return (
            f"the offset is known to {fitted.offset_se_db:.1f} dB only (standard error), "
            "too little to move a map by",
        )
    return ()


def _too_wild(fitted: Fit) -> tuple[str, ...]:
    """Why a fit that follows from the data is still no calibration."""
    if fitted.point.sigma_db <= LARGEST_SIGMA_DB:
        return ()
    return (
        f"what was seen hardly follows the prediction (sigma {fitted.point.sigma_db:.0f} dB): look for "
        "another cause, such as a wrong base position, a damaged antenna or interference",
    )


def _no_better(held: Check) -> tuple[str, ...]:
    """Why values that were fitted are not used."""
    if held.is_better:
        return ()
    low, high = held.gain_interval.low, held.gain_interval.high
    if low > 0.0:
        return (
            "on ground kept out the log score is better with the learned values, but another score is worse",
        )
    return (
        f"on ground kept out the learned values are no surer than the defaults: gain in log score "
        f"{held.gain:+.3f} a sample, 90 % interval {low:+.3f} to {high:+.3f}",
    )


def _declined(rows: Rows, blocks: Blocks, prior: Prior, reasons: tuple[str, ...]) -> Learned:
    """The prior, unchanged."""
    spread = t_quantile(0.95, math.inf)
    half = spread * prior.offset_sd_db
    factor = prior.sigma_factor**spread
    return Learned(
        offset_db=prior.offset_db,
        offset_interval_db=Interval(prior.offset_db - half, prior.offset_db + half),
        sigma_db=prior.sigma_db,
        sigma_interval_db=Interval(prior.sigma_db / factor, prior.sigma_db * factor),
        class_offsets=(),
        levels=rows.levels,
        outcomes=rows.outcomes,
        unknown_ground=rows.unknown_ground,
        not_observed=rows.not_observed,
        blocks=blocks.count,
        block_side_m=blocks.side_m,
        alike_over_m=math.nan,
        check=None,
        worth_it=False,
        reasons=reasons,
        prior=prior,
    )
