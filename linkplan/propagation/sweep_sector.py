"""A sector of the map: neighbouring radials of one quadrant, and the cells between them."""

from __future__ import annotations

import math

import numpy as np

from linkplan.propagation.sweep_final import NU_FLOOR, Link, delta_bullington_db
from linkplan.propagation.sweep_geometry import Quadrant, radial_last, sample_radial
from linkplan.propagation.sweep_numba import FloatArray, IntArray, SingleArray, inner, kernel
from linkplan.propagation.sweep_radial import known_length, radial_terms
from linkplan.propagation.sweep_single import LANES, final_stage, steps_of
from linkplan.propagation.sweep_wanted import BoolArray, Box

Scratch = tuple[FloatArray, FloatArray, SingleArray, FloatArray, BoolArray, IntArray]
"""Working memory of one thread: hull corners, samples and hulls, single-precision terms, radials; which
samples wanted cells need and the last of each radial."""


def scratch_for(longest: int, radials: int) -> Scratch:
    """Working memory for radials of up to `longest` steps, up to `radials` of them in a sector."""
    size = longest + 1
    return (
        np.empty((2, size)),
        np.empty((11, size)),
        np.empty((5, size + LANES), dtype=np.float32),
        np.empty((radials + 1, 2, size)),
        np.empty((radials + 1, size), dtype=np.bool_),
        np.empty(radials + 1, dtype=np.int64),
    )


@kernel
def sweep_sector(
    ground: FloatArray,
    surface: FloatArray,
    wanted: BoolArray,
    q: Quadrant,
    box: Box,
    reach: int,
    first: int,
    stop: int,
    single: bool,
    cell_km: float,
    link: Link,
    scratch: Scratch,
    loss: FloatArray,
    clearance: SingleArray,
) -> None:
    """Loss, dB, and clearance of the cells between radials `first` and `stop` of a quadrant.

    All rasters are flat; surface (ground with clutter) is empty where there is no clutter, wanted where all
    cells of the box are.
    """
    corners, work, narrow, radials, needed, ends = scratch
    some = wanted.size > 0
    if some and not mark(wanted, q, box, reach, first, stop, needed, ends):
        return
    for k in range(first, stop + 1):
        last = ends[k - first] if some else radial_last(q, reach, k)
        if last == 0:
            continue
        step_km = cell_km * math.sqrt(reach * reach + k * k) / reach
        bare = work[0]
        full = work[1] if surface.size else bare
        known = load_radial(ground, surface, q, reach, k, last, bare, full)
        terms = work[6:11]
        count = 0
        if known >= 2:
            count = radial_terms(
                bare, full, known, reach, abs(k), some, needed[k - first],
                step_km, link, corners, work[2:6], terms,
            )  # fmt: skip
        losses_of(terms, count, single, step_km, link, narrow)
        place(terms, count, known, last, radials[k - first])
    fill(wanted, q, box, reach, first, stop, radials, loss, clearance)


