"""How much sky does the ground leave open? The terrain's horizon around one point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkplan.errors import PlaceError, RangeError
from linkplan.ranges import require_range
from linkplan.tables.p1812_8 import EARTH_RADIUS_KM
from linkplan.terrain.grid import FloatArray
from linkplan.terrain.profile import ON_A_LINE, bilinear

IntArray = NDArray[np.intp]

REFRACTION_COEFFICIENT = 0.13
"""k of optical refraction along the ground, usual in geodesy [common practice].

The ray from a far ridge is bent by k/R, which makes the earth look larger by 1/(1 - k). Microwaves bend
somewhat more (k = 0.25 is the 4/3 earth): 0.01 degrees of difference for a ridge 20 km away. The refraction
of the whole atmosphere lifts a satellite further, some 0.1 degrees at 10 [from memory]: a satellite whose
direction without any air stands above this horizon is above it."""

EFFECTIVE_EARTH_RADIUS_M = 1000.0 * EARTH_RADIUS_KM / (1.0 - REFRACTION_COEFFICIENT)

BLOCK_AZIMUTHS = 24
"""Rays looked along at once: what they touch stays in the processor's cache."""


@dataclass(frozen=True)
class HorizonProfile:
    """The horizon of one point. All arrays (n,), one value an azimuth; NaN where no ground is known.

    Each value is that of the line in this very direction: what stands between two azimuths is not seen.
    """

    azimuths_deg: FloatArray
    """Clockwise from the grid's north, ascending, 0 to below 360."""
    horizon_deg: FloatArray
    """Elevation angle of the highest known ground, -90 to 90; the true horizon may be higher where
    `known_to_m` ends short."""
    distance_m: FloatArray
    """To the point that makes the horizon; NaN too where an obstruction given by hand makes it."""
    known_to_m: FloatArray
    """The ground is known up to here: to the last sample before the first unknown cell or the grid's edge."""
    from_m: FloatArray | float = 0.0
    """Ground nearer than this was not looked at."""


@dataclass(frozen=True)
class _View:
    """What both families of lines are looked at with."""

    eye_m: float
    """On the grid's heights."""
    cell_m: float
    radius_m: float
    beyond: FloatArray
    """(n,): crossings nearer than so many cells are passed over."""


@dataclass(frozen=True)
class _Rays:
    """Where rays cross the lines of one family (rows or columns), counted in cells along the ray.

    All (n,): crossing i of 0 .. count - 1 lies `pace` (`offset` + i) from the point.
    """

    pace: FloatArray
    offset: FloatArray
    count: IntArray

    def last_before(self, cells: FloatArray) -> FloatArray:
        """Distance of the last crossing nearer than so many cells, 0 where there is none."""
        number = np.ceil(np.minimum(cells / self.pace - self.offset, self.count) - ON_A_LINE)
        number = np.clip(number, 0, self.count)
        return np.asarray(np.where(number > 0, (self.offset + number - 1) * self.pace, 0.0))


@dataclass(frozen=True)
class _Seen:
    """What rays meet where they cross one family of lines; distances in cells."""

    slope: FloatArray
    """Steepest from the eye, the earth's curve taken off; minus infinity where nothing is known."""
    at: FloatArray
    unknown: FloatArray
    """Distance of the first crossing whose ground is unknown, or infinity."""
    rays: _Rays


