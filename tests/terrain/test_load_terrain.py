"""Heights on the local grid against surfaces that are known, and against pyproj with scipy."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import CRS, Transformer
from scipy.ndimage import map_coordinates

from linkplan.errors import RangeError
from linkplan.terrain.dem import base_height_warning, load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.source import TerrainSource

SAMPLES = Path(__file__).parents[2] / "dem_samples"
AREA = shapely.box(-900.0, -700.0, 1100.0, 800.0)


def centres(grid: TerrainGrid) -> tuple[np.ndarray, np.ndarray]:
    """Local x, y of every cell's centre."""
    row, column = np.mgrid[0 : grid.shape[0], 0 : grid.shape[1]]
    return (column - grid.base_column) * grid.cell_size_m, (grid.base_row - row) * grid.cell_size_m


def surface_m(easting: Any, northing: Any) -> Any:
    """Smooth hills as a function of UTM coordinates."""
    return 300.0 + 40.0 * np.sin(easting / 700.0) + 30.0 * np.cos(northing / 500.0 + easting / 3000.0)


def utm_cells(
    west: float, north: float, cell: float, rows: int, columns: int
) -> tuple[np.ndarray, np.ndarray]:
    """Coordinates of the centres of a raster's cells."""
    return np.meshgrid(west + (np.arange(columns) + 0.5) * cell, north - (np.arange(rows) + 0.5) * cell)


def load(frame: LocalFrame, *files: Path, area: Any = AREA, **options: Any) -> TerrainGrid:
    load_options = {key: options.pop(key) for key in ("margin_m", "max_cells") if key in options}
    return load_terrain(TerrainSource(files, **options), None, frame=frame, area=area, **load_options)


@pytest.fixture
def utm_dem(make_raster: Any) -> Path:
    """10 m cells around the base of `utm_frame`, 4 km wide."""
    heights = surface_m(*utm_cells(398_000.0, 5_302_000.0, 10.0, 400, 400)).astype("float32")
    return make_raster("utm.tif", heights, "EPSG:32633", 398_000.0, 5_302_000.0, 10.0, unit="m")


def test_a_plane_comes_back_as_a_plane(make_raster: Any, utm_frame: LocalFrame) -> None:
    """A bilinear rule is exact on a plane; the tolerance is 0.01 of a cell times the slope."""
    east, north = utm_cells(398_000.0, 5_302_000.0, 25.0, 160, 160)
    plane = 100.0 + 0.12 * (east - 400_000.0) - 0.09 * (north - 5_300_000.0)
    path = make_raster("plane.tif", plane, "EPSG:32633", 398_000.0, 5_302_000.0, 25.0, unit="m")
    grid = load(utm_frame, path)
    job_east, job_north = utm_frame.to_job(*centres(grid))
    expected = 100.0 + 0.12 * (job_east - 400_000.0) - 0.09 * (job_north - 5_300_000.0)
    assert np.abs(grid.height_m - expected).max() < 0.01 * 25.0 * 0.15
    assert grid.height_m[grid.base_row, grid.base_column] == pytest.approx(100.0, abs=0.01)


def test_real_terrain_against_pyproj_and_scipy() -> None:
    """Each cell's centre taken to the raster by pyproj, bilinear by scipy: within 2 cm at 30 m cells."""
    import rasterio

    frame = LocalFrame.around(CRS.from_epsg(32611), 292_062.01, 4_145_507.76)
    grid = load(frame, SAMPLES / "basin_dem_30m.tif", area=shapely.box(-4500.0, -4000.0, 1000.0, 1000.0))
    with rasterio.open(SAMPLES / "basin_dem_30m.tif") as dataset:
        heights, affine, wkt = dataset.read(1).astype(float), dataset.transform, dataset.crs.to_wkt()
    x, y = Transformer.from_crs(frame.local_crs, wkt, always_xy=True).transform(*centres(grid))
    column, row = (x - affine.c) / 30.0 - 0.5, (affine.f - y) / 30.0 - 0.5
    expected = map_coordinates(heights, [row, column], order=1)
    assert np.abs(grid.height_m - expected).max() < 0.02
    assert grid.cell_size_m == 30.0
    assert grid.source_cell_m == pytest.approx(30.0, abs=0.01)