@inner
def cells_at(q: Quadrant, box: Box, reach: int, first: int, stop: int, i: int) -> tuple[int, int]:
    """The first and the last cell across, at step i, of the box that lie between radials first and stop.

    Cells j with first/reach <= j/i < stop/reach, the last diagonal too where it belongs here.
    """
    begin = max(-((-i * first) // reach), box.low, 1 - q.diagonal - i)
    if stop == reach and q.diagonal == 1:
        return begin, min(i, box.high)
    return begin, min(-((-i * stop) // reach) - 1, box.high)


@inner
def mark(
    wanted: BoolArray,
    q: Quadrant,
    box: Box,
    reach: int,
    first: int,
    stop: int,
    needed: BoolArray,
    ends: IntArray,
) -> bool:
    """Note which samples of the sector's radials wanted cells need, and the last of each radial or 0.

    Returns whether there is such a cell at all.
    """
    found = False
    ends[:] = 0
    for i in range(box.near, box.far + 1):
        begin, end = cells_at(q, box, reach, first, stop, i)
        k = (begin * reach) // i
        rest = begin * reach - k * i
        k -= first
        whole = reach // i
        part = reach - whole * i
        at = q.start + i * q.along + begin * q.across
        for _ in range(begin, end + 1):
            if wanted[at]:
                if not found:
                    needed[:, :] = False
                    found = True
                needed[k, i] = True
                ends[k] = i
                if rest > 0:
                    needed[k + 1, i] = True
                    ends[k + 1] = i
            at += q.across
            k += whole
            rest += part
            if rest >= i:
                rest -= i
                k += 1
    return found


@inner
def load_radial(
    ground: FloatArray,
    surface: FloatArray,
    q: Quadrant,
    reach: int,
    k: int,
    last: int,
    bare: FloatArray,
    full: FloatArray,
) -> int:
    """Heights of a radial over the base's ground, into bare and full; the last sample with known path."""
    sample_radial(ground, q, reach, k, last, bare)
    base = bare[0]
    for i in range(last + 1):
        bare[i] -= base
    if surface.size:
        sample_radial(surface, q, reach, k, last, full)
        for i in range(last + 1):
            full[i] -= base
    return known_length(bare, full, last)


@inner
def losses_of(
    terms: FloatArray, count: int, single: bool, step_km: float, link: Link, narrow: SingleArray
) -> None:
    """Loss, dB, into terms[4], from the terms of a radial's samples."""
    if single:
        for term in range(4):
            for j in range(count):
                narrow[term, j] = terms[term, j]
        # Whole vectors only, so that a sample's number does not depend on those before it.
        padded = -(-count // LANES) * LANES
        for term in range(4):
            for j in range(count, padded):
                narrow[term, j] = narrow[term, count - 1]
        final_stage(narrow, padded, steps_of(link, step_km))
        for j in range(count):
            terms[4, j] = narrow[4, j]
        return
    for j in range(count):
        last = int(terms[3, j])
        terms[4, j] = delta_bullington_db(terms[0, j], terms[1, j], terms[2, j], last, step_km, link)


@inner
def place(terms: FloatArray, count: int, known: int, last: int, out: FloatArray) -> None:
    """Loss and nu of a radial by sample number, into out[0] and out[1]."""
    for i in range(min(known, 1) + 1):  # nothing between two neighbouring cells
        out[0, i] = 0.0
        out[1, i] = NU_FLOOR
    for i in range(known + 1, last + 1):
        out[0, i] = math.nan
        out[1, i] = math.nan
    for j in range(count):
        i = int(terms[3, j])
        out[0, i] = terms[4, j]
        out[1, i] = terms[0, j]


@inner
def fill(
    wanted: BoolArray,
    q: Quadrant,
    box: Box,
    reach: int,
    first: int,
    stop: int,
    radials: FloatArray,
    loss: FloatArray,
    clearance: SingleArray,
) -> None:
    """The wanted cells between radials first and stop, linearly from the two radials beside each."""
    per_nu = -math.sqrt(0.5)
    some = wanted.size > 0
    for i in range(box.near, box.far + 1):
        begin, end = cells_at(q, box, reach, first, stop, i)
        k = (begin * reach) // i
        rest = begin * reach - k * i
        k -= first
        whole = reach // i
        part = reach - whole * i
        for j in range(begin, end + 1):
            at = q.start + i * q.along + j * q.across
            if not some or wanted[at]:
                value = radials[k, 0, i]
                nu = radials[k, 1, i]
                if rest > 0:
                    share = rest / i
                    value += share * (radials[k + 1, 0, i] - value)
                    nu += share * (radials[k + 1, 1, i] - nu)
                loss[at] = value
                clearance[at] = nu * per_nu
            k += whole
            rest += part
            if rest >= i:
                rest -= i
                k += 1
