"""Third-order products of transmitters that stand together, and what they leave the rovers."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.channels.ratios import Case, Mix
from linkplan.radio import interference
from linkplan.tables.protection import TOGETHER_M

FloatArray = NDArray[np.float64]

NEAREST_M = 1.0
"""Antennas nearer to each other count as this far apart."""


@dataclass(frozen=True)
class Mixer:
    """A transmitter as its neighbours' signals meet it."""

    x_m: float
    y_m: float
    power_dbm: float
    """At its connector."""
    gain_less_loss_db: float
    """Antenna gain less feeder loss."""
    frequency_mhz: float


def together(mixers: tuple[Mixer, ...]) -> frozenset[tuple[int, int]]:
    """Pairs, the smaller number first, that stand within `TOGETHER_M`."""
    return frozenset(
        (a, b)
        for a, b in itertools.combinations(range(len(mixers)), 2)
        if _distance_m(mixers[a], mixers[b]) <= TOGETHER_M
    )


def mixes_for(case: Case, mixers: tuple[Mixer, ...], weakest_dbm: float) -> tuple[Mix, ...]:
    """Every product of transmitters that all stand together, for every base that has rows.

    Products 2a - b arise in a's output stage and in the rover's receiver, products a + b - c of three
    in the receiver. Products of which the base itself is a source are left out: they lie far below it.
    """
    near = together(mixers)
    intercept = interference.receiver_intercept_dbm(weakest_dbm, case.limits)
    level = np.hstack([case.own_dbm, case.other_dbm])
    found = []
    for victim in range(case.bases):
        rows = case.owner == victim
        if not rows.any():
            continue
        others = [one for one in range(len(mixers)) if one != victim]
        for a, b in itertools.permutations(others, 2):
            if (min(a, b), max(a, b)) in near:
                product = _of_two(case, mixers, level[rows], a, b, intercept)
                found.append(Mix((a, a), b, victim, _worst(case, rows, product)))
        for a, b, c in itertools.permutations(others, 3):
            if a < b and {(a, b), (min(a, c), max(a, c)), (min(b, c), max(b, c))} <= near:
                heard = level[rows]
                product = interference.THREE_SIGNALS_DB + interference.receiver_product_dbm(
                    heard[:, a], heard[:, b], heard[:, c], intercept
                )
                found.append(Mix((a, b), c, victim, _worst(case, rows, product)))
    return tuple(found)


def _of_two(
    case: Case, mixers: tuple[Mixer, ...], heard: FloatArray, a: int, b: int, intercept_dbm: float
) -> FloatArray:
    """Level of 2a - b at the rows, from the output stage of a and from the receiver, dBm."""
    one, two = mixers[a], mixers[b]
    coupling_db = interference.antenna_coupling_loss_db(
        max(_distance_m(one, two), NEAREST_M),
        two.frequency_mhz,
        one.gain_less_loss_db + two.gain_less_loss_db,
    )
    below_db = interference.transmitter_product_below_carrier_db(
        one.power_dbm, two.power_dbm, coupling_db, case.limits
    )
    made = interference.receiver_product_dbm(heard[:, a], heard[:, a], heard[:, b], intercept_dbm)
    return interference.added_dbm([heard[:, a] - below_db, made])


def _worst(case: Case, rows: NDArray[np.bool_], product_dbm: FloatArray) -> float:
    return float((case.wanted_dbm[rows] - product_dbm).min())


def _distance_m(one: Mixer, two: Mixer) -> float:
    return math.hypot(one.x_m - two.x_m, one.y_m - two.y_m)
