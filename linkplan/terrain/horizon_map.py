"""How much sky does the ground leave open everywhere on the job? The horizons of all cells of a grid.

No approximation: each cell has the horizon that `horizon_deg` gives it. All cells share a ray's steps, and
ground that cannot stand above what a cell sees already is passed over (`horizon_kernels`). Parallel lines
across the grid, each with a convex hull of what it has passed, were tried: half the time, but they run beside
most cells' centres, and cells at the foot of a wall came out up to 28 degrees wrong.
"""

from __future__ import annotations

import math
import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed, wait
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import PlaceError, RangeError
from linkplan.ranges import require_range
from linkplan.terrain.grid import BoolArray, FloatArray
from linkplan.terrain.horizon import EFFECTIVE_EARTH_RADIUS_M, direction_weights
from linkplan.terrain.horizon_field import View, view_of
from linkplan.terrain.horizon_kernels import IntArray, add_sky, look_from
from linkplan.terrain.horizon_rays import Ray

SingleArray = NDArray[np.float32]
Progress = Callable[[float], None] | None
Piece = Callable[[threading.Event], None]

CELLS_AT_ONCE = 4096
"""Single cells looked from in one go: some 3 ms, or a few times that on a large grid."""


@dataclass(frozen=True)
class HorizonLayer:
    """The horizon of all cells in one direction; arrays (rows looked from, columns looked from)."""

    azimuth_deg: float
    horizon_deg: SingleArray
    """Elevation angle of the highest known ground; NaN where no eye is, or no ground is known."""
    known_to_m: SingleArray
    """The ground is known up to here, as in `HorizonProfile`; 0 where no eye is."""


@dataclass(frozen=True)
class HorizonMap:
    """As `HorizonLayer`, in all directions: arrays (azimuths, rows looked from, columns looked from)."""

    azimuths_deg: FloatArray
    horizon_deg: SingleArray
    known_to_m: SingleArray


@dataclass(frozen=True)
class CellHorizons:
    """As `HorizonLayer`, of some cells: arrays (cells, azimuths)."""

    azimuths_deg: FloatArray
    horizon_deg: SingleArray
    known_to_m: SingleArray


@dataclass(frozen=True)
class SkyOpenness:
    """The sky over all cells looked from, 0 to 1; arrays (rows looked from, columns looked from).

    NaN where a cell is not wanted or its own ground is unknown.
    """

    open_share: SingleArray
    """Of the solid angle above the mask, as `open_sky_share`: unknown directions count as closed."""
    blocked_share: SingleArray
    """Of the directions: known to be blocked, as `blocked_share`."""
    unknown_share: SingleArray
    """Of the directions: may or may not be blocked, as `unknown_share`."""


def horizon_layers(
    height_m: ArrayLike,
    *,
    cell_size_m: float,
    eye_height_m: float,
    azimuths_deg: ArrayLike,
    effective_earth_radius_m: float = EFFECTIVE_EARTH_RADIUS_M,
    stride: int = 1,
    wanted: BoolArray | None = None,
    lowest_deg: ArrayLike = -90.0,
    progress: Progress = None,
) -> Iterator[HorizonLayer]:
    """The horizon of every cell, one azimuth at a time: no more than one layer is held.

    `height_m` (rows, columns), row 0 northernmost, NaN unknown. Eyes stand `eye_height_m` above the ground
    in the middle of every `stride`-th cell of every `stride`-th row, from cell (0, 0) on, where `wanted` (of
    that shape) is true. `azimuths_deg` ascend from 0 to below 360, clockwise from the grid's north.
    Horizons lower than `lowest_deg` (-90 to 89; one, or one an azimuth) are given as this: what need not be
    told apart costs little. All else is as `horizon_deg` has it, within 0.001 degrees.

    `progress` gets the share that is done; an interrupt is answered within a second. RangeError for values
    that make no sense.
    """
    view = view_of(
        height_m, cell_size_m=cell_size_m, eye_height_m=eye_height_m, azimuths_deg=azimuths_deg,
        effective_earth_radius_m=effective_earth_radius_m, stride=stride, wanted=wanted,
    )  # fmt: skip
    lowest = np.broadcast_to(np.asarray(lowest_deg, dtype=np.float64), view.azimuths_deg.shape)
    for value in np.unique(lowest):
        require_range("lowest_deg", float(value), -90.0, 89.0, unit="degrees")
    return _layers(view, lowest, progress)


