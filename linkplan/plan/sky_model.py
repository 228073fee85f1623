"""What a job says about the sky, about accuracy and about its base point, as frozen objects."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from linkplan.gnss.antenna_height import Method, all_readings, mounted_height_m
from linkplan.gnss.base_position import Origin
from linkplan.gnss.baseline import HORIZONTAL_CONSTANT_M, PPM, VERTICAL_CONSTANT_M
from linkplan.tables.constellations import SYSTEMS

USUAL_SYSTEMS = ("GPS", "GLONASS", "Galileo", "BeiDou")
"""Where the job does not say which [common practice]."""
USUAL_MASK_DEG = 10.0
"""[common practice]"""
WAY_WORDS: dict[Method, str] = {
    "slant": "slant to the measuring mark",
    "vertical": "vertical to the measuring mark",
    "arp": "vertical to the antenna reference point",
}
"""Ways to measure an antenna height, as a sheet says them."""
USUAL_BASE_GNSS_HEIGHT_M = 2.0
"""Of a base's GNSS antenna above ground, on a tripod [common practice]."""


@dataclass(frozen=True)
class WorkHours:
    """The working hours: one stretch, which may reach over midnight."""

    date: datetime.date
    """On which they begin, local."""
    zone_name: str
    """As the job writes it: "America/Denver", "+01:00" or "UTC"."""
    zone: datetime.tzinfo
    start_utc: datetime.datetime
    """Aware, in UTC."""
    end_utc: datetime.datetime

    def local(self, moment: datetime.datetime) -> datetime.datetime:
        """A moment (aware) in the job's time zone."""
        return moment.astimezone(self.zone)

    def moments_utc(self, step_s: float) -> tuple[datetime.datetime, ...]:
        """Every step from the start, as far as the end; aware, in UTC."""
        steps = int((self.end_utc - self.start_utc).total_seconds() / step_s + 1e-9)
        return tuple(self.start_utc + datetime.timedelta(seconds=step * step_s) for step in range(steps + 1))


@dataclass(frozen=True)
class SkyWishes:
    """Which sky the job asks for, and when it suffices."""

    hours: WorkHours
    step_s: float
    orbit_files: tuple[Path, ...]
    """Almanacs and navigation files, not yet looked into; none: typical constellations."""
    systems: tuple[str, ...]
    """Names, of tables.constellations.SYSTEMS and in its order."""
    elevation_mask_deg: float
    """Of the base."""
    rover_elevation_mask_deg: float
    least_satellites: int
    """The base holds corrections back with fewer ..."""
    greatest_pdop: float
    """... or with a greater PDOP."""
    least_common: int
    """Satellites that a rover needs to share with the base."""
    rover_greatest_pdop: float
    workable_share: float
    """Of the working hours, above 0 to 1, in which the sky must suffice where work is to go on."""
    obstructions: tuple[tuple[float, float], ...]
    """At the base: (azimuth, elevation), degrees, azimuths ascending; straight in between and over north."""
    base_gnss_height_m: float
    """GNSS antenna above ground."""
    rover_gnss_height_m: float
    assumed: tuple[str, ...]
    """Keys whose values are common practice, because the job says nothing."""

    @property
    def letters(self) -> str:
        """The systems by their letters in RINEX."""
        return "".join(letter for letter, system in SYSTEMS.items() if system.name in self.systems)


@dataclass(frozen=True)
class Accuracy:
    """What the receivers reach over the baseline, as data sheets state it, and what is wanted."""

    horizontal_m: float = HORIZONTAL_CONSTANT_M
    """Beside the base."""
    horizontal_ppm: float = PPM
    """What each kilometre of baseline adds, mm."""
    vertical_m: float = VERTICAL_CONSTANT_M
    vertical_ppm: float = PPM
    assumed: tuple[str, ...] = ("horizontal_mm", "horizontal_ppm", "vertical_mm", "vertical_ppm")
    """Keys of the four whose values are common practice, because the job says nothing."""
    tolerance_m: float | None = None
    """Wanted horizontally in the whole job."""
    vertical_tolerance_m: float | None = None


@dataclass(frozen=True)
class MeasuredHeight:
    """The height of the base's GNSS antenna as it is measured."""

    method: Method
    reading_m: float
    radius_m: float | None
    mark_above_arp_m: float | None
    arp_height_m: float
    """Of the antenna reference point above the point on the ground."""

    @property
    def readings_m(self) -> dict[Method, float]:
        """What a tape reads by each way for which the antenna's data are known, this one first."""
        return all_readings(self.reading_m, self.method, self.radius_m, self.mark_above_arp_m)


@dataclass(frozen=True)
class OccupationCheck:
    """Another position of the base point."""

    name: str
    easting: float
    """In the job's coordinate system and its unit."""
    northing: float
    height_m: float | None
    """Of the point on the ground."""
    origin: Origin
    averaging_s: float | None


@dataclass(frozen=True)
class Occupation:
    """How the point of the job's first base is occupied."""

    origin: Origin | None
    """How its coordinates were come by; None where the job does not say."""
    averaging_s: float | None
    """With "averaged"."""
    measured: MeasuredHeight | None
    radio_above_arp_m: float | None
    """Where the radio antenna stands on the same mast."""
    checks: tuple[OccupationCheck, ...] = ()

    @property
    def arp_height_m(self) -> float | None:
        """Height of the GNSS antenna's reference point above the ground."""
        return None if self.measured is None else self.measured.arp_height_m

    @property
    def radio_height_m(self) -> float | None:
        """Height of the radio antenna that follows, where it stands on the same mast."""
        if self.arp_height_m is None or self.radio_above_arp_m is None:
            return None
        return mounted_height_m(self.arp_height_m, self.radio_above_arp_m)