def test_degrees_and_metres_give_the_same_ground(
    make_raster: Any, utm_frame: LocalFrame, utm_dem: Path
) -> None:
    to_degrees = Transformer.from_crs(32633, 4326, always_xy=True)
    west, north = to_degrees.transform(397_800.0, 5_302_200.0)
    step = 1.0 / 9000.0
    longitude, latitude = utm_cells(west, north, step, 420, 600)
    heights = surface_m(*Transformer.from_crs(4326, 32633, always_xy=True).transform(longitude, latitude))
    path = make_raster("degrees.tif", heights.astype("float32"), "EPSG:4326", west, north, step, unit="metre")
    from_degrees = load(utm_frame, path, cell_size_m=10.0)
    from_metres = load(utm_frame, utm_dem, cell_size_m=10.0)
    truth = surface_m(*utm_frame.to_job(*centres(from_metres)))
    # Linear between samples 12.4 m apart misses a curve of 40 m / (700 m)^2 by h^2/8 of it.
    assert np.abs(from_metres.height_m - truth).max() < 0.01
    assert np.abs(from_degrees.height_m - truth).max() < 0.01
    # 1/9000 degree: 12.4 m north, 8.3 m east at 47.8 degrees; the side of a square of that area.
    assert load(utm_frame, path).source_cell_m == pytest.approx(np.sqrt(12.36 * 8.32), rel=0.005)
    assert load(utm_frame, path).cell_size_m == 10.0


@pytest.mark.parametrize(
    ("crs", "unit", "height_unit", "metres", "datum"),
    [
        ("EPSG:32633", "m", None, 1.0, "not stated"),
        ("EPSG:32633", None, None, 1.0, "not stated"),
        ("EPSG:32633", "ft", None, 0.3048, "not stated"),
        ("EPSG:32633", "US survey foot", None, 1200.0 / 3937.0, "not stated"),
        ("EPSG:32633+6360", None, None, 1200.0 / 3937.0, "NAVD88 height (ftUS)"),
        ("EPSG:32633+5703", None, None, 1.0, "NAVD88 height"),
        ("EPSG:32633+8228", None, None, 0.3048, "NAVD88 height (ft)"),
        ("EPSG:32633+5703", None, "foot", 0.3048, "NAVD88 height"),
        ("EPSG:32633", "m", "us-survey-foot", 1200.0 / 3937.0, "not stated"),
    ],
)
def test_vertical_units(
    make_raster: Any,
    utm_frame: LocalFrame,
    utm_dem: Path,
    crs: str,
    unit: str | None,
    height_unit: str | None,
    metres: float,
    datum: str,
) -> None:
    heights = surface_m(*utm_cells(398_000.0, 5_302_000.0, 10.0, 400, 400)) / metres
    path = make_raster("unit.tif", heights, crs, 398_000.0, 5_302_000.0, 10.0, unit=unit)
    grid = load(utm_frame, path, height_unit=height_unit)
    assert grid.height_m == pytest.approx(load(utm_frame, utm_dem).height_m, abs=1e-3)
    assert grid.height_datum == datum
    silent = unit is None and height_unit is None and "+" not in crs
    assert any("metres are assumed" in note for note in grid.notes) == silent
    assert any("from which datum" in note for note in grid.notes) == (datum == "not stated")


def test_the_users_word_on_the_datum_comes_first(utm_frame: LocalFrame, utm_dem: Path) -> None:
    grid = load(utm_frame, utm_dem, height_datum="EGM2008 geoid")
    assert grid.height_datum == "EGM2008 geoid"
    assert grid.notes == ()


def test_scaled_whole_numbers(make_raster: Any, utm_frame: LocalFrame, utm_dem: Path) -> None:
    heights = surface_m(*utm_cells(398_000.0, 5_302_000.0, 10.0, 400, 400))
    steps = np.round((heights - 250.0) / 0.01).astype("int16")
    path = make_raster(
        "scaled.tif", steps, "EPSG:32633", 398_000.0, 5_302_000.0, 10.0, unit="m", scale=0.01, offset=250.0
    )
    assert load(utm_frame, path).height_m == pytest.approx(load(utm_frame, utm_dem).height_m, abs=0.006)


