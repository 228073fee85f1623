"""Class rasters: codes are never mixed, unknown classes are errors, unknown cells stay unknown."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import Transformer

from linkplan.errors import DemError
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.source import ClutterSource, TerrainSource

AREA = shapely.box(-600.0, -600.0, 600.0, 600.0)
WEST, NORTH, CELL = 399_000.0, 5_301_000.0, 20.0
HEIGHTS = {1: 0.0, 2: 2.0, 3: 12.0, 4: 8.0}


@pytest.fixture
def codes() -> np.ndarray:
    return np.random.default_rng(9).integers(1, 5, (100, 100)).astype("uint8")


@pytest.fixture
def dem(make_raster: Any) -> Path:
    return make_raster("dem.tif", np.full((100, 100), 250.0), "EPSG:32633", WEST, NORTH, CELL, unit="m")


def load(frame: LocalFrame, dem: Path, file: Path, heights: Any = HEIGHTS, **options: Any) -> TerrainGrid:
    source = TerrainSource((dem,), **options)
    return load_terrain(source, ClutterSource(file, heights), frame=frame, area=AREA)


def nearest(grid: TerrainGrid, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The raster's cell that holds each centre, by pyproj, and whether it is clear of its edges."""
    row, column = np.mgrid[0 : grid.shape[0], 0 : grid.shape[1]]
    x = (column - grid.base_column) * grid.cell_size_m
    y = (grid.base_row - row) * grid.cell_size_m
    east, north = Transformer.from_crs(grid.frame.local_crs, 32633, always_xy=True).transform(x, y)
    row, column = (NORTH - north) / CELL, (east - WEST) / CELL
    clear = np.minimum(np.abs(row - np.round(row)), np.abs(column - np.round(column))) > 0.02
    return values[row.astype(int), column.astype(int)], clear


@pytest.mark.parametrize("dtype", ["uint8", "int16", "float32"])
@pytest.mark.parametrize("cell_size_m", [20.0, 9.0, 55.0])
def test_heights_of_the_class_at_each_centre(
    dtype: str, cell_size_m: float, make_raster: Any, utm_frame: LocalFrame, dem: Path, codes: np.ndarray
) -> None:
    file = make_raster("classes.tif", codes.astype(dtype), "EPSG:32633", WEST, NORTH, CELL)
    grid = load(utm_frame, dem, file, cell_size_m=cell_size_m)
    assert grid.clutter_height_m is not None
    expected, clear = nearest(grid, np.array([np.nan, 0.0, 2.0, 12.0, 8.0])[codes])
    assert np.array_equal(grid.clutter_height_m[clear], expected[clear])
    assert set(np.unique(grid.clutter_height_m)) <= set(HEIGHTS.values())
    assert grid.clutter_class is not None
    assert grid.clutter_codes == (1, 2, 3, 4)
    there, _ = nearest(grid, codes)
    assert np.array_equal(np.array([-1, *grid.clutter_codes])[grid.clutter_class][clear], there[clear])


@pytest.mark.parametrize("nodata", [None, 0, 255])
def test_without_a_class_the_cell_is_unknown(
    nodata: int | None, make_raster: Any, utm_frame: LocalFrame, dem: Path, codes: np.ndarray
) -> None:
    """The class raster ends 500 m north of the base; a hole lies inside where a value marks it."""
    hole = np.zeros(codes.shape, dtype=bool)
    if nodata is not None:
        hole[60:64, 40:50] = True
        codes[hole] = nodata
    cut = codes[25:]
    file = make_raster("classes.tif", cut, "EPSG:32633", WEST, NORTH - 25 * CELL, CELL, nodata=nodata)
    grid = load(utm_frame, dem, file)
    hole[:25] = True
    expected, clear = nearest(grid, hole)
    assert grid.clutter_height_m is not None
    assert np.array_equal(np.isnan(grid.clutter_height_m)[clear], expected[clear])
    assert np.array_equal(grid.clutter_class == 0, np.isnan(grid.clutter_height_m))
    share = (1200.0 * 100.0 + (16_000.0 if nodata is not None else 0.0)) / 1200.0**2
    note = next(note for note in grid.notes if "no class in the clutter file classes.tif" in note)
    assert float(note.split(" %")[0]) == pytest.approx(100.0 * share, abs=1.5)
    assert np.isfinite(grid.height_m).all()


def test_other_coordinates_than_the_terrain(make_raster: Any, utm_frame: LocalFrame, dem: Path) -> None:
    """Degrees: trees west of the base's meridian, open east of it."""
    longitude, latitude = utm_frame.to_geographic(0.0, 0.0)
    classes = np.full((200, 200), 1, dtype="uint8")
    classes[:, :100] = 3
    file = make_raster("deg.tif", classes, "EPSG:4326", longitude - 0.02, latitude + 0.02, 0.0002)
    grid = load(utm_frame, dem, file)
    assert grid.clutter_height_m is not None
    assert (grid.clutter_height_m[:, : grid.base_column] == 12.0).all()
    assert (grid.clutter_height_m[:, grid.base_column + 1 :] == 0.0).all()


def test_class_without_a_height(
    make_raster: Any, utm_frame: LocalFrame, dem: Path, codes: np.ndarray
) -> None:
    codes[50, 50] = 9
    codes[40, 60] = 7
    file = make_raster("classes.tif", codes, "EPSG:32633", WEST, NORTH, CELL)
    with pytest.raises(DemError, match=r"classes\.tif: holds class 7, 9 without a height.* 1, 2, 3, 4$"):
        load(utm_frame, dem, file)
    fractions = make_raster("odd.tif", codes + np.float32(0.5), "EPSG:32633", WEST, NORTH, CELL)
    with pytest.raises(DemError, match=r"holds class 1\.5, 2\.5"):
        load(utm_frame, dem, fractions)


def test_strange_classes_away_from_the_job_do_not_matter(
    make_raster: Any, utm_frame: LocalFrame, dem: Path, codes: np.ndarray
) -> None:
    codes[0, 0] = 99
    file = make_raster("classes.tif", codes, "EPSG:32633", WEST, NORTH, CELL)
    grid = load(utm_frame, dem, file)
    assert grid.clutter_height_m is not None
    assert np.isfinite(grid.clutter_height_m).all()


def test_errors_name_the_clutter_file(
    tmp_path: Path, make_raster: Any, utm_frame: LocalFrame, dem: Path
) -> None:
    with pytest.raises(DemError, match=r"^clutter file .*none\.tif: there is no such file"):
        load(utm_frame, dem, tmp_path / "none.tif")
    bare = make_raster("bare.tif", np.ones((10, 10), dtype="uint8"), None, WEST, NORTH, CELL)
    with pytest.raises(DemError, match=r"^clutter file .*bare\.tif: states no coordinate system"):
        load(utm_frame, dem, bare)


def test_an_alpha_band_marks_unknown_classes(
    make_raster: Any, utm_frame: LocalFrame, dem: Path, codes: np.ndarray
) -> None:
    shown = np.full(codes.shape, 255, dtype="int16")
    shown[60:64, 40:50] = 0
    bands = np.stack([codes.astype("int16"), shown])
    file = make_raster(
        "alpha.tif", bands, "EPSG:32633", WEST, NORTH, CELL, alpha="yes", photometric="MINISBLACK"
    )
    grid = load(utm_frame, dem, file)
    expected, clear = nearest(grid, shown == 0)
    assert grid.clutter_height_m is not None
    assert np.array_equal(np.isnan(grid.clutter_height_m)[clear], expected[clear])