def horizon_map(
    height_m: ArrayLike,
    *,
    cell_size_m: float,
    eye_height_m: float,
    azimuths_deg: ArrayLike,
    effective_earth_radius_m: float = EFFECTIVE_EARTH_RADIUS_M,
    stride: int = 1,
    wanted: BoolArray | None = None,
    lowest_deg: ArrayLike = -90.0,
    progress: Progress = None,
) -> HorizonMap:
    """The layers of `horizon_layers` together: 8 bytes for each azimuth and cell looked from."""
    layers = horizon_layers(
        height_m, cell_size_m=cell_size_m, eye_height_m=eye_height_m, azimuths_deg=azimuths_deg,
        effective_earth_radius_m=effective_earth_radius_m, stride=stride, wanted=wanted,
        lowest_deg=lowest_deg, progress=progress,
    )  # fmt: skip
    azimuths = np.asarray(azimuths_deg, dtype=np.float64)
    shape = azimuths.size, *(-(-lines // stride) for lines in np.shape(height_m))
    horizon, known_to = np.empty(shape, dtype=np.float32), np.empty(shape, dtype=np.float32)
    for number, layer in enumerate(layers):
        horizon[number] = layer.horizon_deg
        known_to[number] = layer.known_to_m
    return HorizonMap(azimuths, horizon, known_to)


def sky_openness(
    height_m: ArrayLike,
    *,
    cell_size_m: float,
    eye_height_m: float,
    azimuths_deg: ArrayLike,
    mask_deg: float,
    reach_m: float = 0.0,
    effective_earth_radius_m: float = EFFECTIVE_EARTH_RADIUS_M,
    stride: int = 1,
    wanted: BoolArray | None = None,
    progress: Progress = None,
) -> SkyOpenness:
    """Shares of open sky and of blocked and unknown directions above an elevation mask, for every cell.

    As `open_sky_share`, `blocked_share` and `unknown_share` give them for one point: `mask_deg` 0 to 89;
    each direction counts for half the way to both its neighbours; it is unknown where the ground is not known
    to `reach_m` (0 or more). The other arguments are those of `horizon_layers`. No layer is kept.
    """
    require_range("mask_deg", mask_deg, 0.0, 89.0, unit="degrees")
    require_range("reach_m", reach_m, 0.0, 1e7, unit="m")
    view = view_of(
        height_m, cell_size_m=cell_size_m, eye_height_m=eye_height_m, azimuths_deg=azimuths_deg,
        effective_earth_radius_m=effective_earth_radius_m, stride=stride, wanted=wanted,
    )  # fmt: skip
    rays = [view.ray(azimuth) for azimuth in view.azimuths_deg]
    weights = direction_weights(view.azimuths_deg)
    mask_slope = view.real(math.tan(math.radians(mask_deg)))
    open_above = view.real(1.0 - math.sin(math.radians(mask_deg)))
    shares = np.zeros((3, *view.shape), dtype=np.float32)

    def band(first: int, stop: int, stopped: threading.Event) -> None:
        found = np.zeros((3, (stop - first) * view.shape[1]), dtype=view.eye_m.dtype)
        for ray, weight in zip(rays, weights, strict=True):
            if stopped.is_set():
                return
            needed = ray.steps_to(reach_m)
            slope = view.slopes(ray, mask_slope, first, stop)
            add_sky(
                slope, ray.steps.in_rows[first:stop] >= needed, ray.steps.in_columns >= needed,
                view.first_unknown(ray, first, stop, needed), needed,
                view.real(weight), mask_slope, open_above, found,
            )  # fmt: skip
        shares[:, first:stop] = found.reshape(3, stop - first, view.shape[1])

    band(0, 0, threading.Event())  # compiles in this thread, where an interrupt is heard
    with ThreadPoolExecutor(_worker_count()) as pool:
        _run(pool, [partial(band, *rows) for rows in view.bands()], progress)
    np.clip(shares, 0.0, 1.0, out=shares)  # single precision: directions may add up to a little more
    shares[:, ~np.isfinite(view.eye_m)] = np.nan
    return SkyOpenness(*shares)


def horizons_at(
    height_m: ArrayLike,
    rows: ArrayLike,
    columns: ArrayLike,
    *,
    cell_size_m: float,
    eye_height_m: float,
    azimuths_deg: ArrayLike,
    effective_earth_radius_m: float = EFFECTIVE_EARTH_RADIUS_M,
    progress: Progress = None,
) -> CellHorizons:
    """The horizons of some cells, whole rows and columns (cells,), in all directions.

    The other arguments are those of `horizon_layers`, which takes a tenth of the time a cell where the cells
    are a whole lattice. PlaceError for a cell outside the grid.
    """
    view = view_of(
        height_m, cell_size_m=cell_size_m, eye_height_m=eye_height_m, azimuths_deg=azimuths_deg,
        effective_earth_radius_m=effective_earth_radius_m,
    )  # fmt: skip
    at_row, at_column = _cells(rows, columns, view.shape)
    order = np.lexsort((at_column, at_row))  # neighbours look at the same ground while it is in the cache
    at_row, at_column = at_row[order], at_column[order]
    eye = view.eye_m[at_row, at_column]
    shape = view.azimuths_deg.size, eye.size
    horizon, known_to = np.empty(shape, dtype=np.float32), np.empty(shape, dtype=np.float32)

    def some(number: int, ray: Ray, part: slice) -> None:
        slope, unknown = np.empty_like(eye[part]), np.empty(eye[part].shape, dtype=np.int32)
        look_from(view.field, ray.steps, ray.blocks, at_row[part], at_column[part], eye[part], slope, unknown)
        inside = np.minimum(ray.steps.in_rows[at_row[part]], ray.steps.in_columns[at_column[part]])
        horizon[number, part] = np.degrees(np.arctan(slope))
        known_to[number, part] = ray.far_m[np.minimum(inside, unknown)]

    def direction(number: int, stopped: threading.Event) -> None:
        ray = view.ray(view.azimuths_deg[number])
        for first in range(0, eye.size, CELLS_AT_ONCE):
            if not stopped.is_set():
                some(number, ray, slice(first, first + CELLS_AT_ONCE))

    some(0, view.ray(0.0), slice(0, 0))  # compiles in this thread, where an interrupt is heard
    with ThreadPoolExecutor(_worker_count()) as pool:
        _run(pool, [partial(direction, number) for number in range(shape[0])], progress)
    known_to[:, ~np.isfinite(eye)] = 0.0
    as_given = np.argsort(order)
    return CellHorizons(view.azimuths_deg, horizon.T[as_given], known_to.T[as_given])


def _layers(view: View, lowest_deg: FloatArray, progress: Progress) -> Iterator[HorizonLayer]:
    """One azimuth after the other, each on all cores."""
    nothing = np.empty((0, view.shape[1]), dtype=np.float32)
    # compiles in this thread, where an interrupt is heard
    _fill(view, view.ray(0.0), 0.0, nothing, nothing, 0, 0, threading.Event())
    with ThreadPoolExecutor(_worker_count()) as pool:
        for number, azimuth in enumerate(view.azimuths_deg.tolist()):
            least = math.tan(math.radians(lowest_deg[number])) if lowest_deg[number] > -90.0 else -math.inf
            horizon, known_to = (np.empty(view.shape, dtype=np.float32) for _ in range(2))
            fill = partial(_fill, view, view.ray(azimuth), least, horizon, known_to)
            report = progress and partial(_share_of_all, progress, number, view.azimuths_deg.size)
            _run(pool, [partial(fill, *rows) for rows in view.bands()], report)
            yield HorizonLayer(azimuth, horizon, known_to)


def _fill(
    view: View,
    ray: Ray,
    least: float,
    horizon_deg: SingleArray,
    known_to_m: SingleArray,
    first: int,
    stop: int,
    _stopped: threading.Event,
) -> None:
    """Rows first..stop of a layer."""
    slope = view.slopes(ray, view.real(least), first, stop)
    horizon_deg[first:stop] = np.degrees(np.arctan(slope)).reshape(stop - first, view.shape[1])
    known_to_m[first:stop] = view.known_to_m(ray, first, stop)


def _share_of_all(progress: Callable[[float], None], number: int, count: int, share: float) -> None:
    progress((number + share) / count)


def _cells(rows: ArrayLike, columns: ArrayLike, shape: tuple[int, int]) -> tuple[IntArray, IntArray]:
    """Whole rows and columns that lie in the grid."""
    given = np.asarray(rows), np.asarray(columns)
    if given[0].ndim != 1 or given[0].shape != given[1].shape:
        raise RangeError(
            f"rows {given[0].shape} and columns {given[1].shape} must be two lists of one length"
        )
    if not all(np.issubdtype(lines.dtype, np.integer) or not lines.size for lines in given):
        raise RangeError("rows and columns must be whole numbers")
    outside = (given[0] < 0) | (given[0] >= shape[0]) | (given[1] < 0) | (given[1] >= shape[1])
    for first in np.flatnonzero(outside)[:1]:
        raise PlaceError(
            f"row {given[0][first]}, column {given[1][first]} lies outside a grid of {shape[0]} rows, "
            f"{shape[1]} columns"
        )
    return given[0].astype(np.int64), given[1].astype(np.int64)


def _worker_count() -> int:
    """Cores that this process may use, or fewer if NUMBA_NUM_THREADS says so."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    wanted = os.environ.get("NUMBA_NUM_THREADS", "")
    return min(cores, int(wanted)) if wanted.isdigit() and int(wanted) > 0 else cores


def _run(pool: ThreadPoolExecutor, pieces: list[Piece], progress: Progress) -> None:
    """Do all pieces of work; after an interrupt or an error those under way are told to stop."""
    stopped = threading.Event()
    futures = [pool.submit(piece, stopped) for piece in pieces]
    try:
        for done, future in enumerate(as_completed(futures), start=1):
            future.result()
            if progress is not None:
                progress(done / len(pieces))
    finally:
        stopped.set()
        for future in futures:
            future.cancel()
        wait(futures)
