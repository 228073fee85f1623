"""The GeoTIFF holds the numbers of the result, where they belong on the earth."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from linkplan.outputs.raster import BANDS, write_geotiff

NAMES = [name for name, _, _ in BANDS]


@pytest.mark.parametrize("epsg", [25832, 2229, 4326, 3857])
def test_each_pixel_is_the_computed_cell_under_it(
    make: Callable[..., tuple], tmp_path: Path, epsg: int
) -> None:
    plan, coverage, _ = make(epsg=epsg)
    path = write_geotiff(plan, coverage, tmp_path / "coverage.tif")
    grid = coverage.grid
    with rasterio.open(path) as dataset:
        bands = dict(zip(dataset.descriptions, dataset.read(), strict=True))
        rows, columns = np.indices(dataset.shape)
        x, y = dataset.transform @ (columns.ravel() + 0.5, rows.ravel() + 0.5)
        # pyproj's own way from the file's coordinates to the local plane, with no help of ours
        local_x, local_y = Transformer.from_crs(
            dataset.crs.to_wkt(), grid.frame.local_crs, always_xy=True
        ).transform(x, y)
    column = np.asarray(local_x) / grid.cell_size_m + grid.base_column
    row = grid.base_row - np.asarray(local_y) / grid.cell_size_m
    on_grid = (np.rint(row) >= 0) & (np.rint(row) < grid.shape[0])
    on_grid &= (np.rint(column) >= 0) & (np.rint(column) < grid.shape[1])
    # the warp is held to a twentieth of a pixel: leave out pixels that close to a cell's edge
    clear = np.maximum(np.abs(row - np.rint(row)), np.abs(column - np.rint(column))) < 0.44
    inside, outside = on_grid & clear, ~on_grid & clear
    assert inside.sum() > 0.7 * grid.height_m.size
    for name in NAMES:
        expected = coverage.class_index if name == "class" else getattr(coverage, name)
        expected = expected[np.rint(row[inside]).astype(int), np.rint(column[inside]).astype(int)].astype(
            np.float32
        )
        if name == "class":
            expected = np.where(expected == 0, np.nan, expected)
        np.testing.assert_array_equal(bands[name].ravel()[inside], expected)
        assert np.isnan(bands[name].ravel()[outside]).all()


def test_file_says_what_it_is(hostile_case: tuple, tmp_path: Path) -> None:
    plan, coverage, _ = hostile_case
    with rasterio.open(write_geotiff(plan, coverage, tmp_path / "coverage.tif")) as dataset:
        assert list(dataset.descriptions) == NAMES
        assert dataset.dtypes == ("float32",) * len(NAMES)
        assert np.isnan(dataset.nodata)
        assert dataset.units[:4] == ("dB", "dBm", "dB", "1")
        tags = dataset.tags()
        assert tags["JOB"] == plan.name
        assert tags["JOB_SHA256"] == plan.job_hash
        assert "P.1812-8" in tags["MODEL"]
        assert "verify on site" in tags["CAUTION"]
        assert tags["CLASSES"].startswith("1 dependable (chance 0.95 to 1)")
        assert dataset.crs.to_epsg() == 25832
        assert dataset.profile["tiled"]
        assert dataset.profile["compress"] == "deflate"


def test_job_in_degrees_comes_in_its_local_metres(make: Callable[..., tuple], tmp_path: Path) -> None:
    plan, coverage, _ = make(epsg=4326)
    with rasterio.open(write_geotiff(plan, coverage, tmp_path / "coverage.tif")) as dataset:
        assert dataset.crs.is_projected
        assert dataset.transform.a == coverage.grid.cell_size_m
        np.testing.assert_array_equal(dataset.read(NAMES.index("loss_db") + 1), coverage.loss_db)


def test_same_result_gives_the_same_bytes(case: tuple, tmp_path: Path) -> None:
    plan, coverage, _ = case
    first = write_geotiff(plan, coverage, tmp_path / "one.tif").read_bytes()
    assert write_geotiff(plan, coverage, tmp_path / "two.tif").read_bytes() == first