def horizon_deg(
    height_m: FloatArray,
    *,
    cell_size_m: float,
    row: float,
    column: float,
    eye_height_m: float,
    azimuths_deg: ArrayLike,
    effective_earth_radius_m: float = EFFECTIVE_EARTH_RADIUS_M,
    ground_m: float | None = None,
    beyond_m: ArrayLike = 0.0,
) -> HorizonProfile:
    """Elevation angle of the horizon of one point of a grid, at azimuths clockwise from the grid's north.

    `height_m` (rows, columns), row 0 northernmost, NaN unknown; the point at (row, column), whole at a
    cell's centre. A ray is sampled wherever it crosses the lines between cell centres, along rows and
    along columns, linear between the two neighbours there; a sample is unknown where a neighbour that
    counts in it is. Elevation = arctan((h - eye)/d - d/2R): within 0.005 degrees of the sphere for ground
    up to 1 km above or below the eye, distances taken at the eye's level.

    To look at a coarser grid of wider reach, give `ground_m`, the ground at the point as the finer grid has
    it, and `beyond_m` (one or (n,)), the finer profile's `known_to_m`; then join both by `combined`. A
    point on unknown ground has an unknown horizon. PlaceError outside the grid, RangeError for values that
    make no sense.
    """
    require_range("cell_size_m", cell_size_m, 1e-3, 1e5, unit="m")
    require_range("eye_height_m", eye_height_m, 0.0, 1e4, unit="m")
    require_range("effective_earth_radius_m", effective_earth_radius_m, 1e6, 1e15, unit="m")
    heights = np.asarray(height_m, dtype=np.float64)
    azimuths = checked_azimuths(azimuths_deg)
    beyond = np.broadcast_to(np.asarray(beyond_m, dtype=np.float64), azimuths.shape)
    rows, columns = heights.shape
    if not (0.0 <= row <= rows - 1 and 0.0 <= column <= columns - 1):
        raise PlaceError(
            f"row {row:g}, column {column:g} lies outside a grid of {rows} rows, {columns} columns"
        )
    row, column = _whole_if_near(row), _whole_if_near(column)
    if ground_m is None:
        ground_m = float(bilinear(heights, np.array([row]), np.array([column]))[0])
    if not np.isfinite(ground_m):
        nothing = np.full(azimuths.shape, np.nan)
        return HorizonProfile(azimuths, nothing, nothing, np.zeros(azimuths.shape), beyond)
    angle = np.radians(azimuths)
    down, right = _clean(-np.cos(angle)), _clean(np.sin(angle))
    view = _View(ground_m + eye_height_m, cell_size_m, effective_earth_radius_m, beyond / cell_size_m)
    by_row = _look(heights, row, column, down, right, view)
    by_column = _look(heights.T, column, row, right, down, view)
    slope = np.maximum(by_row.slope, by_column.slope)
    known = np.isfinite(slope)
    at = np.where(by_row.slope >= by_column.slope, by_row.at, by_column.at)
    unknown = np.minimum(by_row.unknown, by_column.unknown)
    known_to = np.maximum(by_row.rays.last_before(unknown), by_column.rays.last_before(unknown))
    return HorizonProfile(
        azimuths,
        np.where(known, np.degrees(np.arctan(slope)), np.nan),
        np.where(known, at * cell_size_m, np.nan),
        known_to * cell_size_m,
        beyond,
    )


def combined(near: HorizonProfile, far: HorizonProfile) -> HorizonProfile:
    """The greater of two horizons of one point: of a fine grid, and of a coarser one of wider reach.

    The ground is known as far as either knows it, the far one only where it begins no farther out than the
    near one ends. RangeError unless both have the same azimuths.
    """
    if not np.array_equal(near.azimuths_deg, far.azimuths_deg):
        raise RangeError("two horizons can be combined only at the same azimuths")
    from_far = (far.horizon_deg > near.horizon_deg) | np.isnan(near.horizon_deg)
    joined = far.from_m <= near.known_to_m + 1e-6
    return HorizonProfile(
        near.azimuths_deg,
        np.where(from_far, far.horizon_deg, near.horizon_deg),
        np.where(from_far, far.distance_m, near.distance_m),
        np.where(joined, np.maximum(near.known_to_m, far.known_to_m), near.known_to_m),
        near.from_m,
    )


