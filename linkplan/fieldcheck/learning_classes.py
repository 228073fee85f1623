"""Is the prediction off by more, or less, in one class of clutter than elsewhere?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from linkplan.fieldcheck.blocks import TILES_A_BLOCK, FloatArray, gather, weighted_count
from linkplan.fieldcheck.learning_fit import Point, Prior, derivatives
from linkplan.fieldcheck.learning_rows import Rows

BLOCKS_A_CLASS = 8
"""Blocks of ground with evidence that a class needs for an offset of its own."""

NEWTON_STEPS = 8


@dataclass(frozen=True)
class ClassOffset:
    """What one class adds to the common offset, drawn toward 0 the more, the less is known of it."""

    code: int
    offset_db: float
    se_db: float
    """After the drawing toward 0."""
    blocks: int
    """Blocks of ground with samples of this class."""


def class_offsets(
    rows: Rows, point: Point, location_sigma_db: float, prior: Prior
) -> tuple[ClassOffset, ...]:
    """Offsets beside the common one, of classes with evidence in enough blocks; none for a single class.

    Each class is a draw from a normal of `class_sd_db`; its own estimate has the variance that blocks give.
    """
    codes = np.union1d(rows.level_class, rows.outcome_class)
    if codes.size < 2:
        return ()
    found = (_of_class(rows, int(code), point, location_sigma_db, prior) for code in codes if code >= 0)
    return tuple(one for one in found if one is not None)


def _of_class(
    rows: Rows, code: int, point: Point, location_sigma_db: float, prior: Prior
) -> ClassOffset | None:
    blocks = gather(rows.tiles, TILES_A_BLOCK)
    of_level, of_outcome = rows.level_class == code, rows.outcome_class == code
    at = np.concatenate(
        [blocks.of_tile[rows.level_tile[of_level]], blocks.of_tile[rows.outcome_tile[of_outcome]]]
    )

    def sums(offset_db: float) -> tuple[FloatArray, FloatArray]:
        """Slope and information by the offset, (blocks,)."""
        moved = Point(point.offset_db + offset_db, point.sigma_db)
        scores, information = derivatives(rows, moved, location_sigma_db)
        s = np.concatenate([scores[0][of_level, 0], scores[1][of_outcome, 0]])
        h = np.concatenate([information[0][of_level, 0], information[1][of_outcome, 0]])
        return weighted_count(at, s, blocks.count), weighted_count(at, h, blocks.count)

    precision = prior.class_sd_db**-2.0
    offset = 0.0
    for _ in range(NEWTON_STEPS):
        s, h = sums(offset)
        # The prior stands in for what blocks do not say; information counts as if blocks were one sample.
        offset += float((s.sum() - precision * offset) / (h.sum() + precision))
    s, h = sums(offset)
    informing = int(np.count_nonzero(h > 0.01 * h.max()))
    if informing < BLOCKS_A_CLASS:
        return None
    whole = float(h.sum()) + precision
    left_out = s / (whole - h)
    variance = float((left_out**2).sum()) + precision / whole**2
    return ClassOffset(code, offset, math.sqrt(variance), informing)
