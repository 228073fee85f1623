"""The horizons of a whole grid beside the plain way: each cell's rays, step by step, to the grid's edge.

`pytest tests/benchmarks -s` prints times a cell and direction on one core; LINKPLAN_BENCHMARK=full takes all
grounds and sizes from 500 to 2000 cells a side.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from numba import njit
from numpy.typing import NDArray

from linkplan.terrain.horizon import EFFECTIVE_EARTH_RADIUS_M, horizon_deg
from linkplan.terrain.horizon_map import horizon_layers, horizons_at, sky_openness
from tests.propagation.terrain_samples import flat, rolling, rough, spectral, white

FloatArray = NDArray[np.float64]
FULL = os.environ.get("LINKPLAN_BENCHMARK") == "full"
AZIMUTHS_DEG = np.arange(0.0, 360.0, 5.0)
VIEW = {"cell_size_m": 5.0, "eye_height_m": 2.0, "azimuths_deg": AZIMUTHS_DEG}
MASK_DEG = 10.0
PLAIN_RUNS, PLAIN_RUN, NUMPY_CELLS, SINGLE_CELLS = 12, 40, 40, 20_000

LEAST_SPEEDUP, LEAST_SPEEDUP_ABOVE_MASK = 15.0, 60.0
"""Over the plain way compiled, at 1001 x 1001 on the pit's ground."""

HIGHEST_GROWTH = 3.0
"""Of the cost a cell and direction from 500 to 2000 cells a side; the plain way's grows by 4."""

pytestmark = pytest.mark.benchmark


def pit(side: int) -> FloatArray:
    """Hills, and a pit of twelve steep benches of 10 m."""
    down, right = np.mgrid[0:side, 0:side] / side - 0.5
    benches = np.clip((0.35 - np.hypot(down, right)) / 0.02, 0.0, 12.0)
    steps = np.floor(benches) + np.clip(4.0 * (benches % 1.0), 0.0, 1.0)
    return spectral(side, side, 2.2, 20.0) - 10.0 * steps


GROUND: dict[str, Callable[[int], FloatArray]] = {
    "pit": pit,
    "rolling": lambda side: rolling(side, side),
    "rough": lambda side: rough(side, side),
    "flat": lambda side: flat(side, side),
    "white": lambda side: white(side, side),
}


@njit(nogil=True, error_model="numpy")
def plain(
    height: FloatArray, row: int, column: int, down: float, right: float, eye: float, radius: float,
    steepest: float,
) -> float:  # fmt: skip
    """The steepest of a slope and those at all crossings of a ray with rows of cells; lengths in cells."""
    rows, columns = height.shape
    sign = 1 if down > 0.0 else -1
    curve = 0.5 / radius
    line = row + sign
    while 0 <= line < rows:
        near = down / (line - row)
        far = 1.0 / near
        beside = column + far * right
        left = math.floor(beside + 1e-9)
        share = beside - left
        if left < 0 or left + (share > 1e-9) > columns - 1:
            break
        a, b = height[line, left], height[line, min(left + 1, columns - 1)]
        slope = (a - eye + share * (b - a)) * near - far * curve
        steepest = slope if slope > steepest else steepest
        line += sign
    return steepest


@njit(nogil=True, error_model="numpy")
def plain_cells(
    height: FloatArray, rows: NDArray[np.int64], columns: NDArray[np.int64], down: FloatArray,
    right: FloatArray, eye_height: float, radius: float,
) -> FloatArray:  # fmt: skip
    """Slopes of all cells and rays, crossing by crossing; all lengths in cells."""
    slope = np.full((down.size, rows.size), -np.inf)
    for ray in range(down.size):
        for cell in range(rows.size):
            row, column = rows[cell], columns[cell]
            eye = height[row, column] + eye_height
            if abs(down[ray]) > 1e-12:
                slope[ray, cell] = plain(height, row, column, down[ray], right[ray], eye, radius, -np.inf)
            if abs(right[ray]) > 1e-12:
                slope[ray, cell] = plain(
                    height.T, column, row, right[ray], down[ray], eye, radius, slope[ray, cell]
                )
    return slope


@dataclass(frozen=True)
class Measured:
    """Nanoseconds a cell and direction, on one core."""

    ground: str
    side: int
    layers_ns: float
    above_mask_ns: float
    single_ns: float
    plain_ns: float
    numpy_ns: float
    worst_deg: float
    """Layers less the plain way, over the sampled cells."""

    def line(self) -> str:
        whole_s = AZIMUTHS_DEG.size * self.side**2 * 1e-9
        return (
            f"{self.ground:8}{self.side:5}{self.layers_ns:7.0f}{self.above_mask_ns:7.0f}{self.single_ns:7.0f}"
            f"{self.plain_ns:7.0f}{self.numpy_ns:7.0f}   {self.plain_ns / self.layers_ns:5.0f}"
            f"{self.plain_ns / self.above_mask_ns:7.0f}   {whole_s * self.layers_ns:6.1f}"
            f"{whole_s * self.above_mask_ns:7.1f}{whole_s * self.plain_ns:7.0f}   {self.worst_deg:.5f}"
        )