def with_obstructions(
    horizon: HorizonProfile, azimuths_deg: Sequence[float], elevations_deg: Sequence[float]
) -> HorizonProfile:
    """The horizon with obstructions that somebody saw or measured at the point.

    Pairs in ascending azimuth, 0 to 360 degrees, elevation -90 to 90; linear in between and across north;
    two pairs of the same azimuth are a step, and the higher counts there. One pair stands all around. What
    is narrower than the horizon's own azimuths lie apart can fall between them. `known_to_m` stays: that
    something stands there does not say that nothing higher stands behind it. RangeError for pairs that do
    not serve, counted from 1.
    """
    if len(azimuths_deg) != len(elevations_deg) or not len(azimuths_deg):
        raise RangeError("obstructions need pairs of azimuth and elevation, at least one")
    for number, (azimuth, elevation) in enumerate(zip(azimuths_deg, elevations_deg, strict=True), start=1):
        require_range(f"azimuth of obstruction {number}", azimuth, 0.0, 360.0, unit="degrees")
        require_range(f"elevation of obstruction {number}", elevation, -90.0, 90.0, unit="degrees")
        if number > 1 and azimuth < azimuths_deg[number - 2]:
            raise RangeError(f"azimuth of obstruction {number} = {azimuth:g} degrees does not ascend")
    azimuths = np.asarray(azimuths_deg, dtype=np.float64)
    once = np.asarray(elevations_deg, dtype=np.float64)
    around = np.concatenate([azimuths - 360.0, azimuths, azimuths + 360.0])
    elevations = np.concatenate([once, once, once])
    standing = np.interp(horizon.azimuths_deg, around, elevations)
    for number, azimuth in enumerate(horizon.azimuths_deg):
        here = elevations[around == azimuth]
        if here.size:
            standing[number] = here.max()
    higher = (standing > horizon.horizon_deg) | np.isnan(horizon.horizon_deg)
    return replace(
        horizon,
        horizon_deg=np.where(higher, standing, horizon.horizon_deg),
        distance_m=np.where(higher, np.nan, horizon.distance_m),
    )


def blocked_share(horizon: HorizonProfile, mask_deg: float) -> float:
    """Share of the directions whose horizon is known to stand above the elevation mask, 0 to 1.

    A direction counts for half the way to both its neighbours. The other directions are not thereby open:
    see `unknown_share`. `mask_deg` 0 to 89.
    """
    require_range("mask_deg", mask_deg, 0.0, 89.0, unit="degrees")
    return float(direction_weights(horizon.azimuths_deg)[horizon.horizon_deg > mask_deg].sum())


def unknown_share(horizon: HorizonProfile, mask_deg: float, reach_m: float) -> float:
    """Share of the directions that may or may not be blocked, 0 to 1: no ground known that stands above the
    mask, and the ground not known to `reach_m` (0 or more)."""
    require_range("mask_deg", mask_deg, 0.0, 89.0, unit="degrees")
    may_be = ~(horizon.horizon_deg > mask_deg) & ~_known(horizon, reach_m)
    return float(direction_weights(horizon.azimuths_deg)[may_be].sum())


def open_sky_share(horizon: HorizonProfile, mask_deg: float, *, reach_m: float = 0.0) -> float:
    """Share of the sky's solid angle above the elevation mask that is open, 0 to 1.

    Integral over azimuth of (1 - sin max(horizon, mask)) / (1 - sin mask), each direction counting for half
    the way to both its neighbours. Directions where no ground is known, or not to `reach_m`, count as
    closed. `mask_deg` 0 to 89.
    """
    require_range("mask_deg", mask_deg, 0.0, 89.0, unit="degrees")
    known = _known(horizon, reach_m)
    lowest = np.radians(np.maximum(np.where(known, horizon.horizon_deg, 90.0), mask_deg))
    open_sky = (1.0 - np.sin(lowest)) / (1.0 - np.sin(np.radians(mask_deg)))
    return float(direction_weights(horizon.azimuths_deg) @ open_sky)


def _known(horizon: HorizonProfile, reach_m: float) -> NDArray[np.bool_]:
    """Whether the ground is known at all, and to a distance."""
    return np.asarray((horizon.known_to_m > 0.0) & (horizon.known_to_m >= reach_m))


def direction_weights(azimuths_deg: FloatArray) -> FloatArray:
    """Share of the circle that each azimuth stands for."""
    ahead = np.diff(azimuths_deg, append=azimuths_deg[0] + 360.0)
    return np.asarray((ahead + np.roll(ahead, 1)) / 720.0)


