"""A radio licence as its holder writes it down, and the other users of the spectrum."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon


@dataclass(frozen=True)
class LicensedChannel:
    """A channel that the licence permits."""

    clause: str
    """The key that permits it, e.g. "licence.channels[2]"."""
    name: str
    frequency_mhz: float
    spacing_khz: float
    erp_limit_w: float | None = None
    """Radiated power over a half-wave dipole on this channel, where it has a limit of its own."""
    eirp_limit_w: float | None = None
    """The same over an isotropic radiator."""


@dataclass(frozen=True)
class LicenceArea:
    """Where the licence lets transmitters stand; in the job's coordinate system."""

    clause: str
    """The key that states it, e.g. "licence.area_radius"."""
    polygon: Polygon | MultiPolygon | None = None
    centre: tuple[float, float] | None = None
    radius_m: float | None = None


@dataclass(frozen=True)
class Licence:
    """What the user's own licence allows; None where the user states no such clause."""

    channels: tuple[LicensedChannel, ...]
    erp_limit_w: float | None = None
    eirp_limit_w: float | None = None
    antenna_height_limit_m: float | None = None
    """Above ground."""
    authorised_bandwidth_khz: float | None = None
    area: LicenceArea | None = None
    call_sign: str = ""
    identification_interval_s: float | None = None
    """The call sign is sent at least as often."""
    expires: date | None = None
    """The last day on which it holds."""


@dataclass(frozen=True)
class OtherTransmitter:
    """A transmitter of somebody else."""

    number: int
    """Its place in [[others]], from 1."""
    name: str
    easting: float
    """In the job's coordinate system and its unit."""
    northing: float
    frequency_mhz: float
    spacing_khz: float
    erp_w: float
    erp_assumed: bool
    """True when nobody states it and the default of the tables was taken."""
    antenna_height_m: float
    """Above ground."""
    antenna_height_assumed: bool
    station_id: int | None = None
    """Reference station ID, where it sends corrections."""


@dataclass(frozen=True)
class HeardBusy:
    """A frequency on which somebody was heard at the site."""

    number: int
    """Its place in [[heard]], from 1."""
    frequency_mhz: float
    what: str = ""
    station_id: int | None = None
    """Reference station ID of corrections heard there."""
