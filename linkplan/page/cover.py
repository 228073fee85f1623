"""Coverage of a set-up for the map: the same numbers as `linkplan cover`, and a coarse map while dragging."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.area import compute_coverage
from linkplan.coverage.cautions import study_warnings
from linkplan.coverage.results import CoverageMap, CoverageSummary
from linkplan.coverage.summary import summarize
from linkplan.outputs.workable_words import Work, work_of
from linkplan.page.ground import Ground
from linkplan.page.lanes import Tell
from linkplan.page.pictures import (
    Picture,
    band_picture,
    class_picture,
    decibel_picture,
    workable_picture,
)
from linkplan.page.placing import Placed, placed
from linkplan.plan.model import Plan
from linkplan.sky.day import base_sky, rover_sky
from linkplan.sky.results import RoverSky
from linkplan.terrain.horizon_map import sky_openness
from linkplan.terrain.masks import inside_mask
from linkplan.workable import asked, workable_map

COARSE, FULL = "coarse", "full"
SCALES = (COARSE, FULL)
MOST_KEPT, MOST_KEPT_CELLS = 24, 4_000_000
"""Number and cells of computed maps that are kept: another layer, or an undo, needs no new computation."""
OPEN_CELLS = 90_000
"""From which the sky is looked at for the layer of its openness, at most."""
_BESIDE = ThreadPoolExecutor(1, "linkplan-beside")
"""One lasting thread: each new one costs the projection library a start of its own."""
COMMON_EYE_M, COMMON_MASK_DEG = 2.0, 10.0
"""Of a rover's GNSS antenna, and its elevation mask, where the job has no [sky] [common practice]."""


@dataclass(frozen=True)
class Covered:
    """One set-up, computed."""

    plan: Plan
    coverage: CoverageMap
    summary: CoverageSummary
    stamp: str
    scale: str
    placed: Placed


@dataclass(frozen=True)
class OpenSky:
    """How open the sky is over a job, wherever the base stands."""

    share: NDArray[np.float32]
    """(rows, columns) of the region's cells, NaN outside of the job."""
    placed: Placed


class Maps:
    """Computed maps of one job; safe to use from several threads."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[Any, ...], Covered] = OrderedDict()
        self._skies: OrderedDict[tuple[Any, ...], tuple[RoverSky, bool]] = OrderedDict()
        self._open: tuple[tuple[Any, ...], OpenSky] | None = None

    def cover(self, job: Plan, plan: Plan, scale: str, tell: Tell) -> Covered:
        """Coverage of `plan`, a set-up of `job`."""
        tell("reading the terrain", 0.0)
        grid, stamp = self.ground.full(plan) if scale == FULL else self.ground.coarse(job, plan)
        key = (_key(plan), scale, stamp)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        tell("computing coverage", 0.0)
        coverage = compute_coverage(plan, grid, progress=lambda share: tell("computing coverage", share))
        tell("drawing", 0.0)
        where = _BESIDE.submit(placed, grid)
        summary = summarize(plan, coverage, study_warnings(plan, coverage))
        found = Covered(plan, coverage, summary, stamp, scale, where.result())
        self._keep(key, found)
        return found

    def _keep(self, key: tuple[Any, ...], found: Covered) -> None:
        with self._lock:
            self._kept[key] = found
            for old in [one for one, kept in self._kept.items() if kept.stamp != found.stamp]:
                del self._kept[old]
            cells = sum(one.coverage.loss_db.size for one in self._kept.values())
            while len(self._kept) > MOST_KEPT or (len(self._kept) > 1 and cells > MOST_KEPT_CELLS):
                cells -= self._kept.popitem(last=False)[1].coverage.loss_db.size

    def work(self, covered: Covered, tell: Tell) -> Work | None:
        """Where work can go on; the sky counts on the full map alone. None where the job asks for nothing."""
        plan, coverage = covered.plan, covered.coverage
        rover: RoverSky | None = None
        typical = False
        if plan.sky is not None and covered.scale == FULL:
            key = (_key(plan), covered.stamp)
            with self._lock:
                known = self._skies.get(key)
            if known is not None:
                rover, typical = known
            else:
                tell("looking at the sky", 0.0)
                base, positions = base_sky(plan, coverage.grid)
                rover = rover_sky(
                    plan, coverage.grid, coverage.inside, base, positions,
                    lambda share: tell("looking at the sky", share),
                )  # fmt: skip
                typical = base.orbits.typical
                with self._lock:
                    self._skies[key] = (rover, typical)
                    while len(self._skies) > 4:
                        self._skies.popitem(last=False)
        return work_of(plan, workable_map(plan, coverage, rover), rover, typical=typical)

    def open_sky(self, job: Plan, tell: Tell) -> OpenSky:
        """How open the sky is; as far as the ground that is shown goes."""
        region = self.ground.region(job)
        sky = job.sky
        eye_m = sky.rover_gnss_height_m if sky is not None else COMMON_EYE_M
        mask_deg = sky.rover_elevation_mask_deg if sky is not None else COMMON_MASK_DEG
        key = (job.job_hash, region.stamp, eye_m, mask_deg)
        with self._lock:
            if self._open is not None and self._open[0] == key:
                return self._open[1]
        tell("looking at the sky", 0.0)
        grid = region.grid
        inside = inside_mask(grid, grid.frame.geometry_to_local(job.boundary))
        stride = max(1, int(np.ceil(np.sqrt(inside.sum() / OPEN_CELLS))))
        found = sky_openness(
            grid.height_m, cell_size_m=grid.cell_size_m, eye_height_m=eye_m,
            azimuths_deg=np.arange(0.0, 360.0, 10.0), mask_deg=mask_deg, stride=stride,
            wanted=inside[::stride, ::stride], progress=lambda share: tell("looking at the sky", share),
        )  # fmt: skip
        row, column = (
            np.clip((np.arange(size) + stride // 2) // stride, 0, most - 1)
            for size, most in zip(grid.shape, found.open_share.shape, strict=True)
        )
        share = np.where(inside, found.open_share[row][:, column], np.float32(np.nan))
        result = OpenSky(share, placed(grid))
        with self._lock:
            self._open = (key, result)
        return result


def _key(plan: Plan) -> tuple[Any, ...]:
    """All of a set-up on which its map depends, beside the terrain files."""
    return (plan.job_hash, plan.base, plan.transmitter, plan.rover, plan.goal, plan.boundary.wkb)


def pictures_of(
    maps: Maps, job: Plan, covered: Covered, layers: Sequence[str], tell: Tell
) -> tuple[tuple[Picture, ...], Work | None]:
    """The layers asked for, and where work can go on, if that is among them."""
    coverage, summary, where = covered.coverage, covered.summary, covered.placed
    work: Work | None = None
    found: list[Picture] = []
    for layer in layers:
        tell("drawing", 0.0)
        if layer == "chance":
            found.append(class_picture(coverage, where, summary.class_shares, summary.no_data_share))
        elif layer == "margin":
            found.append(decibel_picture("margin", where.look_up(coverage.margin_db, np.nan), where))
        elif layer == "sight":
            found.append(band_picture("sight", coverage.line_of_sight, where))
        elif layer == "fresnel":
            found.append(band_picture("fresnel", coverage.fresnel_clearance, where))
        elif layer == "workable" and asked(covered.plan):
            work = maps.work(covered, tell)
            if work is not None:
                found.append(workable_picture(work, where))
        elif layer == "openness":
            sky = maps.open_sky(job, tell)
            found.append(band_picture("openness", sky.share, sky.placed))
    return tuple(found), work