def checked_azimuths(azimuths_deg: ArrayLike) -> FloatArray:
    azimuths = np.asarray(azimuths_deg, dtype=np.float64)
    if azimuths.ndim != 1 or not azimuths.size:
        raise RangeError("azimuths_deg must be a list of at least one azimuth")
    if not (azimuths[0] >= 0.0 and azimuths[-1] < 360.0 and (np.diff(azimuths) > 0.0).all()):
        raise RangeError("azimuths_deg must ascend from 0 to below 360 degrees")
    return azimuths


def _whole_if_near(position: float) -> float:
    nearest = float(round(position))
    return nearest if abs(position - nearest) < ON_A_LINE else float(position)


def _clean(component: FloatArray) -> FloatArray:
    """A ray along a row or column, without the rounding of sine and cosine."""
    return np.where(np.abs(component) < 1e-12, 0.0, component)


def _look(
    height_m: FloatArray, line: float, beside: float, along: FloatArray, across: FloatArray, view: _View
) -> _Seen:
    """Look along rays from (line, beside) at every line they cross; `height_m` has lines first."""
    rays = _rays(height_m.shape, line, beside, along, across)
    slope, at = np.full(along.shape, -np.inf), np.full(along.shape, np.nan)
    unknown = np.full(along.shape, np.inf)
    crossing = np.flatnonzero(rays.count > 0)
    for start in range(0, crossing.size, BLOCK_AZIMUTHS):
        block = crossing[start : start + BLOCK_AZIMUTHS]
        count = rays.count[block]
        starts = np.cumsum(count) - count
        ray = np.repeat(block, count)
        step = np.arange(ray.size) - np.repeat(starts, count)
        far = (rays.offset[ray] + step) * rays.pace[ray]
        ground = _between(height_m, line + far * along[ray], beside + far * across[ray])
        looked_at = far > view.beyond[ray]
        missing = ~np.isfinite(ground)
        distance = far * view.cell_m
        rise = (ground - view.eye_m) / distance - distance / (2.0 * view.radius_m)
        rise[missing | ~looked_at] = -np.inf
        slope[block] = np.maximum.reduceat(rise, starts)
        # written from the far end: the nearest stays
        steepest = np.flatnonzero(rise == slope[ray])[::-1]
        at[ray[steepest]] = far[steepest]
        holes = np.flatnonzero(looked_at & missing)[::-1]
        unknown[ray[holes]] = far[holes]
    return _Seen(slope, at, unknown, rays)


def _between(values: FloatArray, line: FloatArray, beside: FloatArray) -> FloatArray:
    """Values on lines of cells (whole but for rounding), linear between the two neighbours beside."""
    at_line = np.rint(line).astype(np.intp)
    beside = np.clip(beside, 0, values.shape[1] - 1)
    nearest = np.rint(beside)
    beside = np.where(np.abs(beside - nearest) < ON_A_LINE, nearest, beside)
    left = np.floor(beside).astype(np.intp)
    share = beside - left
    here = values[at_line, left]
    # a neighbour without weight must not bring in its missing value
    return here + share * (values[at_line, left + (share > 0.0)] - here)


def _rays(shape: tuple[int, ...], line: float, beside: float, along: FloatArray, across: FloatArray) -> _Rays:
    """The crossings that lie in a grid of so many lines and cells in a line."""
    lines, length = shape
    pace = 1.0 / np.where(along == 0.0, 1.0, np.abs(along))
    to_side = np.where(across > 0.0, length - 1 - beside, beside)
    room = np.where(across == 0.0, np.inf, to_side / np.where(across == 0.0, 1.0, np.abs(across)))
    first = np.where(along > 0.0, np.floor(line) + 1.0, np.ceil(line) - 1.0)
    offset = np.abs(first - line)
    in_line = np.where(along > 0.0, lines - first, first + 1.0)
    inside = np.floor(np.minimum(room / pace - offset + ON_A_LINE, in_line)) + 1.0
    count = np.where(along == 0.0, 0.0, np.clip(np.minimum(inside, in_line), 0.0, None))
    return _Rays(pace, offset, count.astype(np.intp))