def test_turned_and_south_up_rasters(make_raster: Any, utm_frame: LocalFrame, utm_dem: Path) -> None:
    from affine import Affine

    truth = load(utm_frame, utm_dem, cell_size_m=10.0).height_m
    for affine in (
        Affine(10.0, 0.0, 398_000.0, 0.0, 10.0, 5_298_000.0),
        # Turned by the angle of a 3-4-5 triangle about its middle column and row, 300.
        Affine(8.0, 6.0, 400_000.0 - 300 * 14.0, 6.0, -8.0, 5_300_000.0 + 300 * 2.0),
    ):
        column, row = np.meshgrid(np.arange(600) + 0.5, np.arange(600) + 0.5)
        east = affine.a * column + affine.b * row + affine.c
        north = affine.d * column + affine.e * row + affine.f
        path = make_raster("turned.tif", surface_m(east, north), "EPSG:32633", transform=affine, unit="m")
        assert load(utm_frame, path, cell_size_m=10.0).height_m == pytest.approx(truth, abs=0.02)


def test_tiles_equal_the_single_file(make_raster: Any, utm_frame: LocalFrame) -> None:
    """Four tiles that only touch show no seam; block averages fall on the same cells too."""
    rng = np.random.default_rng(3)
    heights = (300.0 + 20.0 * rng.random((400, 400))).astype("float32")
    whole = make_raster("whole.tif", heights, "EPSG:32633", 398_000.0, 5_302_000.0, 10.0)
    tiles = [
        make_raster(
            f"tile{top}{left}.tif",
            heights[top : top + height, left : left + width],
            "EPSG:32633",
            398_000.0 + 10.0 * left,
            5_302_000.0 - 10.0 * top,
            10.0,
        )
        for top, height in ((0, 187), (187, 213))
        for left, width in ((0, 201), (201, 199))
    ]
    for cell_size_m in (10.0, 7.0, 33.0):
        one = load(utm_frame, whole, cell_size_m=cell_size_m)
        many = load(utm_frame, *reversed(tiles), cell_size_m=cell_size_m)
        assert np.array_equal(one.height_m, many.height_m)
        assert np.isfinite(one.height_m).all()


def test_earlier_files_come_first_and_later_ones_fill(make_raster: Any, utm_frame: LocalFrame) -> None:
    fine = make_raster("fine.tif", np.full((100, 100), 50.0), "EPSG:32633", 399_500.0, 5_300_500.0, 10.0)
    wide = make_raster("wide.tif", np.full((200, 200), 70.0), "EPSG:32633", 397_000.0, 5_303_000.0, 30.0)
    grid = load(utm_frame, fine, wide)
    x_m, y_m = centres(grid)
    assert grid.cell_size_m == 10.0
    assert np.isfinite(grid.height_m).all()
    assert grid.height_m[np.hypot(x_m, y_m) < 450.0] == pytest.approx(50.0)
    assert grid.height_m[(abs(x_m) > 550) | (abs(y_m) > 550)] == pytest.approx(70.0)
    turned = load(utm_frame, wide, fine)
    assert turned.height_m == pytest.approx(70.0)


def test_tiles_in_two_coordinate_systems(make_raster: Any, utm_frame: LocalFrame) -> None:
    """West of the base in UTM 33, east of it in UTM 32: one surface, overlapping by some cells."""
    left = surface_m(*utm_cells(398_000.0, 5_302_000.0, 10.0, 400, 210)).astype("float32")
    files = [make_raster("left.tif", left, "EPSG:32633", 398_000.0, 5_302_000.0, 10.0, unit="m")]
    to_32 = Transformer.from_crs(32633, 32632, always_xy=True)
    middle_east, middle_north = to_32.transform(400_000.0, 5_300_000.0)
    west, north = round(middle_east - 400.0, -1), round(middle_north + 2500.0, -1)
    cells = utm_cells(west, north, 10.0, 500, 300)
    right = surface_m(*Transformer.from_crs(32632, 32633, always_xy=True).transform(*cells)).astype("float32")
    files.append(make_raster("right.tif", right, "EPSG:32632", west, north, 10.0, unit="m"))
    grid = load(utm_frame, *files)
    truth = surface_m(*utm_frame.to_job(*centres(grid)))
    assert np.abs(grid.height_m - truth).max() < 0.02


def test_averages_over_blocks_of_a_finer_raster(make_raster: Any, utm_frame: LocalFrame) -> None:
    """A checkerboard of 0 and 100 m at 10 m cells is 50 m at 40 m cells."""
    row, column = np.mgrid[0:400, 0:400]
    board = 100.0 * ((row + column) % 2)
    path = make_raster("board.tif", board, "EPSG:32633", 398_000.0, 5_302_000.0, 10.0, unit="m")
    grid = load(utm_frame, path, cell_size_m=41.0)
    assert grid.height_m == pytest.approx(50.0, abs=1e-4)
    assert any("averaged over blocks of 4 x 4" in note for note in grid.notes)


