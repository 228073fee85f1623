"""Rasters of strange lands: longitudes that count on, damaged places, other planets, zeros for nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from affine import Affine
from pyproj import CRS, Transformer

from linkplan.errors import DemError, PlaceError
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.source import ClutterSource, TerrainSource

AREA = shapely.box(-600.0, -600.0, 600.0, 600.0)
PLACE = (399_000.0, 5_301_000.0, 20.0)
GROUND = np.full((100, 100), 250.0, dtype="float32")
CELL_DEG = 0.0003


def refusal(frame: LocalFrame, path: Path, **options: Any) -> str:
    with pytest.raises(DemError) as caught:
        load_terrain(TerrainSource((path,)), options.get("clutter"), frame=frame, area=AREA)
    assert "\n" not in str(caught.value)
    assert str(options.get("blamed", path)) in str(caught.value)
    return str(caught.value)


def tilted(grid: TerrainGrid, longitude: float, latitude: float) -> Any:
    """The height that `slope` has at the centres of a grid, m."""
    row, column = np.indices(grid.shape)
    x_m = np.asarray((column - grid.base_column) * grid.cell_size_m, dtype=np.float64)
    y_m = np.asarray((grid.base_row - row) * grid.cell_size_m, dtype=np.float64)
    east, north = grid.frame.to_geographic(x_m, y_m)
    return 500.0 + 5e3 * ((east - longitude + 180.0) % 360.0 - 180.0) + 3e3 * (north - latitude)


@pytest.mark.parametrize(
    ("west", "longitude", "crs"),
    [
        (-117.015, -117.0, "EPSG:4326"),
        (242.985, -117.0, "EPSG:4326"),
        (242.985, -117.0, "EPSG:32611"),
        (179.985, 179.998, "EPSG:32660"),
        (179.985, -179.998, "EPSG:32601"),
        (-180.015, 179.998, "EPSG:32660"),
        (179.985, 180.0, "EPSG:4326"),
    ],
)
def test_longitudes_count_on(west: float, longitude: float, crs: str, make_raster: Any) -> None:
    """A slope with longitude and latitude is exact under bilinear interpolation, whoever counts."""
    latitude = 10.0
    east = west + (np.arange(100) + 0.5) * CELL_DEG
    north = latitude + 0.015 - (np.arange(100) + 0.5) * CELL_DEG
    slope = 500.0 + 5e3 * ((east - longitude + 180.0) % 360.0 - 180.0) + 3e3 * (north[:, None] - latitude)
    path = make_raster("slope.tif", slope, "EPSG:4326", west, latitude + 0.015, CELL_DEG, unit="m")
    job_crs = CRS.from_user_input(crs)
    base = Transformer.from_crs(4326, job_crs, always_xy=True).transform(longitude, latitude)
    grid = load_terrain(TerrainSource((path,)), None, frame=LocalFrame.around(job_crs, *base), area=AREA)
    assert grid.height_m == pytest.approx(tilted(grid, longitude, latitude), abs=0.01)


def test_cell_that_ends_at_the_pole(make_raster: Any) -> None:
    path = make_raster(
        "polar.tif", GROUND, "EPSG:4326", transform=Affine(3.6, 0, -180, 0, -0.01, 90), unit="m"
    )
    frame = LocalFrame.around(CRS.from_epsg(32661), 2_000_000.0, 2_000_000.0)
    grid = load_terrain(TerrainSource((path,), cell_size_m=20.0), None, frame=frame, area=AREA)
    assert grid.height_m[grid.base_row, grid.base_column] == pytest.approx(250.0)


@pytest.mark.parametrize("affine", [Affine(20, 20, 399_000, 20, 20, 5_301_000),
                                    Affine(float("nan"), 0, 399_000, 0, -20, 5_301_000)])  # fmt: skip
def test_damaged_georeference(affine: Affine, make_raster: Any, utm_frame: LocalFrame) -> None:
    assert "no size" in refusal(utm_frame, make_raster("flat.tif", GROUND, "EPSG:32633", transform=affine))


@pytest.mark.parametrize("crs", ["EPSG:4978", "EPSG:5703"])
def test_coordinate_system_without_easting(crs: str, make_raster: Any, utm_frame: LocalFrame) -> None:
    assert "does not serve" in refusal(utm_frame, make_raster("dem.tif", GROUND, crs, *PLACE))


def test_another_planet(make_raster: Any, utm_frame: LocalFrame) -> None:
    mars = make_raster("mars.tif", GROUND, "IAU_2015:49900", 10.0, 10.0, 0.01)
    assert "no way is known" in refusal(utm_frame, mars)
    earth = make_raster("earth.tif", GROUND, "EPSG:32633", *PLACE)
    classes = make_raster("classes.tif", GROUND.astype("uint8"), "IAU_2015:49900", 10.0, 10.0, 0.01)
    clutter = ClutterSource(classes, {250: 5.0})
    assert "no way is known" in refusal(utm_frame, earth, clutter=clutter, blamed=classes)
    with pytest.raises(PlaceError, match="not one of the earth"):
        LocalFrame.around(CRS.from_user_input("IAU_2015:49900"), 10.0, 10.0)


def test_projection_that_ends_at_the_horizon(make_raster: Any) -> None:
    """Most points lie behind the earth as a geostationary satellite sees it: outside, said in one line."""
    path = make_raster("dem.tif", GROUND, "EPSG:32611", *PLACE)
    seen = CRS.from_user_input("+proj=geos +h=35785831 +lon_0=0 +ellps=WGS84")
    with pytest.raises(PlaceError, match="cannot express"):
        load_terrain(
            TerrainSource((path,)), None, frame=LocalFrame.around(seen, 500_000.0, 4_000_000.0), area=AREA
        )


def test_cells_too_coarse_for_terrain(make_raster: Any, utm_frame: LocalFrame) -> None:
    path = make_raster("coarse.tif", GROUND[:9, :9], "EPSG:32633", 391_000.0, 5_309_000.0, 2000.0)
    assert "2000 m wide" in refusal(utm_frame, path).replace("2001", "2000").replace("1999", "2000")


def test_packed_file(tmp_path: Path, utm_frame: LocalFrame) -> None:
    packed = tmp_path / "dem.zip"
    packed.write_bytes(b"PK\x03\x04 and so on")
    assert "unpack it" in refusal(utm_frame, packed)


@pytest.mark.parametrize(
    ("low", "nodata", "questioned"),
    [(0.0, None, True), (0.0, -9999.0, False), (1.0, None, False)],
)
def test_lonely_zeros_are_questioned(
    low: float, nodata: float | None, questioned: bool, make_raster: Any, utm_frame: LocalFrame
) -> None:
    heights = GROUND.copy()
    heights[:20] = low
    path = make_raster("holes.tif", heights, "EPSG:32633", *PLACE, nodata=nodata)
    grid = load_terrain(TerrainSource((path,)), None, frame=utm_frame, area=AREA)
    assert any("exactly 0 m" in note for note in grid.notes) == questioned


def test_zeros_on_a_shore_are_sea(make_raster: Any, utm_frame: LocalFrame) -> None:
    heights = np.maximum(0.0, np.arange(100.0) - 50.0) * np.ones((100, 1))
    path = make_raster("shore.tif", heights, "EPSG:32633", *PLACE)
    grid = load_terrain(TerrainSource((path,)), None, frame=utm_frame, area=AREA)
    assert not any("exactly 0 m" in note for note in grid.notes)


def test_many_files_are_not_all_named(make_raster: Any, utm_frame: LocalFrame) -> None:
    files = tuple(make_raster(f"tile{number}.tif", GROUND, "EPSG:32633", *PLACE) for number in range(9))
    notes = load_terrain(TerrainSource(files), None, frame=utm_frame, area=AREA).notes
    assert any("tile5.tif and 3 more files" in note and "tile6" not in note for note in notes)


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 45.0])
@pytest.mark.parametrize("cell_size_m", [20.0, 30.0, 38.0, 40.0, 59.0])
def test_no_hole_slips_through_a_turned_raster(
    angle_deg: float, cell_size_m: float, make_raster: Any, utm_frame: LocalFrame
) -> None:
    """Single missing cells, well apart: each leaves a hole in the grid where it is."""
    heights = GROUND.copy()
    row, column = (part.ravel() for part in np.meshgrid(np.arange(20, 80, 7), np.arange(20, 80, 7)))
    away = np.hypot(row - 50, column - 50) > 8
    row, column = row[away], column[away]
    heights[row, column] = np.nan
    turned = Affine.translation(400_000.0, 5_300_000.0) @ Affine.rotation(angle_deg)
    turned = turned @ Affine.scale(20.0, -20.0) @ Affine.translation(-50.0, -50.0)
    path = make_raster("turned.tif", heights, "EPSG:32633", transform=turned)
    source = TerrainSource((path,), cell_size_m=cell_size_m)
    grid = load_terrain(source, None, frame=utm_frame, area=shapely.box(-900.0, -900.0, 900.0, 900.0))
    places = [turned @ (float(c) + 0.5, float(r) + 0.5) for r, c in zip(row, column, strict=True)]
    cells = [grid.cell_of(*utm_frame.to_local(*place)) for place in places]
    assert all(np.isnan(grid.height_m[cell]) for cell in cells if cell is not None)
    assert sum(cell is not None for cell in cells) > 40


@pytest.mark.parametrize("reach", [10.0, 99.0, 100.0, 101.0, 299.0])
def test_small_area_lies_between_centres(reach: float, make_raster: Any, utm_frame: LocalFrame) -> None:
    """Heights are known between centres of cells only, so the outermost centres lie beyond the area."""
    path = make_raster("dem.tif", GROUND, "EPSG:32633", 399_000.0, 5_301_000.0, 20.0)
    for cell_size_m in (20.0, 90.0):
        area = shapely.box(-reach, 0.0, reach, reach)
        source = TerrainSource((path,), cell_size_m=cell_size_m)
        grid = load_terrain(source, None, frame=utm_frame, area=area)
        assert grid.base_column * cell_size_m >= reach
        assert grid.base_row * cell_size_m >= reach


def test_place_endlessly_far_is_off_the_grid(make_raster: Any, utm_frame: LocalFrame) -> None:
    path = make_raster("dem.tif", GROUND, "EPSG:32633", *PLACE)
    grid = load_terrain(TerrainSource((path,)), None, frame=utm_frame, area=AREA)
    assert grid.cell_of(float("inf"), 0.0) is None
    assert grid.cell_of(0.0, float("nan")) is None


@pytest.mark.parametrize(
    ("west", "longitude", "crs"),
    [
        (-117.015, -117.0, 32611),
        (242.985, -117.0, 32611),
        (179.985, -179.998, 32601),
        (179.985, 179.998, 32660),
    ],
)
def test_classes_whose_longitudes_count_on(west: float, longitude: float, crs: int, make_raster: Any) -> None:
    """Trees north-east of the base, 9 m, open ground elsewhere."""
    latitude = 10.0
    place = (west, latitude + 0.015, CELL_DEG)
    east = (west + (np.arange(100) + 0.5) * CELL_DEG - longitude + 180.0) % 360.0 - 180.0
    north = 0.015 - (np.arange(100) + 0.5) * CELL_DEG
    trees = (east > 0.002) & (north[:, None] > 0.001)
    ground = make_raster("dem.tif", GROUND, "EPSG:4326", *place)
    classes = make_raster("classes.tif", trees.astype("uint8"), "EPSG:4326", *place)
    base = Transformer.from_crs(4326, crs, always_xy=True).transform(longitude, latitude)
    frame = LocalFrame.around(CRS.from_epsg(crs), *base)
    clutter = ClutterSource(classes, {0: 0.0, 1: 9.0})
    grid = load_terrain(TerrainSource((ground,)), clutter, frame=frame, area=AREA)
    row, column = np.indices(grid.shape)
    x_m = np.asarray((column - grid.base_column) * grid.cell_size_m, dtype=np.float64)
    y_m = np.asarray((grid.base_row - row) * grid.cell_size_m, dtype=np.float64)
    there_east, there_north = frame.to_geographic(x_m, y_m)
    there = ((there_east - longitude + 180.0) % 360.0 - 180.0 > 0.002) & (there_north - latitude > 0.001)
    assert grid.clutter_height_m is not None
    assert np.array_equal(grid.clutter_height_m, np.where(there, 9.0, 0.0))
