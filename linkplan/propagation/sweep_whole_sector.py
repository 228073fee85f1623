"""The cells of a sector: which of them need more than diffraction, and how much.

Each cell goes through questions that cost ever more, and leaves at the first that settles it: is the ray
clear and the path short; do the horizons alone shut ducting and scatter out; what does the whole say.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from linkplan.propagation.sweep_numba import FloatArray, IntArray, SingleArray, inner, kernel
from linkplan.propagation.sweep_wanted import BoolArray
from linkplan.propagation.sweep_whole_ground import Frame
from linkplan.propagation.sweep_whole_loss import (
    CLEAR_DB,
    SEEN_BLEND,
    TOLERANCE_DB,
    Air,
    Seen,
    angle_blend,
    angle_mrad,
    at_distance,
    blend_and_least,
    duct_db,
    least_duct_db,
    least_duct_within_sight_db,
    log_beta0,
    log_path_factors,
    time_loss_db,
    with_ducting_db,
    with_scatter_db,
)
from linkplan.propagation.sweep_whole_path import (
    SHORT,
    Line,
    Ray,
    fill_tops,
    height_at,
    highest_over_line,
    horizon_from_base,
    horizon_from_rover,
    least_clear,
    radial_sums,
    slope_to,
    smooth_ends,
    steps_hidden_at_base,
    steps_hidden_at_rover,
)

SHORTEST_KM = 0.25
SECTOR_RADIALS = 16
"""Four cells wide at the far side: narrow, so that the highest cell of a step is near the path's own."""
KM_PER_DEGREE = 6371.0 * math.pi / 180.0
SCATTER_MARGIN_DB = 15.0
"""Scatter that lies this far above the rest takes off less than 0.005 dB."""


class Path(NamedTuple):
    """One cell's path; what its first question already had to know."""

    i: int
    """Steps outwards."""
    j: int
    """Cells across."""
    distance_km: float
    place: float
    """In the table over distance."""
    rover_ground_m: float
    free_db: float
    """Free space less F: what the slope of the path adds."""


class Rays(NamedTuple):
    """The antennas of a path and the slope at which each would see the other, m per step."""

    base: Ray
    rover: Ray
    sight: float
    sight_back: float


@inner
def is_settled(
    air: Air, distance_km: float, rise: float, diffraction_db: float, blend: float, least_db: float
) -> bool:
    """Whether the loss itself tells that the antennas see each other and ducting changes nothing.

    Bounds: theta of a clear path from the curvature of atan; 1/(1 - x) >= exp x; and in Lba the part
    that a steep ray can lose, gamma_d - 0.264 f^(1/3) for each mrad. `rise`: slope of the path.
    """
    theta = 1e3 * distance_km / air.radius_km * rise * rise
    growth = 16.0 * theta
    if diffraction_db >= CLEAR_DB or growth > 0.9:
        return False
    lost = (air.duct_per_mrad - air.shield_per_mrad) * 1e3 * abs(rise)
    floor = max(air.duct_db + least_db - lost, 0.0)
    return (diffraction_db - floor) * blend * SEEN_BLEND <= TOLERANCE_DB * (1.0 - growth)


@inner
def is_shut(
    height: SingleArray,
    tops: SingleArray,
    line: Line,
    air: Air,
    rays: Rays,
    path: Path,
    diffraction_db: float,
    blend: float,
    least_db: float,
    sample_t: int,
    sample_r: int,
) -> bool:
    """Whether one look towards each horizon and at the steps beside the antennas tells that no other way
    counts: neither ducting, nor scatter.

    The horizons are at least as high as the two samples, and lie beyond the steps that are hidden.
    """
    i, distance_km = path.i, path.distance_km
    per_step = i / (1e3 * distance_km)
    slope_t = slope_to(height, line, rays.base, sample_t, sample_t)
    beyond = slope_t > rays.sight
    slope_t = max(slope_t, rays.sight)
    slope_r = slope_to(height, line, rays.rover, sample_r, i - sample_r)
    theta_t, theta_r = angle_mrad(slope_t * per_step), angle_mrad(slope_r * per_step)
    other = diffraction_db + path.free_db
    theta = 1e3 * distance_km / air.radius_km + theta_t + theta_r if beyond else 0.0
    if air.scatter_db + 0.573 * theta < other + SCATTER_MARGIN_DB:
        return False
    enough = other - TOLERANCE_DB / blend
    if not beyond:
        back = angle_mrad(rays.sight_back * per_step)
        if least_duct_within_sight_db(air, distance_km, theta_t, back, least_db) < enough:
            return False
    step_km = distance_km / i
    # a sample that is the horizon lies on its own ray, not above it, and its block may count as hidden
    reach_t = step_km * min(1 + steps_hidden_at_base(tops, line, rays.base, slope_t), sample_t)
    reach_r = step_km * min(1 + steps_hidden_at_rover(tops, line, rays.rover, slope_r), i - sample_r)
    return least_duct_db(air, distance_km, theta_t, theta_r, reach_t, reach_r, least_db) >= enough