HEADER = f"""
                 ns a cell and direction, one core      plain way /          whole map, s          worst
ground   side    all  above  single  plain  numpy     all  above      all  above  plain   error, deg
(all: every horizon; above: sky above {MASK_DEG:g} degrees; single: cell by cell; numpy: one-point form)"""


def timed(work: Callable[[], object], directions: int) -> float:
    """Nanoseconds of processor time a direction: other work on the machine counts little."""
    begun = time.process_time()
    work()
    return 1e9 * (time.process_time() - begun) / directions


def measure(ground: str, side: int) -> Measured:
    height_m = GROUND[ground](side)
    angle = np.radians(AZIMUTHS_DEG)
    in_cells, rays = (
        height_m / 5.0,
        (-np.cos(angle), np.sin(angle), 2.0 / 5.0, EFFECTIVE_EARTH_RADIUS_M / 5.0),
    )
    random = np.random.default_rng(7)
    # neighbours, whose rays meet the same ground while it is in the cache
    rows = np.repeat(random.integers(0, side, PLAIN_RUNS), PLAIN_RUN)
    columns = (random.integers(0, side - PLAIN_RUN, PLAIN_RUNS)[:, None] + np.arange(PLAIN_RUN)).ravel()
    small = height_m[:50, :50]
    plain_cells(in_cells[:50, :50].copy(), rows[:1] % 50, columns[:1] % 50, *rays)
    list(horizon_layers(small, **VIEW))  # type: ignore[arg-type]
    sky_openness(small, mask_deg=MASK_DEG, **VIEW)  # type: ignore[arg-type]
    horizons_at(small, [0], [0], **VIEW)  # type: ignore[arg-type]
    slope = np.empty(0)
    sampled = np.empty((AZIMUTHS_DEG.size, rows.size))

    def by_layers() -> None:
        for number, layer in enumerate(horizon_layers(height_m, **VIEW)):  # type: ignore[arg-type]
            sampled[number] = layer.horizon_deg[rows, columns]

    def plainly() -> None:
        nonlocal slope
        slope = np.hstack(
            [
                plain_cells(in_cells, *run, *rays)
                for run in zip(*(at.reshape(PLAIN_RUNS, -1) for at in (rows, columns)), strict=True)
            ]
        )

    many = random.integers(0, side, (2, SINGLE_CELLS))
    directions = AZIMUTHS_DEG.size
    layers_ns = timed(by_layers, directions * side**2)
    plain_ns = timed(plainly, directions * rows.size)
    known = np.isfinite(slope)
    assert np.array_equal(known, np.isfinite(sampled))
    return Measured(
        ground,
        side,
        layers_ns,
        timed(lambda: sky_openness(height_m, mask_deg=MASK_DEG, **VIEW), directions * side**2),  # type: ignore[arg-type]
        timed(lambda: horizons_at(height_m, *many, **VIEW), directions * SINGLE_CELLS),  # type: ignore[arg-type]
        plain_ns,
        timed(
            lambda: [
                horizon_deg(height_m, row=row, column=column, **VIEW)  # type: ignore[arg-type]
                for row, column in zip(rows[:NUMPY_CELLS], columns[:NUMPY_CELLS], strict=True)
            ],
            directions * NUMPY_CELLS,
        ),
        float(np.abs(np.degrees(np.arctan(slope)) - sampled)[known].max()),
    )


def test_1001_cells_a_side_in_72_directions_beside_the_plain_way(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUMBA_NUM_THREADS", "1")
    for _ in range(3):  # other work on the machine slows some rounds
        measured = measure("pit", 1001)
        print(f"{HEADER}\n{measured.line()}")
        assert measured.worst_deg < 0.001
        above_mask = measured.plain_ns / measured.above_mask_ns
        if measured.plain_ns >= LEAST_SPEEDUP * measured.layers_ns and above_mask >= LEAST_SPEEDUP_ABOVE_MASK:
            break
    assert measured.plain_ns >= LEAST_SPEEDUP * measured.layers_ns
    assert above_mask >= LEAST_SPEEDUP_ABOVE_MASK


@pytest.mark.skipif(not FULL, reason="set LINKPLAN_BENCHMARK=full")
@pytest.mark.parametrize("ground", GROUND)
def test_cost_a_cell_grows_less_than_the_map(ground: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUMBA_NUM_THREADS", "1")
    measured = [measure(ground, side) for side in (500, 1001, 2000)]
    print("\n".join([HEADER, *(one.line() for one in measured)]))
    assert all(one.worst_deg < 0.001 for one in measured)
    assert measured[-1].above_mask_ns < HIGHEST_GROWTH * measured[0].above_mask_ns
    if ground != "white":  # where no two neighbours are alike little can be passed over
        assert measured[-1].layers_ns < HIGHEST_GROWTH * measured[0].layers_ns
