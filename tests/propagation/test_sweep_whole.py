"""The map's loss beside diffraction against the whole Recommendation, path by path.

`p1812.basic_transmission_loss` is itself checked against published cases (test_p1812.py); here its answer
over the same samples is what each cell is held to. Latitudes of the paths' ends come from pyproj.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from pyproj import Geod

from linkplan.errors import PlaceError, RangeError
from linkplan.propagation import bullington, p1812, radio_climate
from linkplan.propagation.free_space import slant_free_space_loss_db
from linkplan.propagation.sweep_whole import whole_median_loss

Array = NDArray[np.float64]

WITHIN_DB = 0.02
SPHERE = Geod(a=6371000.0, f=0.0)
RADIUS_KM = radio_climate.median_effective_earth_radius_km(45.0)
BASIN = Path(__file__).parents[2] / "dem_samples" / "basin_dem_30m.tif"


@dataclass(frozen=True)
class Site:
    """A raster with a base on it."""

    ground: Array
    clutter: Array
    cell_m: float
    row: int
    column: int
    tx_m: float
    rx_m: float
    frequency_ghz: float
    latitude_deg: float

    def profile(self, row: int, column: int) -> tuple[Array, Array, Array]:
        """Distance, ground and clutter at each crossing of the path to a cell."""
        down, right = row - self.row, column - self.column
        steps = max(abs(down), abs(right))
        share = np.arange(steps + 1) / steps
        rows, columns = self.row + share * down, self.column + share * right
        clutter = _between(self.clutter, rows, columns)
        clutter[[0, -1]] = 0.0
        distance = share * math.hypot(down, right) * self.cell_m / 1e3
        return distance, _between(self.ground, rows, columns), clutter

    def whole(self, row: int, column: int) -> p1812.P1812Result:
        """The whole Recommendation for the path to a cell."""
        distance, ground, clutter = self.profile(row, column)
        azimuth = math.degrees(math.atan2(column - self.column, self.row - row))
        longitude, latitude, _ = SPHERE.fwd(0.0, self.latitude_deg, azimuth, 1e3 * distance[-1])
        return p1812.basic_transmission_loss(
            distance,
            ground,
            clutter,
            radio_climatic_zone=4,
            frequency_ghz=self.frequency_ghz,
            time_percent=50.0,
            location_percent=50.0,
            tx_height_m=self.tx_m,
            rx_height_m=self.rx_m,
            polarization="vertical",
            tx_latitude_deg=self.latitude_deg,
            tx_longitude_deg=0.0,
            rx_latitude_deg=latitude,
            rx_longitude_deg=longitude,
            refractivity_gradient_n_units_per_km=45.0,
            sea_level_refractivity_n_units=325.0,
            tx_to_coast_km=500.0,
            rx_to_coast_km=500.0,
        )

    def diffraction_db(self, row: int, column: int) -> float:
        distance, ground, clutter = self.profile(row, column)
        return bullington.delta_bullington(
            distance,
            ground + clutter,
            ground,
            tx_height_m=self.tx_m,
            rx_height_m=self.rx_m,
            frequency_ghz=self.frequency_ghz,
            effective_earth_radius_km=RADIUS_KM,
        ).diffraction_db

    def map(self, diffraction: NDArray[np.float32] | Array) -> NDArray[np.float32]:
        return whole_median_loss(
            self.ground,
            diffraction,
            cell_size_m=self.cell_m,
            tx_row=self.row,
            tx_column=self.column,
            tx_height_m=self.tx_m,
            rx_height_m=self.rx_m,
            frequency_ghz=self.frequency_ghz,
            tx_latitude_deg=self.latitude_deg,
        )


def _between(values: Array, rows: Array, columns: Array) -> Array:
    top = np.minimum(rows.astype(int), values.shape[0] - 2)
    left = np.minimum(columns.astype(int), values.shape[1] - 2)
    down, right = rows - top, columns - left
    upper = (1.0 - right) * values[top, left] + right * values[top, left + 1]
    lower = (1.0 - right) * values[top + 1, left] + right * values[top + 1, left + 1]
    return np.asarray((1.0 - down) * upper + down * lower)


def _waves(size: int, length: float, amplitude: float, rng: np.random.Generator) -> Array:
    """Smooth random ground: a sum of plane waves of about this length in cells."""
    rows, columns = np.mgrid[:size, :size]
    ground = np.zeros((size, size))
    for _ in range(12):
        turn, phase = rng.uniform(0.0, 2.0 * math.pi, 2)
        wave = 2.0 * math.pi / (length * rng.uniform(0.7, 1.4))
        ground += np.sin(wave * (rows * math.sin(turn) + columns * math.cos(turn)) + phase)
    return ground * amplitude / ground.std()


def _real(scale: float) -> Array:
    with rasterio.open(BASIN) as raster:
        ground = raster.read(1).astype(np.float64)
    ground = ground[:150, :180]
    assert np.isfinite(ground).all()
    return np.asarray(ground * scale)


def ground_of(kind: str) -> Array:
    size = 170
    rng = np.random.default_rng(7)
    rows, columns = np.mgrid[:size, :size].astype(float)
    if kind == "coastal plain":
        return _waves(size, 60.0, 1.5, rng) + 0.3 * rng.normal(size=(size, size))
    made = {
        "flat": lambda: np.full((size, size), 120.0),
        "tilted": lambda: 0.4 * rows - 0.15 * columns,
        "rolling": lambda: _waves(size, 40.0, 8.0, rng),
        "hills": lambda: _waves(size, 40.0, 90.0, rng),
        "rough": lambda: _waves(size, 9.0, 100.0, rng),
        "real": lambda: _real(1.0),
        "real / 10": lambda: _real(0.1),
        "real / 30": lambda: _real(1.0 / 30.0),
    }
    return made[kind]()


KINDS = (
    "flat", "tilted", "rolling", "hills", "rough", "coastal plain", "real", "real / 10", "real / 30",
)  # fmt: skip


def _sites(kind: str, cell_m: float, with_clutter: bool) -> list[Site]:
    ground = ground_of(kind)
    rng = np.random.default_rng(11)
    clutter = np.zeros_like(ground)
    if with_clutter:
        clutter[_waves(max(ground.shape), 12.0, 1.0, rng)[: ground.shape[0], : ground.shape[1]] > 1.0] = 12.0
    sites = []
    for latitude in (0.0, -14.0, 30.0, 48.0, 65.0):
        row, column = (int(rng.integers(0, n)) for n in ground.shape)
        heights = float(rng.choice([1.5, 2.0, 5.0, 12.0, 30.0])), float(rng.choice([1.5, 2.0, 4.0]))
        frequency = float(rng.uniform(0.4, 0.475))
        sites.append(Site(ground, clutter, cell_m, row, column, *heights, frequency, latitude))
    return sites


@pytest.mark.parametrize("with_clutter", [False, True], ids=["bare", "clutter"])
@pytest.mark.parametrize("cell_m", [60.0, 190.0])
@pytest.mark.parametrize("kind", KINDS)
def test_every_cell_is_the_whole_recommendation(kind: str, cell_m: float, with_clutter: bool) -> None:
    rng = np.random.default_rng(3)
    longest = most = 0.0
    for site in _sites(kind, cell_m, with_clutter):
        diffraction = np.full(site.ground.shape, math.nan)
        wanted = np.full(site.ground.shape, math.nan)
        for _ in range(30):
            row, column = (int(rng.integers(0, n)) for n in site.ground.shape)
            steps = max(abs(row - site.row), abs(column - site.column))
            if steps < 4 or steps * cell_m < 250.0:
                continue
            whole = site.whole(row, column)
            diffraction[row, column] = whole.diffraction_median_db
            wanted[row, column] = whole.basic_transmission_loss_db
            longest = max(longest, whole.distance_km)
            simple = whole.free_space_db + whole.diffraction_median_db
            most = max(most, simple - whole.basic_transmission_loss_db)
        got = site.map(diffraction)
        known = np.isfinite(wanted)
        np.testing.assert_array_equal(np.isfinite(got), known)
        np.testing.assert_allclose(got[known], wanted[known], atol=WITHIN_DB, rtol=0.0)
    assert longest > 100.0 * cell_m / 1e3
    if kind in ("flat", "tilted", "coastal plain") and cell_m == 190.0:
        assert most > 3.0, "the rest of the Recommendation was asked for nothing"


@pytest.mark.parametrize("gradient", [20.0, 70.0])
@pytest.mark.parametrize("refractivity", [280.0, 380.0])
def test_air_is_heeded(gradient: float, refractivity: float) -> None:
    site = Site(np.zeros((5, 130)), np.zeros((5, 130)), 250.0, 2, 3, 2.0, 2.0, 0.45, 3.0)
    distance, ground, clutter = site.profile(2, 120)
    longitude, latitude, _ = SPHERE.fwd(0.0, 3.0, 90.0, 1e3 * distance[-1])
    whole = p1812.basic_transmission_loss(
        distance,
        ground,
        clutter,
        radio_climatic_zone=4,
        frequency_ghz=0.45,
        time_percent=50.0,
        location_percent=50.0,
        tx_height_m=2.0,
        rx_height_m=2.0,
        polarization="vertical",
        tx_latitude_deg=3.0,
        tx_longitude_deg=0.0,
        rx_latitude_deg=latitude,
        rx_longitude_deg=longitude,
        refractivity_gradient_n_units_per_km=gradient,
        sea_level_refractivity_n_units=refractivity,
        tx_to_coast_km=500.0,
        rx_to_coast_km=500.0,
    )
    got = whole_median_loss(
        site.ground,
        np.full(site.ground.shape, whole.diffraction_median_db),
        cell_size_m=250.0,
        tx_row=2,
        tx_column=3,
        tx_height_m=2.0,
        rx_height_m=2.0,
        frequency_ghz=0.45,
        tx_latitude_deg=3.0,
        refractivity_gradient_n_units_per_km=gradient,
        sea_level_refractivity_n_units=refractivity,
    )
    assert got[2, 120] == pytest.approx(whole.basic_transmission_loss_db, abs=WITHIN_DB)
    assert whole.free_space_db + whole.diffraction_median_db > whole.basic_transmission_loss_db + 1.0


def test_short_paths_and_the_base_take_free_space_and_diffraction() -> None:
    ground = np.zeros((30, 30))
    ground[10:14, 10:14] = 25.0
    site = Site(ground, 0.0 * ground, 8.0, 20, 20, 5.0, 2.0, 0.45, 0.0)
    diffraction = np.full(ground.shape, 40.0, dtype=np.float32)
    got = site.map(diffraction)
    rows, columns = np.mgrid[:30, :30]
    distance = np.maximum(np.hypot(rows - 20, columns - 20), 0.5) * 8.0 / 1e3
    assert distance.max() < 0.25
    free = slant_free_space_loss_db(distance, 5.0, ground + 2.0, 0.45)
    np.testing.assert_allclose(got, free + 40.0, atol=1e-4, rtol=0.0)


def test_unknown_stays_unknown_and_the_rest_does_not_feel_it() -> None:
    like = _sites("coastal plain", 190.0, False)[0]
    site = Site(**{**like.__dict__, "row": 60, "column": 70})
    diffraction = np.full(site.ground.shape, 45.0)
    whole_map = site.map(diffraction)
    hole = np.zeros(site.ground.shape, dtype=bool)
    hole[5:20, 5:20] = True
    ground, cut = site.ground.copy(), diffraction.copy()
    ground[hole] = math.nan
    cut[hole] = math.nan
    holed = Site(**{**site.__dict__, "ground": ground}).map(cut)
    np.testing.assert_array_equal(np.isnan(holed), hole)
    # no path to the cells below the base's row or right of its column comes near the hole
    beside = np.zeros_like(hole)
    beside[site.row :, :] = True
    beside[:, site.column :] = True
    np.testing.assert_array_equal(holed[beside], whole_map[beside])


def test_both_precisions_of_diffraction_give_the_same() -> None:
    site = _sites("rolling", 190.0, False)[1]
    diffraction = np.linspace(0.0, 80.0, site.ground.size).reshape(site.ground.shape)
    single = site.map(diffraction.astype(np.float32))
    np.testing.assert_allclose(site.map(diffraction), single, atol=1e-4, rtol=0.0)
    assert single.dtype == np.float32


def test_never_below_free_space_nor_above_free_space_and_diffraction() -> None:
    site = _sites("coastal plain", 190.0, False)[0]
    diffraction = np.full(site.ground.shape, 60.0)
    rows, columns = np.mgrid[: site.ground.shape[0], : site.ground.shape[1]]
    distance = np.maximum(np.hypot(rows - site.row, columns - site.column), 0.5) * 0.19
    base = site.ground[site.row, site.column] + site.tx_m
    free = slant_free_space_loss_db(distance, base, site.ground + site.rx_m, site.frequency_ghz)
    got = site.map(diffraction)
    assert (got >= free - 1e-4).all()
    assert (got <= free + 60.0 + 1e-4).all()
    assert (got < free + 50.0).mean() > 0.3


def test_progress_runs_to_the_end() -> None:
    told: list[float] = []
    whole_median_loss(
        np.zeros((40, 50)),
        np.full((40, 50), 30.0),
        cell_size_m=100.0,
        tx_row=10,
        tx_column=10,
        tx_height_m=5.0,
        rx_height_m=2.0,
        frequency_ghz=0.45,
        tx_latitude_deg=0.0,
        progress=told.append,
    )
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert told[0] < 0.2


@pytest.mark.parametrize(
    ("change", "error", "says"),
    [
        ({"tx_row": 9}, PlaceError, "outside the raster"),
        ({"tx_latitude_deg": 91.0}, RangeError, "tx_latitude_deg"),
        ({"frequency_ghz": 0.01}, RangeError, "frequency_ghz"),
        ({"tx_height_m": 0.0}, RangeError, "tx_height_m"),
        ({"cell_size_m": 0.0}, RangeError, "cell_size_m"),
        ({"refractivity_gradient_n_units_per_km": 157.0}, RangeError, "refractivity_gradient"),
        ({"sea_level_refractivity_n_units": 0.0}, RangeError, "sea_level_refractivity"),
        ({"diffraction_db": np.zeros((3, 3))}, RangeError, "diffraction_db has shape"),
        ({"diffraction_db": np.zeros((6, 8), dtype=int)}, RangeError, "diffraction_db is of type"),
        ({"height_m": np.full((6, 8), math.nan)}, PlaceError, "unknown"),
    ],
)
def test_bad_input_is_named(change: dict[str, object], error: type[Exception], says: str) -> None:
    arguments: dict[str, object] = {
        "height_m": np.zeros((6, 8)),
        "diffraction_db": np.zeros((6, 8)),
        "cell_size_m": 10.0,
        "tx_row": 2,
        "tx_column": 2,
        "tx_height_m": 5.0,
        "rx_height_m": 2.0,
        "frequency_ghz": 0.45,
        "tx_latitude_deg": 45.0,
    }
    arguments.update(change)
    with pytest.raises(error, match=says):
        whole_median_loss(**arguments)  # type: ignore[arg-type]
