"""Small rasters made for a test, and a frame to load them on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pyproj import CRS

from linkplan.terrain.geodesy import LocalFrame

MakeRaster = Callable[..., Path]


@pytest.fixture
def make_raster(tmp_path: Path) -> MakeRaster:
    """Writes values as a GeoTIFF: name, values, crs, then west, north and cell (or `transform`)."""

    def make(
        name: str,
        values: Any,
        crs: Any,
        west: float = 0.0,
        north: float = 0.0,
        cell: float = 1.0,
        *,
        transform: Any = None,
        unit: str | None = None,
        scale: float = 1.0,
        offset: float = 0.0,
        **profile: Any,
    ) -> Path:
        import rasterio
        from affine import Affine

        bands = np.asarray(values)
        bands = bands[None] if bands.ndim == 2 else bands
        path = tmp_path / name
        with rasterio.open(
            path,
            "w",
            driver=profile.pop("driver", "GTiff"),
            count=bands.shape[0],
            height=bands.shape[1],
            width=bands.shape[2],
            dtype=bands.dtype.name,
            crs=crs,
            transform=Affine(cell, 0.0, west, 0.0, -cell, north) if transform is None else transform,
            **profile,
        ) as dataset:
            dataset.write(bands)
            if unit is not None:
                dataset.units = (unit,) * bands.shape[0]
            if scale != 1.0 or offset != 0.0:
                dataset.scales, dataset.offsets = (scale,) * bands.shape[0], (offset,) * bands.shape[0]
        return path

    return make


@pytest.fixture(scope="session")
def utm_frame() -> LocalFrame:
    """A base in UTM zone 33, some way off the central meridian, so that grid and true north differ."""
    return LocalFrame.around(CRS.from_epsg(32633), 400_000.0, 5_300_000.0)
