"""The sample data serve for what their README says."""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pyproj import CRS

from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.masks import inside_mask
from linkplan.terrain.source import ClutterSource, TerrainSource

SAMPLES = Path(__file__).parents[2] / "dem_samples"
CLASSES = {1: 0.0, 2: 2.0, 3: 12.0, 4: 8.0}


def control(stem: str) -> dict[str, dict[str, Any]]:
    with (SAMPLES / f"{stem}_control.csv").open(encoding="utf-8", newline="") as file:
        return {row["name"]: row for row in csv.DictReader(file)}


def boundary(stem: str) -> Any:
    import geopandas

    return geopandas.read_file(SAMPLES / f"{stem}_job.gpkg", layer="job")


def load(stem: str, dem: str, epsg: int, name: str) -> tuple[TerrainGrid, Any, float]:
    point = control(stem)[name]
    frame = LocalFrame.around(CRS.from_epsg(epsg), float(point["easting"]), float(point["northing"]))
    area = frame.geometry_to_local(boundary(stem).geometry.iloc[0])
    clutter = ClutterSource(SAMPLES / "quarry_clutter_5m.tif", CLASSES) if stem == "quarry" else None
    grid = load_terrain(TerrainSource((SAMPLES / dem,)), clutter, frame=frame, area=area)
    return grid, area, float(point["height"])


@pytest.mark.parametrize(
    ("stem", "dem", "epsg", "names", "area_km2"),
    [
        ("basin", "basin_dem_30m.tif", 32611, "B1 B2 B3 B4 B5 B6", (20.0, 26.0)),
        ("quarry", "quarry_dem_5m.tif", 32628, "Q1 Q2 Q3 Q4 Q5 Q6 Q7", (1.1, 1.5)),
    ],
)
def test_boundary_and_control_points_fit_the_ground(
    stem: str, dem: str, epsg: int, names: str, area_km2: tuple[float, float]
) -> None:
    job = boundary(stem)
    assert job.crs.to_epsg() == epsg
    assert job.geometry.iloc[0].is_valid
    assert area_km2[0] < job.area.sum() / 1e6 < area_km2[1]
    assert " ".join(control(stem)) == names
    for name in names.split():
        grid, _, height_m = load(stem, dem, epsg, name)
        assert grid.height_m[grid.base_row, grid.base_column] == pytest.approx(height_m, abs=1.0)


def test_basin_has_ground_everywhere() -> None:
    grid, area, _ = load("basin", "basin_dem_30m.tif", 32611, "B1")
    assert np.isfinite(grid.height_m[inside_mask(grid, area)]).all()
    assert grid.cell_size_m == 30.0


def test_quarry_has_a_pond_a_pit_and_all_classes() -> None:
    grid, area, height_m = load("quarry", "quarry_dem_5m.tif", 32628, "Q1")
    inside = inside_mask(grid, area)
    assert 0.005 < np.isnan(grid.height_m[inside]).mean() < 0.02
    ground = grid.height_m[inside]
    assert np.nanmin(ground) == pytest.approx(238.0 - 60.0, abs=0.1)
    assert height_m > np.nanmax(ground) + 20.0
    assert grid.clutter_height_m is not None
    assert set(np.unique(grid.clutter_height_m)) == set(CLASSES.values())
    assert grid.clutter_height_m[grid.base_row, grid.base_column] == 0.0


def test_the_quarry_is_what_its_script_makes() -> None:
    """Up to the last centimetre of rounding and of the platform's Fourier transform."""
    import rasterio

    spec = importlib.util.spec_from_file_location("make_site", SAMPLES / "make_site.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    ground, classes = script.terrain()
    with rasterio.open(SAMPLES / "quarry_dem_5m.tif") as dataset:
        stored = dataset.read(1)
    assert np.array_equal(stored == script.HEIGHT_NODATA, np.isnan(ground))
    known = stored != script.HEIGHT_NODATA
    assert np.abs(stored[known] * script.HEIGHT_STEP_M - ground[known]).max() < 0.011
    with rasterio.open(SAMPLES / "quarry_clutter_5m.tif") as dataset:
        assert (dataset.read(1) != classes).mean() < 1e-4
