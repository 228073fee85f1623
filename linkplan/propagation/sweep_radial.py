"""One radial of the map: nu and heights above the smooth earth at all its samples, in n log n.

A profile's maxima over all samples before the receiver need no loop when the receiver moves outwards:
slopes from the base are running maxima; slopes from the receiver are tangents to convex hulls; and the nu
of a line-of-sight path is decided by a sample whose slope was a new maximum when it came. Lengths along
the radial are counted in steps here: c and nu's factor are scaled once.

Source: ITU-R P.1812-8 (09/2025), section 4.3 and Attachment 1; the equations of `sweep_profile`.
"""

from __future__ import annotations

import math

from linkplan.propagation.sweep_final import NU_FLOOR, Link
from linkplan.propagation.sweep_hull import highest_over, push, tangent
from linkplan.propagation.sweep_numba import FloatArray, inner
from linkplan.propagation.sweep_wanted import BoolArray

RECORD_BLOCK = 16

ROUNDING = 1.0 + 2e-15
"""More than the rounding of a few products and a quotient."""


@inner
def known_length(ground: FloatArray, surface: FloatArray, last: int) -> int:
    """The last sample up to which a path from sample 0 meets nothing missing, or -1."""
    for i in range(last + 1):
        if not math.isfinite(ground[i]):
            return i - 1
        if i > 0 and not math.isfinite(surface[i]):
            return i
    return last


@inner
def radial_terms(
    ground: FloatArray,
    surface: FloatArray,
    last: int,
    reach: int,
    turn_a_step: int,
    some: bool,
    needed: BoolArray,
    step_km: float,
    link: Link,
    corners: FloatArray,
    work: FloatArray,
    terms: FloatArray,
) -> int:
    """nu, h_te, h_re and number of the samples 2..last that cells need, into terms[0..3]; their count.

    ground and surface (ground with clutter), (last + 1,), m over the ground at sample 0, nothing missing.
    The radial runs turn_a_step / reach cells across in a step: a cell needs a sample that lies less than one
    radial's spacing, i / reach, beside it. Where only `some` cells are wanted, `needed` (last + 1,) tells
    which samples they need. corners (2, last + 1) and work (4, last + 1) are scratch.
    """
    t = link.tx_height_m
    bulge = link.bulge * step_km * step_km
    nu_scale = link.nu_scale / step_km
    limit = NU_FLOOR * NU_FLOOR / nu_scale
    surface_at, ground_at = corners[0], corners[1]
    surface_hull, ground_hull, record_at, record_slope = work[0], work[1], work[2], work[3]
    surface_at[0] = ground_at[0] = 1.0
    surface_hull[0] = surface[1] - bulge
    ground_hull[0] = ground[1]
    surfaces = grounds = records = min(last, 1)  # of type int64: a literal 1 compiles all callees twice
    steepest = surface[1] - bulge - t
    bare_steepest = ground[1] - t
    record_at[0] = 1
    record_slope[0] = steepest
    hint = records - 1
    total = ground[1]
    moment = ground[1]
    turn = turn_a_step
    count = 0
    for i in range(2, last + 1):
        here = ground[i]
        far = float(i)
        inverse = 1.0 / far
        curve = bulge * far * far
        turn += turn_a_step
        if turn >= reach:
            turn -= reach
        if needed[i] if some else turn < i or reach - turn < i:
            r = here + link.rx_height_m
            line = (r - t) * inverse
            if steepest < line - bulge * far:
                gap, hint = clear_gap(record_at, record_slope, records, far, line - bulge * far, limit, hint)
                terms[0, count] = -math.sqrt(gap * nu_scale)
            else:
                back = tangent(surface_at, surface_hull, surfaces, far, r - curve) + line - bulge * far
                ahead = steepest - line + bulge * far
                terms[0, count] = math.sqrt(max(nu_scale * far * ahead * back, 0.0))
            smooth_t, smooth_r = smooth_earth(far, inverse, here, total, moment)
            ahead = bare_steepest - line
            if ahead > 0.0:
                part_t, part_r = obstruction(ground_at, ground_hull, grounds, far, t, r, line, ahead)
                smooth_t -= part_t
                smooth_r -= part_r
            terms[1, count] = t - min(smooth_t, 0.0)
            terms[2, count] = r - min(smooth_r, here)
            terms[3, count] = far
            count += 1
        # The sample joins those that receivers beyond it look over.
        total += here
        moment += here * far
        bare_steepest = max(bare_steepest, (here - t) * inverse)
        grounds = push(ground_at, ground_hull, grounds, far, here)
        curved = surface[i] - curve
        surfaces = push(surface_at, surface_hull, surfaces, far, curved)
        slope = (curved - t) * inverse
        if slope > steepest:
            steepest = slope
            record_at[records] = far
            record_slope[records] = slope
            records += 1
    return count


