"""What a coverage computation knows: frozen, units in the names, ready to become JSON or a drawing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.plan.calibration import Calibration
from linkplan.terrain.grid import Profile, TerrainGrid

FloatMap = NDArray[np.float32]


@dataclass(frozen=True)
class CoverageClass:
    """A range of chance with a name that tells a crew what to expect."""

    index: int
    """1 is the best; 0 is kept for "no data"."""
    key: str
    name: str
    meaning: str
    chance_low: float
    chance_high: float


@dataclass(frozen=True)
class CoverageMap:
    """Every cell of the local grid. Arrays are (rows, columns), NaN (or class 0) where unknown."""

    grid: TerrainGrid
    classes: tuple[CoverageClass, ...]
    loss_db: FloatMap
    received_dbm: FloatMap
    margin_db: FloatMap
    chance: FloatMap
    line_of_sight: FloatMap
    """1 where the ray clears ground, clutter and the bulge of the earth, 0 where not."""
    fresnel_clearance: FloatMap
    """Smallest clearance as a fraction of the first Fresnel zone's radius; negative where blocked, never
    above 1: more room is not told apart."""
    class_index: NDArray[np.uint8]
    """Index of the cell's class; 0 is no data."""
    inside: NDArray[np.bool_]
    """Whether the cell's centre lies inside the job's boundary."""
    weakest_usable_dbm: float
    sigma_db: float


@dataclass(frozen=True)
class Gap:
    """A connected piece of the job without the wanted chance, or without data."""

    number: int
    """1 is the largest."""
    kind: str
    """"weak" (computed, below the wanted chance) or "no data"."""
    area_m2: float
    easting: float
    """A point inside the gap, in the job's coordinate system."""
    northing: float
    longitude_deg: float
    latitude_deg: float
    distance_m: float
    """From the base to that point."""
    azimuth_deg: float
    """From the base, clockwise from true north."""
    worst_margin_db: float | None


@dataclass(frozen=True)
class Spot:
    """One place that the summary names."""

    easting: float
    northing: float
    longitude_deg: float
    latitude_deg: float
    distance_m: float
    azimuth_deg: float
    margin_db: float
    chance: float


@dataclass(frozen=True)
class CoverageSummary:
    """The answer in figures. Shares are of the job's area, 0 to 1, and add up to 1 with `no_data_share`."""

    job_name: str
    job_area_m2: float
    cell_size_m: float
    wanted_chance: float
    wanted_share: float
    """Share of the job that must have the wanted chance, 0 to 1."""
    covered_share: float
    """Share with at least the wanted chance and within the baseline limit, if one is set."""
    class_shares: tuple[float, ...]
    """In the order of `classes`."""
    no_data_share: float
    beyond_baseline_share: float
    baseline_limit_m: float | None
    longest_baseline_m: float
    gaps: tuple[Gap, ...]
    gap_count: int
    """All gaps, also those too small or too many to list."""
    farthest_dependable: Spot | None
    """Farthest cell inside the job with the wanted chance and within the baseline limit, if one is set."""
    worst: Spot | None
    """Cell inside the job with the smallest margin."""
    warnings: tuple[str, ...]
    all_covered: bool
    """True when at least the wanted share of the job is covered; unknown cells never count."""
    calibration: Calibration | None = None
    """What field logs have taught, where that is in the figures."""


@dataclass(frozen=True)
class BudgetLine:
    """One line of a link budget: gains positive, losses negative."""

    label: str
    value: float
    unit: str
    """"dBm", "dB" or "dBi"."""
    kind: str
    """"start", "gain", "loss", "level", "need" or "margin"."""
    note: str = ""


@dataclass(frozen=True)
class Obstacle:
    """The point of a path that stands highest against the ray."""

    distance_m: float
    ground_m: float
    clutter_m: float
    clearance_m: float
    """Ray height over the obstacle (ground + clutter + earth bulge); negative where it blocks."""
    fresnel_radius_m: float
    clearance_fraction: float


@dataclass(frozen=True)
class LinkResult:
    """One base and one rover point, whole."""

    from_name: str
    to_name: str
    from_point: tuple[float, float]
    """Easting, northing in the job's coordinate system."""
    to_point: tuple[float, float]
    distance_m: float
    azimuth_deg: float
    profile: Profile
    bulge_m: NDArray[np.float64]
    """(n,), height of the earth's bulge under the straight ray."""
    ray_m: NDArray[np.float64]
    """(n,), height of the straight ray."""
    fresnel_radius_m: NDArray[np.float64]
    """(n,), radius of the first Fresnel zone."""
    antenna_from_m: float
    """Height above ground."""
    antenna_to_m: float
    frequency_mhz: float
    line_of_sight: bool
    obstacle: Obstacle | None
    model: str
    """Which computation gave the loss, in words."""
    loss_db: float
    free_space_db: float
    diffraction_db: float
    plane_earth_db: float
    budget: tuple[BudgetLine, ...]
    received_dbm: float
    weakest_usable_dbm: float
    margin_db: float
    sigma_db: float
    chance: float
    wanted_chance: float
    class_name: str
    details: dict[str, Any]
    """Every intermediate value of the Recommendation, or empty below its shortest distance."""
    warnings: tuple[str, ...] = ()
