"""How far a predicted level is to be trusted: the spread about it, and the chance that it suffices."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray


def total_sigma_db(location_sigma_db: float, prediction_sigma_db: float) -> float:
    """Spread of a cell's level about the prediction, dB: two independent parts, in quadrature.

    The first is the scatter between places within one cell, the second the error of the prediction.
    """
    return math.hypot(location_sigma_db, prediction_sigma_db)


def chance_of_corrections(margin_db: NDArray[np.float32], sigma_db: float) -> NDArray[np.float32]:
    """P(margin + a normal variate of zero mean and `sigma_db` > 0), 0 to 1; NaN where unknown.

    This is the chance for one epoch at a place picked at random in the cell. For a rover that stands
    still, a bad spot stays bad: epochs are not independent there.
    """
    from scipy.special import ndtr

    chance: NDArray[np.float32] = ndtr(np.asarray(margin_db, dtype=np.float32) / np.float32(sigma_db))
    return chance


def margin_for_chance_db(chance: float, sigma_db: float) -> float:
    """Margin that gives a wanted chance (0 to 1, both excluded), dB."""
    from statistics import NormalDist

    return NormalDist().inv_cdf(chance) * sigma_db