@inner
def smooth_earth(i: float, inverse: float, here: float, total: float, moment: float) -> tuple[float, float]:
    """Smooth-earth heights at the base and at sample i, from sums over the samples between.

    [Attachment 1, section 5.6: h_st and h_sr; the base's ground is 0]
    """
    v1 = 2.0 * total + here
    v2 = 6.0 * moment + (3.0 * i - 1.0) * here
    area = inverse * inverse
    return (2.0 * v1 * i - v2) * area, (v2 - v1 * i) * area


@inner
def obstruction(
    at: FloatArray, hull: FloatArray, count: int, i: float, t: float, r: float, line: float, ahead: float
) -> tuple[float, float]:
    """What the highest obstruction takes off the smooth-earth heights at the base and at sample i.

    line is the slope of the straight ray, ahead > 0 how much steeper the ground's horizon is from the
    base. [Attachment 1, section 5.6: h_obs alpha_obt/(alpha_obt + alpha_obr) and its counterpart]
    """
    back = tangent(at, hull, count, i, r) + line
    if back <= 0.0:  # it is positive, but for rounding where the ground just touches the ray
        return 0.0, 0.0
    share = (highest_over(at, hull, count, line) - t) / (ahead + back)
    return share * ahead, share * back


@inner
def clear_gap(
    at: FloatArray, slope: FloatArray, count: int, i: float, line: float, limit: float, hint: int
) -> tuple[float, int]:
    """Smallest (line - slope_j)^2 j i/(i - j) over the samples before i, or limit; and its record.

    nu of a line-of-sight path grows as this falls. The factor behind the square grows with j, so only
    samples whose slope was a new maximum can win. Blocks of them are passed over by a bound: the smallest
    gap (at their last) with the smallest factor (at their first). The hint is the last winner: a good
    first value passes over most blocks; the bound allows for rounding, so that it never decides the number.
    """
    gap = line - slope[hint]
    best = min(gap * gap * (at[hint] * i) / (i - at[hint]), limit)
    winner = hint
    stop = count
    while stop > 0:
        first = ((stop - 1) // RECORD_BLOCK) * RECORD_BLOCK
        gap = line - slope[stop - 1]
        bound = best * ROUNDING
        if gap * gap * (at[first] * i) < bound * (i - at[first]) and any_closer(
            at[first:stop], slope[first:stop], i, line, bound
        ):
            for j in range(first, stop):
                gap = line - slope[j]
                value = gap * gap * (at[j] * i) / (i - at[j])
                if value < best:
                    best = value
                    winner = j
        stop = first
    return best, winner


@inner
def any_closer(at: FloatArray, slope: FloatArray, i: float, line: float, best: float) -> bool:
    """Whether one of these records falls below best: no branch and no division, so it vectorises."""
    found = False
    for j in range(at.size):
        gap = line - slope[j]
        found |= gap * gap * (at[j] * i) < best * (i - at[j])
    return found
