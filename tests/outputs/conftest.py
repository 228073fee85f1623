"""An invented job with invented results: hills, shadows, a wood and a patch without terrain data.

Nothing here is computed by the product: the outputs have to draw what results hold, whatever it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pyproj import CRS
from shapely import Polygon

from linkplan.coverage.results import (
    BudgetLine,
    CoverageClass,
    CoverageMap,
    CoverageSummary,
    Gap,
    LinkResult,
    Obstacle,
    Spot,
)
from linkplan.plan.model import Base, ControlPoint, Environment, Goal, Plan, Rover
from linkplan.radio.equipment import Antenna, Feeder, Receiver, Transmitter
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import Profile, TerrainGrid
from linkplan.terrain.source import TerrainSource

EASTING, NORTHING = 512_345.0, 5_190_820.0
HOSTILE = 'Grube "Süd" <b>&amp; Co</b> </script><script>alert(1)</script> `${7*7}` {{ 7*7 }}'
SIGMA_DB = 6.0

CLASSES = (
    CoverageClass(1, "dependable", "dependable", "The wanted chance or better.", 0.95, 1.0),
    CoverageClass(2, "likely", "likely", "Expect short losses.", 0.80, 0.95),
    CoverageClass(3, "uncertain", "uncertain", "As likely as not.", 0.50, 0.80),
    CoverageClass(4, "unlikely", "unlikely", "Lucky spots only.", 0.10, 0.50),
    CoverageClass(5, "out-of-reach", "out of reach", "No corrections.", 0.0, 0.10),
)


def make_grid(crs: CRS, easting: float, northing: float, rows: int, columns: int, cell: float) -> TerrainGrid:
    """Three hills, a pit and a patch of missing ground; a wood in the west."""
    base_row, base_column = rows * 2 // 3, columns // 3
    x = (np.arange(columns) - base_column) * cell
    y = (base_row - np.arange(rows)) * cell
    x, y = np.meshgrid(x, y)
    size = cell * max(rows, columns)
    height = 420.0 + 0.01 * x + 8.0 * np.sin(9 * x / size) * np.cos(7 * y / size)
    for hx, hy, width, top in (
        (0.22, 0.2, 0.07, 60),
        (-0.15, 0.3, 0.09, 45),
        (0.45, -0.08, 0.06, 55),
        (0.1, -0.15, 0.05, -30),
    ):
        height += top * np.exp(-((x / size - hx) ** 2 + (y / size - hy) ** 2) / (2 * width**2))
    height[rows // 8 : rows // 5, columns * 4 // 5 : columns * 9 // 10] = np.nan
    clutter = np.where((x < -0.12 * size) & (np.abs(y) < 0.15 * size), 14.0, 0.0)
    return TerrainGrid(
        frame=LocalFrame.around(crs, easting, northing),
        cell_size_m=cell,
        base_row=base_row,
        base_column=base_column,
        height_m=height,
        clutter_height_m=clutter,
        height_datum="EGM2008 geoid",
        source_cell_m=cell,
        notes=("The terrain is invented.",),
    )


def make_coverage(grid: TerrainGrid, boundary_local: Polygon) -> CoverageMap:
    """Values that look like coverage: a slope with distance, shadow behind hills, unknown behind holes."""
    import shapely

    row, column = np.indices(grid.shape)
    steps = np.linspace(0.0, 1.0, 90)[1:-1]
    base_height = grid.height_m[grid.base_row, grid.base_column] + 5.0
    worst = np.full(grid.shape, -np.inf)
    for t in steps:
        r = np.rint(grid.base_row + t * (row - grid.base_row)).astype(int)
        c = np.rint(grid.base_column + t * (column - grid.base_column)).astype(int)
        ray = base_height + t * (grid.height_m + 2.0 - base_height)
        worst = np.fmax(worst, grid.height_m[r, c] - ray)
        worst[np.isnan(grid.height_m[r, c])] = np.nan if t == steps[0] else np.inf
    unknown = np.isinf(worst) | np.isnan(grid.height_m) | np.isnan(worst)
    x = (column - grid.base_column) * grid.cell_size_m
    y = (grid.base_row - row) * grid.cell_size_m
    distance = np.maximum(np.hypot(x, y), grid.cell_size_m)
    clearance = np.where(unknown, np.nan, -worst / np.sqrt(0.17 * distance))
    loss = 92.0 + 35.0 * np.log10(distance / 1000.0) + np.clip(8.0 - 14.0 * clearance, 0.0, 45.0)
    received = 40.0 - loss
    margin = received + 97.0
    chance = np.vectorize(lambda m: 0.5 * math.erfc(-m / (SIGMA_DB * math.sqrt(2.0))))(margin)
    index = np.zeros(grid.shape, np.uint8)
    for one in reversed(CLASSES):
        index[chance >= one.chance_low] = one.index
    index[unknown] = 0
    single = [np.where(unknown, np.nan, a).astype(np.float32) for a in (loss, received, margin, chance)]
    return CoverageMap(
        grid,
        CLASSES,
        *single,
        np.where(unknown, np.nan, clearance > 0).astype(np.float32),
        clearance.astype(np.float32),
        index,
        shapely.contains_xy(boundary_local, x, y),
        weakest_usable_dbm=-97.0,
        sigma_db=SIGMA_DB,
    )


def make_summary(plan: Plan, coverage: CoverageMap) -> CoverageSummary:
    """Figures that belong to the arrays; gaps are at chosen cells."""
    grid, inside = coverage.grid, coverage.inside
    shares = np.bincount(coverage.class_index[inside], minlength=6) / inside.sum()

    def place(row: int, column: int) -> dict[str, float]:
        x, y = grid.centre_of(row, column)
        easting, northing = grid.frame.to_job(x, y)
        longitude, latitude = grid.frame.to_geographic(x, y)
        return {
            "easting": easting,
            "northing": northing,
            "longitude_deg": longitude,
            "latitude_deg": latitude,
            "distance_m": math.hypot(x, y),
            "azimuth_deg": math.degrees(math.atan2(x, y)) % 360.0,
        }

    def spot(score: np.ndarray) -> Spot:
        row, column = np.unravel_index(int(np.nanargmax(np.where(inside, score, np.nan))), grid.shape)
        return Spot(
            **place(int(row), int(column)),
            margin_db=float(coverage.margin_db[row, column]),
            chance=float(coverage.chance[row, column]),
        )

    distance = np.hypot(*np.indices(grid.shape) - np.array([grid.base_row, grid.base_column])[:, None, None])
    gaps = []
    for kind, wanted in (("weak", coverage.class_index > 2), ("no data", coverage.class_index == 0)):
        where = np.argwhere(inside & wanted)
        if len(where):
            row, column = where[len(where) // 2]
            worst = float(np.nanmin(coverage.margin_db[inside])) if kind == "weak" else None
            area = len(where) * grid.cell_size_m**2
            gaps.append(Gap(len(gaps) + 1, kind, area, **place(int(row), int(column)), worst_margin_db=worst))
    return CoverageSummary(
        job_name=plan.name,
        job_area_m2=float(inside.sum()) * grid.cell_size_m**2,
        cell_size_m=grid.cell_size_m,
        wanted_chance=0.95,
        wanted_share=1.0,
        covered_share=float(shares[1]),
        class_shares=tuple(shares[1:].tolist()),
        no_data_share=float(shares[0]),
        beyond_baseline_share=0.0,
        baseline_limit_m=10_000.0,
        longest_baseline_m=float(distance[inside].max() * grid.cell_size_m),
        gaps=tuple(gaps),
        gap_count=len(gaps) + 3,
        farthest_dependable=spot(np.where(coverage.class_index == 1, distance, np.nan)),
        worst=spot(-coverage.margin_db),
        warnings=("The base height differs from the terrain by 3.4 m.",),
        all_covered=False,
    )


Case = tuple[Plan, CoverageMap, CoverageSummary]


def make_case(
    *,
    name: str = "Kieswerk Nord",
    epsg: int = 25832,
    rows: int = 160,
    columns: int = 220,
    cell: float = 15.0,
    unit: str = "metre",
) -> Case:
    """A whole invented job in any coordinate system."""
    from pyproj import Transformer
    from shapely import transform

    crs = CRS.from_epsg(epsg)
    at = Transformer.from_crs(25832, crs, always_xy=True).transform(EASTING, NORTHING)
    if epsg == 2229:  # far from the invented place: take one of its own
        at = (6_490_000.0, 1_850_000.0)
    grid = make_grid(crs, *at, rows, columns, cell)
    west, south, east, north = grid.extent_m
    ring = [
        (0.8 * west, 0.7 * south),
        (0.1 * east, 0.92 * south),
        (0.9 * east, 0.3 * south),
        (0.93 * east, 0.8 * north),
        (0.3 * east, 0.93 * north),
        (0.7 * west, 0.6 * north),
    ]
    local = Polygon(ring)
    job = transform(local, lambda points: np.column_stack(grid.frame.to_job(points[:, 0], points[:, 1])))
    control = tuple(
        ControlPoint(label, *map(float, grid.frame.to_job(x, y)), 421.5)
        for label, x, y in (
            ("CP-1", 0.0, 0.0),
            ("CP-2", 0.5 * east, 0.5 * north),
            ("CP & <3>", 0.6 * west, 0.2 * south),
        )
    )
    plan = Plan(
        file=Path("job.toml"),
        name=name,
        notes="",
        crs=crs,
        length_unit=unit,
        height_unit=unit,
        boundary=job,
        terrain=TerrainSource((Path("ground.tif"),)),
        clutter=None,
        base=Base("CP-1", float(at[0]), float(at[1]), 420.0, 5.0),
        transmitter=Transmitter(43.0, 451.0, 25.0, Feeder(1.2), Antenna(5.0)),
        rover=Rover(2.0, Receiver(Antenna(2.15), Feeder(0.0), 16.0, 7.0, True, -97.0)),
        environment=Environment("rural", SIGMA_DB, True, 45.0, 325.0),
        goal=Goal(0.95, 10_000.0),
        control_points=control,
        job_hash="0123456789abcdef" * 4,
    )
    coverage = make_coverage(grid, local)
    return plan, coverage, make_summary(plan, coverage)


@pytest.fixture(scope="session")
def case() -> Case:
    """The invented job in UTM."""
    return make_case()


@pytest.fixture(scope="session")
def hostile_case(case: Case) -> Case:
    """The same job under a name that tries to break out of every format."""
    plan, coverage, summary = case
    return replace(plan, name=HOSTILE), coverage, replace(summary, job_name=HOSTILE)


@pytest.fixture(scope="session")
def make() -> Callable[..., Case]:
    """Build an invented job in another coordinate system, unit or size."""
    return make_case


@pytest.fixture(scope="session")
def link() -> LinkResult:
    """A path of 2.4 km over a ridge with a few trees, blocked."""
    distance = np.linspace(0.0, 2400.0, 161)
    ground = (
        420.0
        - 0.006 * distance
        + 26.0 * np.exp(-(((distance - 1500.0) / 260.0) ** 2))
        + 2.0 * np.sin(distance / 90.0)
    )
    clutter = np.where((distance > 620) & (distance < 1040), 9.0, 0.0)
    bulge = distance * (2400.0 - distance) / (2 * 8_500_000.0)
    start, end = ground[0] + 5.0, ground[-1] + 2.0
    ray = start + (end - start) * distance / 2400.0
    wavelength = 299.792458 / 451.0
    radius = np.sqrt(wavelength * distance * (2400.0 - distance) / 2400.0)
    clearance = ray - ground - clutter - bulge
    worst = int(np.argmin(np.where(radius > 0, clearance / np.maximum(radius, 1e-9), np.inf)))
    obstacle = Obstacle(
        float(distance[worst]),
        float(ground[worst]),
        float(clutter[worst]),
        float(clearance[worst]),
        float(radius[worst]),
        float(clearance[worst] / radius[worst]),
    )
    budget = (
        BudgetLine("transmitter power", 43.0, "dBm", "start", "20 W"),
        BudgetLine("base feeder and connectors", -1.2, "dB", "loss"),
        BudgetLine("base antenna towards the rover", 5.0, "dBi", "gain"),
        BudgetLine("radiated (EIRP)", 46.8, "dBm", "level"),
        BudgetLine("free space", -93.1, "dB", "loss"),
        BudgetLine("diffraction over terrain and clutter", -24.6, "dB", "loss"),
        BudgetLine("rover antenna", 2.2, "dBi", "gain"),
        BudgetLine("rover feeder", -0.0, "dB", "loss"),
        BudgetLine("received", -68.7, "dBm", "level"),
        BudgetLine("weakest usable level", -76.0, "dBm", "need", "sensitivity"),
        BudgetLine("link margin", 7.3, "dB", "margin"),
    )
    return LinkResult(
        "CP-1",
        "gap 1",
        (EASTING, NORTHING),
        (EASTING + 1700.0, NORTHING + 1694.0),
        2400.0,
        45.1,
        Profile(distance, ground, clutter, distance * 0.708, distance * 0.706),
        bulge,
        ray,
        radius,
        5.0,
        2.0,
        451.0,
        False,
        obstacle,
        "P.1812-8, whole",
        117.7,
        93.1,
        24.6,
        115.2,
        budget,
        -68.7,
        -76.0,
        7.3,
        SIGMA_DB,
        0.888,
        0.95,
        "likely",
        {},
        ("Line crosses a wood whose height is a guess.",),
    )