@inner
def rays_of(air: Air, path: Path) -> Rays:
    """The two antennas of a path."""
    i = path.i
    step_km = path.distance_km / i
    curve = 500.0 / air.radius_km * step_km * step_km
    rover_m = path.rover_ground_m + air.rx_height_m
    rise = (rover_m - air.tx_height_m) / i
    return Rays(
        Ray(air.tx_height_m, curve, -0.5 / curve),
        Ray(rover_m, curve, -0.5 / curve),
        rise - curve * i,
        -rise - curve * i,
    )


@inner
def horizons(
    height: SingleArray,
    tops: SingleArray,
    line: Line,
    rays: Rays,
    per_step: float,
    sample_t: int,
    sample_r: int,
) -> Seen:
    """Horizons over the bare ground. [P.1812-8, Attachment 1, sections 5.1 to 5.5]

    sample_t, sample_r: where they may well be. In line of sight both samples are the middle of the path,
    which is only a start: see `least_clear`.
    """
    i = line.last
    best, found_t = horizon_from_base(height, tops, line, rays.base, rays.sight, sample_t)
    theta_t = angle_mrad(best * per_step)
    if found_t == 0:
        return Seen(False, theta_t, angle_mrad(rays.sight_back * per_step), i // 2, i // 2)
    best, found_r = horizon_from_rover(height, tops, line, rays.rover, sample_r, found_t)
    return Seen(True, theta_t, angle_mrad(best * per_step), found_t, found_r)


@inner
def smooth_surface(sums: FloatArray, frame: Frame, first: int, path: Path) -> tuple[float, float]:
    """Heights of the smooth surface of ducting at base and rover, m. [Attachment 1, section 5.6]"""
    i, ground = path.i, path.rover_ground_m
    turn = path.j * frame.reach
    k = turn // i
    share = (turn - k * i) / i
    k -= first
    plain, weighted = sums[k, 0, i], sums[k, 1, i]
    if share > 0.0:
        plain += share * (sums[k + 1, 0, i] - plain)
        weighted += share * (sums[k + 1, 1, i] - weighted)
    smooth_t, smooth_r = smooth_ends(i, plain, weighted, ground)
    return min(smooth_t, 0.0), min(smooth_r, ground)


@inner
def exact_duct_db(
    height: SingleArray,
    tops: SingleArray,
    table: FloatArray,
    sums: FloatArray,
    frame: Frame,
    first: int,
    air: Air,
    line: Line,
    rays: Rays,
    path: Path,
    seen: Seen,
) -> float:
    """Lba less F of a path, dB. [P.1812-8, section 4.5 and Attachment 1, section 5.6.4]"""
    if sums[0, 0, 0] != 0.0:  # not yet filled
        radial_sums(height, frame, first, min(first + sums.shape[0] - 1, frame.reach), frame.far, sums)
    i = path.i
    smooth_t, smooth_r = smooth_surface(sums, frame, first, path)
    slope = (smooth_r - smooth_t) / i
    if seen.trans_horizon:
        low, high = min(seen.sample_t, seen.sample_r), max(seen.sample_t, seen.sample_r)
        rough = highest_over_line(height, tops, line, low, high, smooth_t, slope, 10.0)
    else:
        rough = highest_over_line(height, tops, line, 1, i - 1, smooth_t, slope, 10.0)
        if rough > 10.0 or seen.theta_t > 0.0 or seen.theta_r > 0.0:
            # only then does it matter where the horizon of both is
            clear = least_clear(height, line, air.tx_height_m, rays.rover.antenna_m, rays.base.curve)
            seen = Seen(False, seen.theta_t, seen.theta_r, clear, clear)
            rough = height_at(height, line, clear) - smooth_t - slope * clear
    here = at_distance(table, path.place)
    north = frame.north_outwards * i + frame.north_across * path.j
    latitude_deg = air.latitude_deg + 0.5 * air.cell_km * north / KM_PER_DEGREE
    log_beta = log_beta0(here, latitude_deg) + log_path_factors(
        air,
        here,
        path.distance_km,
        air.tx_height_m - smooth_t,
        path.rover_ground_m + air.rx_height_m - smooth_r,
        rough,
        path.distance_km * (seen.sample_r - seen.sample_t) / i,
    )
    time_loss = time_loss_db(path.distance_km, log_beta, here.gamma_power)
    return duct_db(air, path.distance_km, path.distance_km / i, i, seen, time_loss)


@inner
def whole_loss(
    height: SingleArray,
    tops: SingleArray,
    table: FloatArray,
    sums: FloatArray,
    frame: Frame,
    first: int,
    air: Air,
    path: Path,
    diffraction_db: float,
    blend: float,
    least_db: float,
    near: int,
    far: int,
) -> tuple[float, int, int]:
    """Loss beside free space of a path that its diffraction does not settle, dB; and its horizons.

    `blend` 1 - Fk and `least_db` from the table. Losses are counted from F here.
    """
    i = path.i
    short = frame.last + 1
    line = Line(frame.centre, path.j / i, i, short, short + frame.last // SHORT + 1)
    rays = rays_of(air, path)
    sample_t = min(near, i - 1)
    sample_r = i - min(far, i - 1)
    if i >= 2 * SHORT and is_shut(
        height, tops, line, air, rays, path, diffraction_db, blend, least_db, sample_t, sample_r
    ):
        return diffraction_db, near, far
    step_km = path.distance_km / i
    seen = horizons(height, tops, line, rays, 1e-3 / step_km, sample_t, sample_r)
    theta = 1e3 * path.distance_km / air.radius_km + seen.theta_t + seen.theta_r
    blend *= angle_blend(theta)
    other = diffraction_db + path.free_db
    if diffraction_db * blend > TOLERANCE_DB:
        if seen.trans_horizon:
            floor = duct_db(air, path.distance_km, step_km, i, seen, least_db)
        else:
            floor = least_duct_within_sight_db(air, path.distance_km, seen.theta_t, seen.theta_r, least_db)
        if (other - floor) * blend > TOLERANCE_DB:
            duct = exact_duct_db(height, tops, table, sums, frame, first, air, line, rays, path, seen)
            other = with_ducting_db(other, duct, path.free_db, blend)
    scatter = air.scatter_db + 0.573 * theta
    if scatter < other + SCATTER_MARGIN_DB:
        other = with_scatter_db(other, scatter)
    elif other == diffraction_db + path.free_db:  # as if it had been shut: the hints decide no digit
        return diffraction_db, seen.sample_t, i - seen.sample_r
    return max(other - path.free_db, 0.0), seen.sample_t, i - seen.sample_r


@inner
def cells_at(frame: Frame, begin: int, end: int, i: int) -> tuple[int, int]:
    """First and last cell across, i steps outwards, from radial `begin` up to `end`, exclusive."""
    edge = i - 1 + frame.diagonal
    low = max(-((-i * begin) // frame.reach), frame.low, -edge)
    return low, min(-((-i * end) // frame.reach) - 1, frame.high, edge)


@inner
def last_wanted(wanted: BoolArray, frame: Frame, begin: int, end: int, start: int) -> int:
    """Steps to the farthest wanted cell of a sector, or 0."""
    for i in range(frame.far, frame.near - 1, -1):
        low, high = cells_at(frame, begin, end, i)
        for j in range(low, high + 1):
            if wanted[start + i * frame.outwards + j * frame.across]:
                return i
    return 0


@inner
def pick(wanted: BoolArray, low: int, high: int, at: int, across: int, cells: IntArray) -> int:
    """The wanted ones of cells low..high into `cells`, and their count.

    A branch in the loop over all that a cell needs would cost it 40 ns.
    """
    count = 0
    for j in range(low, high + 1):
        if wanted.size == 0 or wanted[at + j * across]:
            cells[count] = j
            count += 1
    return count


@kernel
def sectors_loss(
    height: SingleArray,
    table: FloatArray,
    sums: FloatArray,
    tops: SingleArray,
    cells: IntArray,
    frame: Frame,
    air: Air,
    first: int,
    stop: int,
    start: int,
    wanted: BoolArray,
    diffraction_db: SingleArray,
    loss_db: SingleArray,
) -> None:
    """Fill the wanted cells from radial `first` up to `stop`, exclusive, sector by sector.

    `start`: the base's place in the flat arrays of diffraction, loss and wanted, which is empty where all
    cells are. `sums` (SECTOR_RADIALS + 1, 2, far + 1), `tops` and `cells` (SECTOR_RADIALS,) are scratch.
    """
    some = wanted.size > 0
    for begin in range(first, stop, SECTOR_RADIALS):
        end = min(begin + SECTOR_RADIALS, stop)
        final = last_wanted(wanted, frame, begin, end, start) if some else frame.far
        if final == 0:
            continue
        sums[0, 0, 0] = 1.0
        fill_tops(height, frame, begin, end, tops)
        near = far = frame.last
        for i in range(frame.near, final + 1):
            low, high = cells_at(frame, begin, end, i)
            count = pick(wanted, low, high, start + i * frame.outwards, frame.across, cells)
            for n in range(count):
                j = cells[n]
                at = start + i * frame.outwards + j * frame.across
                beside = diffraction_db[at]
                distance_km = air.cell_km * math.sqrt(i * i + j * j)
                ground = height[i, frame.centre + j]
                rise = (ground + air.rx_height_m - air.tx_height_m) / (1e3 * distance_km)
                steep = 1.0 + rise * rise
                if distance_km >= SHORTEST_KM and i > 1 and beside > 0.0:
                    place = distance_km * air.table_per_km
                    blend, least_db = blend_and_least(table, place)
                    if not is_settled(air, distance_km, rise, beside, blend, least_db):
                        path = Path(i, j, distance_km, place, ground, 10.0 * math.log10(steep))
                        beside, near, far = whole_loss(
                            height, tops, table, sums, frame, begin, air,
                            path, beside, blend, least_db, near, far,
                        )  # fmt: skip
                slant_db = 10.0 * math.log10(distance_km * distance_km * steep)
                loss_db[at] = air.free_db + slant_db + beside
