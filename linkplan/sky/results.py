"""What is known of the sky over a working day: frozen, units in the names."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.gnss.visibility import BoolArray, FloatArray
from linkplan.terrain.horizon import HorizonProfile


@dataclass(frozen=True)
class WorkingDay:
    """The times that were looked at."""

    utc: tuple[datetime.datetime, ...]
    """Aware, evenly spaced, first to last moment of work."""
    local: tuple[datetime.datetime, ...]
    """The same in the job's time zone."""
    time_zone: str
    step_s: float

    @property
    def hours(self) -> float:
        """Length of the working day."""
        return (self.utc[-1] - self.utc[0]).total_seconds() / 3600.0


@dataclass(frozen=True)
class OrbitsUsed:
    """Where the satellites' positions come from."""

    source: str
    typical: bool
    """The constellations as planned, not for a date: hours are those of no certain day."""
    oldest_days: float
    """Greatest distance in time between a satellite's data and the working day; 0 for typical ones."""
    unhealthy: tuple[str, ...]
    """Satellites that their data say not to use."""
    notes: tuple[str, ...]


@dataclass(frozen=True)
class SystemDay:
    """One satellite system, or all together, as the base sees it. Arrays (T,)."""

    name: str
    """"GPS", "GLONASS", "Galileo", "BeiDou", "QZSS" or "all"."""
    satellites: NDArray[np.intp]
    """In view, over the mask and the real horizon."""
    pdop: FloatArray
    """NaN where there is none."""
    hdop: FloatArray
    vdop: FloatArray
    held_back: BoolArray
    """The base's own gate would keep corrections back, if it had this system alone."""

    @property
    def held_share(self) -> float:
        """Of the working day, 0 to 1."""
        return float(self.held_back.mean())


@dataclass(frozen=True)
class BaseSky:
    """The base's sky over the working day."""

    day: WorkingDay
    orbits: OrbitsUsed
    latitude_deg: float
    longitude_deg: float
    horizon: HorizonProfile
    """Of the base's GNSS antenna: terrain, and obstructions that the job states."""
    unknown_share: float
    """Share of the directions in which the ground is not known far enough to call them open."""
    mask_deg: float
    least_satellites: int
    greatest_pdop: float
    satellites: tuple[str, ...]
    azimuth_deg: FloatArray
    """(S, T)"""
    elevation_deg: FloatArray
    """(S, T)"""
    visible: BoolArray
    """(S, T): healthy, over mask and horizon."""
    systems: tuple[SystemDay, ...]
    """Each by itself."""
    together: SystemDay

    @property
    def worst_time(self) -> int:
        """Index of the time with the greatest PDOP, none counting as the greatest; then fewest satellites."""
        pdop = np.where(np.isnan(self.together.pdop), np.inf, self.together.pdop)
        return int(np.lexsort((self.together.satellites, -pdop))[0])


@dataclass(frozen=True)
class RoverSky:
    """The rovers' sky on a lattice over the job: P places."""

    stride: int
    """Cells of the map from one place to the next."""
    rows: NDArray[np.intp]
    """(P,), cells of the job's grid."""
    columns: NDArray[np.intp]
    open_share: FloatArray
    """(P,), of the sky's solid angle above the rover's mask; unknown counts as closed."""
    common: NDArray[np.uint8]
    """(P, T): satellites that rover and base both see."""
    pdop: NDArray[np.float32]
    """(P, T), of the common satellites; NaN where there is none."""
    enough: BoolArray
    """(P, T): common satellites and their PDOP suffice."""
    worst_time: int
    """Index of the time at which the fewest places have enough."""
    least_common: int
    greatest_pdop: float
    wanted_share: float
    """Of the working day, in which a place must have enough to count as open to work."""

    @property
    def enough_share(self) -> FloatArray:
        """(P,), of the working day."""
        share: FloatArray = self.enough.mean(axis=1)
        return share

    @property
    def suffices(self) -> BoolArray:
        """(P,): enough for the wanted share of the day."""
        return np.asarray(self.enough_share >= self.wanted_share - 1e-9)