def test_grid_covers_base_area_and_margin(utm_frame: LocalFrame, utm_dem: Path) -> None:
    away = shapely.box(300.0, 250.0, 1100.0, 900.0)
    grid = load(utm_frame, utm_dem, area=away)
    west, south, east, north = grid.extent_m
    margin = 0.05 * 1100.0
    assert west <= -margin < west + 10.0
    assert south <= -margin < south + 10.0
    assert east - 10.0 < 1100.0 + margin <= east
    assert north - 10.0 < 900.0 + margin <= north
    assert grid.centre_of(grid.base_row, grid.base_column) == (0.0, 0.0)
    assert grid.cell_of(0.0, 0.0) == (grid.base_row, grid.base_column)
    a, _, west_edge, _, e, north_edge = grid.affine
    assert (a, e, west_edge, north_edge) == (10.0, -10.0, west, north)
    tight = load(utm_frame, utm_dem, area=away, margin_m=0.0)
    assert tight.extent_m[0] == pytest.approx(-5.0)


@pytest.mark.parametrize("max_cells", [40_000, 10_000, 9_999, 500, 9])
def test_the_grid_never_exceeds_its_limit(utm_frame: LocalFrame, utm_dem: Path, max_cells: int) -> None:
    grid = load(utm_frame, utm_dem, max_cells=max_cells)
    rows, columns = grid.shape
    assert rows * columns <= max_cells
    coarser = grid.cell_size_m > 10.0
    assert coarser == any("instead of 10 m" in note for note in grid.notes)


def test_a_cell_finer_than_the_raster_is_said_to_be_empty_detail(
    utm_frame: LocalFrame, utm_dem: Path
) -> None:
    grid = load(utm_frame, utm_dem, cell_size_m=4.0)
    assert any("finer than the terrain's" in note for note in grid.notes)
    assert np.abs(grid.height_m - surface_m(*utm_frame.to_job(*centres(grid)))).max() < 0.02


def test_job_in_survey_feet_over_a_metric_dem(make_raster: Any) -> None:
    """The same base in two coordinate systems of one datum sees the same ground."""
    feet = LocalFrame.around(CRS.from_epsg(2229), 6_400_000.0, 1_800_000.0)
    to_metres = Transformer.from_crs(2229, 26911, always_xy=True)
    east, north = to_metres.transform(6_400_000.0, 1_800_000.0)
    metric = LocalFrame.around(CRS.from_epsg(26911), east, north)
    heights = surface_m(*utm_cells(east - 2000.0, north + 2000.0, 10.0, 400, 400))
    path = make_raster("metric.tif", heights, "EPSG:26911", east - 2000.0, north + 2000.0, 10.0, unit="m")
    assert load(feet, path).height_m == pytest.approx(load(metric, path).height_m, abs=0.01)


def test_base_height_check(utm_frame: LocalFrame, utm_dem: Path) -> None:
    grid = load(utm_frame, utm_dem, height_datum="EGM96 geoid")
    ground = grid.height_m[grid.base_row, grid.base_column]
    assert base_height_warning(grid, ground + 2.9) is None
    assert base_height_warning(grid, ground - 2.9) is None
    for offset, side in ((34.2, "34.2 m above"), (-3.1, "3.1 m below")):
        warning = base_height_warning(grid, ground + offset)
        assert warning is not None
        assert side in warning
        assert "EGM96 geoid" in warning
        assert f"{ground:.1f} m" in warning
        assert f"{ground + offset:.1f} m" in warning


@pytest.mark.parametrize("cell_size_m", [0.0, -5.0, 0.01, 5000.0, float("nan")])
def test_a_cell_size_must_make_sense(utm_frame: LocalFrame, utm_dem: Path, cell_size_m: float) -> None:
    with pytest.raises(RangeError, match="cell size of the terrain grid"):
        load(utm_frame, utm_dem, cell_size_m=cell_size_m)


def test_base_height_warning_speaks_the_jobs_unit() -> None:
    grid = SimpleNamespace(
        height_m=np.full((1, 1), 100.0), base_row=0, base_column=0, height_datum="invented"
    )
    # 104 m over 100 m: 341.2 ft, 13.1 ft apart, 328.1 ft (one international foot is 0.3048 m)
    warning = base_height_warning(grid, 104.0, "foot")  # type: ignore[arg-type]
    assert warning is not None
    assert "341.2 ft lies 13.1 ft above the terrain's 328.1 ft" in warning
