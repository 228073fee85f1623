"""Where satellites are, as files say it: sets of elements or states, each good around one time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

ALMANAC, NAVIGATION, TYPICAL, SEVERAL = "almanac", "navigation", "typical", "several"
"""Kinds of Orbits. An almanac is good to some kilometres for weeks. A navigation file is good to some metres
for two hours, to 4 km (0.01 degrees in the sky) for a day, to some 100 km (0.3 degrees) for weeks, until a
satellite is moved. What is typical holds for no date at all."""


@dataclass(frozen=True, slots=True)
class KeplerSet:
    """Elements of one satellite in its system's earth-fixed frame [IS-GPS-200, table 20-IV].

    An almanac leaves the harmonic terms (c..) and most rates at zero.
    """

    satellite: str
    """System's letter in RINEX and number: "G05"; a slot such as "GA1" where the orbit is typical."""
    reference_s: float
    """GPS time of the elements (toe or toa)."""
    healthy: bool
    root_semi_major_axis: float
    """Square root of the semi-major axis in metres."""
    eccentricity: float
    inclination_rad: float
    node_rad: float
    """Longitude of the ascending node from Greenwich at `reference_s`; broadcast OMEGA0 less the earth's turn
    since the week began."""
    perigee_rad: float
    mean_anomaly_rad: float
    node_rate_rad_s: float = 0.0
    inclination_rate_rad_s: float = 0.0
    motion_offset_rad_s: float = 0.0
    """Delta n."""
    motion_offset_rate_rad_s2: float = 0.0
    axis_rate_m_s: float = 0.0
    cuc_rad: float = 0.0
    cus_rad: float = 0.0
    crc_m: float = 0.0
    crs_m: float = 0.0
    cic_rad: float = 0.0
    cis_rad: float = 0.0
    tilted: bool = False
    """Ephemeris of a geostationary BeiDou satellite: its elements stand in a frame turned by 5 degrees, which
    does not turn with the earth [BDS ICD]."""


@dataclass(frozen=True, slots=True)
class StateSet:
    """Place and speed of one GLONASS satellite in PZ-90, earth-fixed [GLONASS ICD]."""

    satellite: str
    reference_s: float
    """GPS time of the state (tb)."""
    healthy: bool
    position_m: tuple[float, float, float]
    velocity_m_s: tuple[float, float, float]
    acceleration_m_s2: tuple[float, float, float]
    """By sun and moon alone."""


@dataclass(frozen=True)
class Skipped:
    """What a file holds beside the orbits that are read, in words, and how often."""

    what: str
    count: int


@dataclass(frozen=True)
class Orbits:
    """What one file, or the typical constellations, say."""

    source: str
    kind: str
    """ALMANAC, NAVIGATION, TYPICAL, or SEVERAL where joined from different kinds."""
    kepler: tuple[KeplerSet, ...]
    states: tuple[StateSet, ...] = ()
    skipped: tuple[Skipped, ...] = ()

    @property
    def satellites(self) -> tuple[str, ...]:
        """Every satellite that has a set, healthy or not, in order."""
        return tuple(sorted({one.satellite for one in self._sets}))

    @property
    def unhealthy(self) -> tuple[str, ...]:
        """Satellites with a set that says not to use them."""
        return tuple(sorted({one.satellite for one in self._sets if not one.healthy}))

    @property
    def span_s(self) -> tuple[float, float]:
        """GPS time of the first and the last set."""
        times = [one.reference_s for one in self._sets]
        return min(times), max(times)

    @property
    def _sets(self) -> Iterator[KeplerSet | StateSet]:
        yield from self.kepler
        yield from self.states


def join(several: tuple[Orbits, ...]) -> Orbits:
    """One from several files, at least one; of a satellite in two, the set nearest in time counts."""
    kinds = {one.kind for one in several}
    return Orbits(
        source=", ".join(one.source for one in several),
        kind=kinds.pop() if len(kinds) == 1 else SEVERAL,
        kepler=tuple(dict.fromkeys(one for orbits in several for one in orbits.kepler)),
        states=tuple(dict.fromkeys(one for orbits in several for one in orbits.states)),
        skipped=tuple(one for orbits in several for one in orbits.skipped),
    )
