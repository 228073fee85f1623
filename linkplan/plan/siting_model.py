"""What a job says about siting, as frozen objects: where a base may stand, what counts, what is ruled out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linkplan.gnss.baseline import HORIZONTAL_CONSTANT_M, PPM
from linkplan.radio.equipment import Antenna

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

CRITERIA = ("goal", "workable", "share", "worst", "baseline", "mast", "power")
"""What a ranking may look at: the wanted share of the job reached or not; the weighted share where work can
go on (corrections, sky and baseline; needs [sky]); the weighted share with the wanted
chance; the margin at the worst spot; the longest baseline; the mast's height; the power."""

DEFAULT_ORDER = ("share", "worst", "baseline", "mast", "power")

MODES = ("one", "several", "corridor", "repeaters")
"""One base; several at once; one that is moved from set-up to set-up along a line; one with repeaters."""

MACHINES, PEOPLE = "machines", "people"
RELIANTS = (MACHINES, PEOPLE)
"""Who relies on corrections in a zone."""


@dataclass(frozen=True)
class Place:
    """A place where a base may stand, in the job's coordinates."""

    name: str
    easting: float
    northing: float
    height_m: float | None
    """Ground height as its file states it, or None."""
    known: bool
    """A point of the job's control."""


@dataclass(frozen=True)
class NamedAntenna:
    """An antenna to try."""

    name: str
    """"" for the job's own."""
    antenna: Antenna


@dataclass(frozen=True)
class Zone:
    """A part of the job that counts more than the rest, or that must have corrections."""

    name: str
    area: Polygon | MultiPolygon
    """In the job's coordinate system; only what lies inside the boundary counts."""
    weight: float
    """Of each of its cells, beside 1 for the rest of the job; where zones overlap the greatest counts."""
    must_share: float | None
    """Share of the zone that must have the wanted chance, or None where it is no must."""
    tolerance_m: float | None = None
    """Wanted horizontal accuracy in it, from which a baseline limit follows; None: that of the whole job."""
    relies: str = ""
    """Of RELIANTS, or "" where nobody relies on corrections there."""
    speed_km_h: float | None = None
    """At which they go through it; None: for people walking pace, and nobody else relies on it."""


@dataclass(frozen=True)
class OverheadLine:
    """Overhead lines of one kind."""

    name: str
    shape: BaseGeometry
    """In the job's coordinate system."""
    voltage_kv: float | None
    """Nominal, or None where nobody says."""
    clearance_m: float | None
    """Wanted between mast and line, or None: the table's for the voltage."""


@dataclass(frozen=True)
class SitingRules:
    """What rules a place out; None (or no lines) where the job has no such rule."""

    known_control: bool = False
    """Only points of the job's control serve."""
    keep_out: BaseGeometry | None = None
    """Polygons, in the job's coordinate system, where no mast may stand."""
    lines: tuple[OverheadLine, ...] = ()
    fall_factor: float = 1.5
    """A mast keeps at least this many times its height, and the clearance, from overhead lines."""
    fenced: BaseGeometry | None = None
    """Polygons that can be fenced: the circle where people are kept out of must lie in them."""
    fence_radius_m: float | None = None
    """The largest circle around a mast that can be fenced."""
    exposure_limits: str = "icnirp-2020"
    """Key of the exposure limits in `tables.exposure`."""
    elevation_mask_deg: float = 10.0
    sky_blocked_share: float | None = None
    """Share of the directions in which the terrain may stand above the elevation mask."""
    gnss_antenna_height_m: float = 2.0
    """Of the base's GNSS antenna above ground, for its view of the sky."""
    tracks: BaseGeometry | None = None
    """Lines that a vehicle can drive, in the job's coordinate system."""
    track_distance_m: float | None = None
    tolerance_m: float | None = None
    """Wanted horizontal accuracy, from which a baseline limit follows."""
    accuracy_m: float = HORIZONTAL_CONSTANT_M
    """Of the receivers beside the base, horizontal."""
    accuracy_ppm: float = PPM
    """What each kilometre of baseline adds, mm."""


@dataclass(frozen=True)
class Siting:
    """Everything that a job says about where its base may go."""

    places: tuple[Place, ...]
    """Control points and other named points that are candidates."""
    grid_area: Polygon | MultiPolygon | None
    """In the job's coordinate system: a grid of further places is laid over it."""
    grid_spacing_m: float | None
    antenna_heights_m: tuple[float, ...]
    """Radio antenna above ground, ascending, each at least once to be tried."""
    powers_dbm: tuple[float, ...]
    """At the radio's connector, ascending."""
    antennas: tuple[NamedAntenna, ...]
    order: tuple[str, ...]
    """Of CRITERIA, the weightiest first."""
    zones: tuple[Zone, ...]
    rules: SitingRules
    mode: str
    """Of MODES."""
    most_set_ups: int | None
    """Greatest coverage for no more than this many set-ups (repeaters not counted with their base), or None:
    fewest that cover all that can be covered."""
    corridor: BaseGeometry | None
    """Centre line of a corridor, in the job's coordinate system."""
    check_spacing_m: float
    """Along a corridor, from one check point to the next; the control points are check points too."""
    overlap: bool
    """Neighbouring set-ups must see a common check point."""
    link_margin_db: float
    """That a repeater needs from its base."""
    cases: int
    """Draws of the prediction error over which the ranking is repeated."""
    seed: int
