"""What is known of the sky over a working day: frozen, units in the names."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.gnss.visibility import BoolArray, FloatArray
from linkplan.terrain.horizon import HorizonProfile


@dataclass(frozen=True)
class Stretch:
    """A part of the working day."""

    start_utc: datetime.datetime
    end_utc: datetime.datetime
    start_local: datetime.datetime
    end_local: datetime.datetime

    @property
    def hours(self) -> float:
        """Its length."""
        return (self.end_utc - self.start_utc).total_seconds() / 3600.0


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

    def stretches(self, during: BoolArray) -> tuple[Stretch, ...]:
        """Runs of the times (T,) that are marked. Each time stands for half a step before and after it,
        within the working day."""
        half = datetime.timedelta(seconds=self.step_s / 2.0)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], during, [False]]).astype(np.int8)))
        zone = self.local[0].tzinfo
        found = []
        for first, after in edges.reshape(-1, 2).tolist():
            start = max(self.utc[first] - half, self.utc[0])
            end = min(self.utc[after - 1] + half, self.utc[-1])
            found.append(Stretch(start, end, start.astimezone(zone), end.astimezone(zone)))
        return tuple(found)

    def hours_of(self, during: BoolArray) -> float:
        """Length of the marked times together."""
        return sum(one.hours for one in self.stretches(during))


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

    @property
    def fewest(self) -> int:
        """Satellites at the poorest time."""
        return int(self.satellites.min())

    @property
    def most(self) -> int:
        """Satellites at the richest time."""
        return int(self.satellites.max())

    @property
    def worst_pdop(self) -> float | None:
        """Greatest of the day; None where at some time there is none at all, as of the next two."""
        return _worst(self.pdop)

    @property
    def worst_hdop(self) -> float | None:
        """Greatest of the day."""
        return _worst(self.hdop)

    @property
    def worst_vdop(self) -> float | None:
        """Greatest of the day."""
        return _worst(self.vdop)


def _worst(values: FloatArray) -> float | None:
    return None if np.isnan(values).any() else float(values.max())


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
    unknown_share: float = 0.0
    """Of the directions of all places: nothing known stands above the mask, and the ground is not known far
    enough to call them open."""

    @property
    def enough_share(self) -> FloatArray:
        """(P,), of the working day."""
        share: FloatArray = self.enough.mean(axis=1)
        return share

    @property
    def suffices(self) -> BoolArray:
        """(P,): enough for the wanted share of the day."""
        return np.asarray(self.enough_share >= self.wanted_share - 1e-9)

    @property
    def suffices_share(self) -> float:
        """Share of the places that have enough for the wanted share of the day."""
        return float(self.suffices.mean())

    @property
    def all_day_share(self) -> float:
        """Share of the places that have enough at every time."""
        return float(self.enough.all(axis=1).mean())

    @property
    def enough_at_worst_share(self) -> float:
        """Share of the places that have enough at the worst time."""
        return float(self.enough[:, self.worst_time].mean())
