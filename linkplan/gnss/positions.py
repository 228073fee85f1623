"""Where every satellite is at given times, from the sets nearest in time, and which may be used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import RangeError
from linkplan.gnss.glonass_orbit import LIMIT_S, glonass_positions
from linkplan.gnss.gnss_time import LATEST_GPS_S
from linkplan.gnss.kepler import kepler_positions
from linkplan.gnss.orbit_sets import KeplerSet, Orbits, StateSet

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
_Set = TypeVar("_Set", KeplerSet, StateSet)


@dataclass(frozen=True)
class SatellitePositions:
    """S satellites at T times."""

    satellites: tuple[str, ...]
    """(S,): "G05"."""
    gps_s: FloatArray
    """(T,)"""
    ecef_m: FloatArray
    """(S, T, 3), earth-fixed at the instant itself; NaN for GLONASS far from any state."""
    usable: BoolArray
    """(S, T): the set nearest in time calls the satellite healthy, and there is a position."""
    age_s: FloatArray
    """(S, T): from the time of that set, negative before it."""

    @property
    def systems(self) -> NDArray[np.str_]:
        """(S,): letter of each satellite's system."""
        return np.array([one[0] for one in self.satellites], dtype="U1")


def satellite_positions(orbits: Orbits, gps_s: ArrayLike) -> SatellitePositions:
    """Positions of all satellites of `orbits` at the times (T,), GPS seconds, in any order.

    Each time takes the set whose own time is nearest. Unhealthy satellites are computed too and are not
    `usable`, nor are those on whose health the sets of one time disagree. RangeError for times before 1980 or
    from 2200 on.
    """
    times = np.atleast_1d(np.asarray(gps_s, dtype=np.float64))
    if times.ndim != 1 or not np.all((times >= 0.0) & (times <= LATEST_GPS_S)):
        raise RangeError("gps_s must be one row of times from 1980 to 2199, in GPS seconds since 1980-01-06")
    satellites = orbits.satellites
    shape = (len(satellites), times.size)
    ecef_m, age_s = np.empty((*shape, 3)), np.empty(shape)
    usable = np.zeros(shape, dtype=bool)
    kepler, states = _one_each_time(orbits.kepler), _one_each_time(orbits.states)
    rows, which = _nearest(kepler, satellites, times)
    if rows:
        ecef_m[rows] = kepler_positions(kepler, which, times)
        usable[rows], age_s[rows] = _told(kepler, which, times)
    rows, which = _nearest(states, satellites, times)
    if rows:
        ecef_m[rows] = glonass_positions(states, which, times)
        usable[rows], age_s[rows] = _told(states, which, times)
        usable[rows] &= np.abs(age_s[rows]) <= LIMIT_S
    return SatellitePositions(satellites, times, ecef_m, usable, age_s)


def _one_each_time(sets: Sequence[_Set]) -> list[_Set]:
    """One set for each satellite and time, in that order: the last, healthy if all of that time are."""
    chosen: dict[tuple[str, float], _Set] = {}
    for one in sets:
        key = (one.satellite, one.reference_s)
        healthy = one.healthy and (key not in chosen or chosen[key].healthy)
        chosen[key] = one if healthy == one.healthy else replace(one, healthy=False)
    return [chosen[key] for key in sorted(chosen)]


def _nearest(
    sets: Sequence[KeplerSet | StateSet], satellites: tuple[str, ...], times: FloatArray
) -> tuple[list[int], NDArray[np.intp]]:
    """Rows of the satellites that have sets, and for each of them the nearest set to each time."""
    of: dict[str, list[int]] = {}
    for number, one in enumerate(sets):
        of.setdefault(one.satellite, []).append(number)
    rows = [row for row, satellite in enumerate(satellites) if satellite in of]
    which = np.empty((len(rows), times.size), dtype=np.intp)
    for row, place in enumerate(rows):
        numbers = np.array(of[satellites[place]], dtype=np.intp)
        references = np.array([sets[number].reference_s for number in numbers])
        which[row] = numbers[np.searchsorted((references[1:] + references[:-1]) / 2.0, times)]
    return rows, which


def _told(
    sets: Sequence[KeplerSet | StateSet], which: NDArray[np.intp], times: FloatArray
) -> tuple[BoolArray, FloatArray]:
    """Health and age of the chosen sets."""
    healthy = np.array([one.healthy for one in sets], dtype=bool)[which]
    return healthy, times - np.array([one.reference_s for one in sets])[which]
