"""Missing data stays missing and never shrinks, however a file marks it."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from affine import Affine
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from linkplan.errors import PlaceError
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.source import TerrainSource

AREA = shapely.box(-600.0, -600.0, 600.0, 600.0)
WEST, NORTH, CELL = 399_000.0, 5_301_000.0, 20.0
HOLE = (slice(20, 24), slice(60, 66))
"""Rows and columns of a hole in a raster of 100 x 100 cells around the base of `utm_frame`."""


def load(frame: LocalFrame, path: Path, **options: Any) -> TerrainGrid:
    return load_terrain(TerrainSource((path,), **options), None, frame=frame, area=AREA)


def source_cells(grid: TerrainGrid) -> tuple[np.ndarray, np.ndarray]:
    """Fractional row and column, centre of the first = 0, of each grid cell's centre in the raster."""
    row, column = np.mgrid[0 : grid.shape[0], 0 : grid.shape[1]]
    x = (column - grid.base_column) * grid.cell_size_m
    y = (grid.base_row - row) * grid.cell_size_m
    east, north = Transformer.from_crs(grid.frame.local_crs, 32633, always_xy=True).transform(x, y)
    return (NORTH - north) / CELL - 0.5, (east - WEST) / CELL - 0.5


def touches_missing(missing: np.ndarray, row: np.ndarray, column: np.ndarray, least: float) -> np.ndarray:
    """Whether a missing cell has at least `least` of the bilinear weight."""
    top, left = np.floor(row).astype(int), np.floor(column).astype(int)
    result = np.zeros(row.shape, dtype=bool)
    for down in (0, 1):
        for right in (0, 1):
            weight = np.abs(1 - down - (row - top)) * np.abs(1 - right - (column - left))
            cell = missing[np.clip(top + down, 0, 99), np.clip(left + right, 0, 99)]
            result |= cell & (weight > least)
    return result


def marked(kind: str, make_raster: Any) -> Path:
    """A raster of 250 m with HOLE marked as missing in one of the ways that files know."""
    values = np.full((100, 100), 250.0, dtype="float32")
    where = (WEST, NORTH, CELL)
    if kind == "nan":
        values[HOLE] = np.nan
        return make_raster("dem.tif", values, "EPSG:32633", *where, unit="m")
    if kind == "nodata value":
        values[HOLE] = -9999.0
        return make_raster("dem.tif", values, "EPSG:32633", *where, unit="m", nodata=-9999.0)
    if kind == "integer nodata":
        values[HOLE] = -32768
        return make_raster("dem.tif", values.astype("int16"), "EPSG:32633", *where, unit="m", nodata=-32768)
    if kind == "zero as nodata":
        values[HOLE] = 0
        return make_raster("dem.tif", values.astype("uint16"), "EPSG:32633", *where, unit="m", nodata=0)
    if kind == "alpha band":
        alpha = np.full_like(values, 255.0)
        alpha[HOLE] = 0.0
        bands = np.stack([values, alpha])
        return make_raster(
            "dem.tif",
            bands,
            "EPSG:32633",
            *where,
            unit="m",
            alpha="non-premultiplied",
            photometric="MINISBLACK",
        )
    if kind == "unmarked -32768":
        values[HOLE] = -32768.0
    if kind == "unmarked 3.4e38":
        values[HOLE] = 3.4e38
    return make_raster("dem.tif", values, "EPSG:32633", *where, unit="m")


@pytest.mark.parametrize(
    "kind",
    [
        "nan",
        "nodata value",
        "integer nodata",
        "zero as nodata",
        "alpha band",
        "mask file",
        "unmarked -32768",
        "unmarked 3.4e38",
    ],
)
@pytest.mark.parametrize("cell_size_m", [20.0, 13.0, 35.0])
def test_every_way_to_mark_a_hole(
    kind: str, cell_size_m: float, make_raster: Any, utm_frame: LocalFrame
) -> None:
    path = marked(kind, make_raster)
    missing = np.zeros((100, 100), dtype=bool)
    missing[HOLE] = True
    if kind == "mask file":
        import rasterio

        with rasterio.open(path, "r+") as dataset:
            dataset.write_mask(np.where(missing, 0, 255).astype("uint8"))
    grid = load(utm_frame, path, cell_size_m=cell_size_m)
    row, column = source_cells(grid)
    unknown = np.isnan(grid.height_m)
    assert unknown[touches_missing(missing, row, column, 0.01)].all()
    assert not unknown[~touches_missing(missing, row, column, 0.0)].any()
    assert grid.height_m[~unknown] == pytest.approx(250.0, abs=1e-3)
    assert any("of the job's area has no terrain data" in note for note in grid.notes)
    told = [note for note in grid.notes if "taken as missing" in note]
    assert bool(told) == kind.startswith("unmarked")
    if told:
        assert told[0].startswith("24 cells of dem.tif")


