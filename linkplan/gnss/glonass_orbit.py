"""Earth-fixed positions of GLONASS satellites: equations of motion integrated from a broadcast state.

Runge-Kutta of the fourth order in the turning frame, with the earth's flattening (J2) and the broadcast pull
of sun and moon [GLONASS ICD, A.3.1.2].
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.gnss.orbit_sets import StateSet
from linkplan.tables.constellations import GLONASS_EARTH_RADIUS_M, GLONASS_J2, SYSTEMS

FloatArray = NDArray[np.float64]

STEP_S = 120.0
"""Of the integration: some 15 mm of error in an hour, a metre in a day."""
PULL_S = 3600.0
"""So long the pull of sun and moon that a state states is taken; it turns with the earth, so nothing is taken
of it afterwards. States of a real day (tests/data/gnss) reach each other best with this."""
LIMIT_S = 7.0 * 86_400.0
"""No position further from a state's time: the error, 1 to 4 km after a day, would grow unseen."""


def acceleration_m_s2(position_m: FloatArray, velocity_m_s: FloatArray) -> FloatArray:
    """Acceleration in the turning frame by the earth's gravity and its turn; arrays (3, ...)."""
    gravity, turn = SYSTEMS["R"].gravity_m3_s2, SYSTEMS["R"].earth_rate_rad_s
    x, y, z = position_m
    square = x * x + y * y + z * z
    central = -gravity / (square * np.sqrt(square))
    flattening = 1.5 * GLONASS_J2 * GLONASS_EARTH_RADIUS_M**2 / square * central
    polar = 5.0 * z * z / square
    level = central + flattening * (1.0 - polar) + turn * turn
    return np.stack((
        level * x + 2.0 * turn * velocity_m_s[1],
        level * y - 2.0 * turn * velocity_m_s[0],
        (central + flattening * (3.0 - polar)) * z,
    ))  # fmt: skip


def glonass_positions(sets: Sequence[StateSet], which: ArrayLike, gps_s: ArrayLike) -> FloatArray:
    """Positions in PZ-90, earth-fixed at the instant itself, m; NaN further than LIMIT_S from a state.

    `which` (...) index into `sets`, `gps_s` (...) GPS seconds, broadcast against each other; result (..., 3).
    """
    index, times = np.broadcast_arrays(np.asarray(which, dtype=np.intp), np.asarray(gps_s, dtype=np.float64))
    used, flat = np.unique(index.ravel(), return_inverse=True)
    chosen = [sets[number] for number in used]
    state = np.array([(*one.position_m, *one.velocity_m_s) for one in chosen]).T
    pull = np.array([one.acceleration_m_s2 for one in chosen]).T
    since_s = times.ravel() - np.array([one.reference_s for one in chosen])[flat]
    result = np.full((3, flat.size), np.nan)
    for sign in (1.0, -1.0):
        there = np.flatnonzero((sign * since_s >= 0.0) & (np.abs(since_s) <= LIMIT_S))
        if there.size:
            result[:, there] = _marched(state, pull, flat[there], since_s[there], sign)
    return np.ascontiguousarray(result.T).reshape(*index.shape, 3)


def _marched(
    state: FloatArray, pull: FloatArray, which: NDArray[np.intp], since_s: FloatArray, sign: float
) -> FloatArray:
    """Positions (3, n) at times on one side of the states'.

    All states go in equal steps; each time is reached by a shorter one from the last step before it.
    """
    result = np.empty((3, since_s.size))
    node = np.floor(np.abs(since_s) / STEP_S).astype(np.intp)
    rest_s = since_s - sign * STEP_S * node
    order = np.argsort(node, kind="stable")
    last = int(node.max())
    bounds = np.searchsorted(node[order], np.arange(last + 2))
    for step in range(last + 1):
        pulled = pull if step * STEP_S < PULL_S else np.zeros_like(pull)
        due = order[bounds[step] : bounds[step + 1]]
        if due.size:
            result[:, due] = _step(state[:, which[due]], pulled[:, which[due]], rest_s[due])[:3]
        if step < last:
            state = _step(state, pulled, sign * STEP_S)
    return result


def _step(state: FloatArray, pull: FloatArray, step_s: FloatArray | float) -> FloatArray:
    """States (6, n) one step on."""

    def rate(one: FloatArray) -> FloatArray:
        return np.concatenate((one[3:], acceleration_m_s2(one[:3], one[3:]) + pull))

    first = rate(state)
    second = rate(state + 0.5 * step_s * first)
    third = rate(state + 0.5 * step_s * second)
    fourth = rate(state + step_s * third)
    return np.asarray(state + step_s / 6.0 * (first + 2.0 * second + 2.0 * third + fourth))