@settings(max_examples=20, deadline=None)
@example(seed=11, cell_size_m=39.96875, holes=10)
@given(seed=st.integers(0, 2**32 - 1), cell_size_m=st.floats(18.0, 95.0), holes=st.integers(1, 60))
def test_missing_never_shrinks(seed: int, cell_size_m: float, holes: int) -> None:
    """Whatever the grid: the cell that holds the centre of a missing raster cell is missing."""
    import rasterio
    from pyproj import CRS

    frame = LocalFrame.around(CRS.from_epsg(32633), 400_000.0, 5_300_000.0)
    rng = np.random.default_rng(seed)
    values = 300.0 + 50.0 * rng.random((100, 100))
    row, column = rng.integers(20, 80, holes), rng.integers(20, 80, holes)
    away = np.hypot(row - 49.5, column - 49.5) > 12.0
    values[row[away], column[away]] = np.nan
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "dem.tif"
        with rasterio.open(
            path, "w", driver="GTiff", count=1, width=100, height=100, dtype="float64", crs="EPSG:32633",
            transform=Affine(CELL, 0.0, WEST, 0.0, -CELL, NORTH),
        ) as dataset:  # fmt: skip
            dataset.write(values, 1)
        grid = load(frame, path, cell_size_m=cell_size_m)
    hole_row, hole_column = np.nonzero(np.isnan(values))
    x_m, y_m = frame.to_local(WEST + (hole_column + 0.5) * CELL, NORTH - (hole_row + 0.5) * CELL)
    for x, y in zip(x_m, y_m, strict=True):
        cell = grid.cell_of(x, y)
        if cell is not None:
            assert np.isnan(grid.height_m[cell])
    known = np.isfinite(grid.height_m)
    assert (grid.height_m[known] >= 300.0 - 1e-3).all()
    assert (grid.height_m[known] <= 350.0 + 1e-3).all()


def test_outside_the_raster_is_missing_and_said(make_raster: Any, utm_frame: LocalFrame) -> None:
    """The raster ends 205 m east of the base; the job reaches to 600 m."""
    values = np.full((100, 100), 250.0)
    path = make_raster("dem.tif", values, "EPSG:32633", 400_205.0 - 2000.0, NORTH, CELL, unit="m")
    grid = load(utm_frame, path)
    share = next(note for note in grid.notes if "has no terrain data" in note)
    assert float(share.split(" %")[0]) == pytest.approx(100.0 * 395.0 / 1200.0, abs=1.5)
    row, column = np.mgrid[0 : grid.shape[0], 0 : grid.shape[1]]
    east, _ = utm_frame.to_job(
        (column - grid.base_column) * grid.cell_size_m, (grid.base_row - row) * grid.cell_size_m
    )
    assert np.array_equal(np.isnan(grid.height_m), east > 400_205.0)


def test_base_on_missing_data(make_raster: Any, utm_frame: LocalFrame) -> None:
    values = np.full((100, 100), 250.0)
    values[49:51, 49:51] = np.nan
    path = make_raster("dem.tif", values, "EPSG:32633", WEST, NORTH, CELL, unit="m")
    with pytest.raises(PlaceError, match=r"base at 400000\.0, 5300000\.0 stands where .* no data"):
        load(utm_frame, path)


def test_job_wholly_on_missing_data(make_raster: Any, utm_frame: LocalFrame) -> None:
    values = np.full((100, 100), 250.0)
    path = make_raster("dem.tif", values, "EPSG:32633", WEST, NORTH, CELL, unit="m")
    away = shapely.box(3000.0, 3000.0, 4000.0, 4000.0)
    with pytest.raises(PlaceError, match="whole job lies where the terrain has no data"):
        load_terrain(TerrainSource((path,)), None, frame=utm_frame, area=away)


def test_a_later_file_fills_a_hole(make_raster: Any, utm_frame: LocalFrame) -> None:
    values = np.full((100, 100), 250.0)
    values[HOLE] = np.nan
    first = make_raster("first.tif", values, "EPSG:32633", WEST, NORTH, CELL, unit="m")
    other = np.full((150, 150), 260.0)
    second = make_raster("second.tif", other, "EPSG:32633", WEST - 111.0, NORTH + 111.0, 19.0, unit="m")
    grid = load_terrain(TerrainSource((first, second), cell_size_m=20.0), None, frame=utm_frame, area=AREA)
    assert np.isfinite(grid.height_m).all()
    filled = np.isclose(grid.height_m, 260.0)
    alone = load(utm_frame, first, cell_size_m=20.0)
    assert np.array_equal(filled, np.isnan(alone.height_m))
    assert filled.any()
