"""Where can work go on? Corrections in the air, sky enough for base and rover together, and a baseline short
enough for the wanted accuracy; and where not, for which of these reasons."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.classes import NO_DATA
from linkplan.coverage.results import CoverageMap
from linkplan.gnss.baseline import accuracy_m, baseline_limit_m
from linkplan.plan.model import Plan
from linkplan.sky.results import RoverSky
from linkplan.sky.view import on_cells
from linkplan.terrain.grid import BoolArray
from linkplan.terrain.masks import inside_mask

WORKABLE = 0
NO_CORRECTIONS, NO_SKY, TOO_FAR = 1, 2, 4
"""Added where several reasons hold."""
UNKNOWN = 255

REASONS = {
    NO_CORRECTIONS: "corrections do not arrive with the wanted chance",
    NO_SKY: "too few satellites in common with the base",
    TOO_FAR: "too far from the base for the wanted accuracy",
    UNKNOWN: "unknown ground: nothing is claimed",
}


@dataclass(frozen=True)
class WorkableMap:
    """Where work can go on, and why not elsewhere."""

    reason: NDArray[np.uint8]
    """(rows, columns) of the job's grid: WORKABLE, or the sum of what is missing, or UNKNOWN; UNKNOWN too
    outside of the job."""
    inside: BoolArray
    sky_counted: bool
    """False where the job has no [sky]: then the sky is not among the reasons, and nothing is said of it."""
    baseline_limit_m: float | None
    """Of the whole job; zones may have their own."""
    horizontal_m: NDArray[np.float32]
    """(rows, columns), accuracy to expect from the baseline alone."""

    def share(self, *, bit: int) -> float:
        """Share of the job for which a reason holds, alone or with others; UNKNOWN by itself."""
        reason = self.reason[self.inside]
        if bit == UNKNOWN:
            return float((reason == UNKNOWN).mean())
        return float(((reason != UNKNOWN) & ((reason & bit) > 0)).mean())

    @property
    def workable_share(self) -> float:
        """Of the job's area."""
        return float((self.reason[self.inside] == WORKABLE).mean())


@dataclass(frozen=True)
class ToleranceLimit:
    """How far from its base a rover may work for a tolerance."""

    zone: str | None
    """None: the whole job."""
    direction: str
    """"horizontal" or "vertical"; "" for a limit that the job states itself."""
    tolerance_m: float | None
    limit_m: float
    """Infinite where distance costs nothing."""


def tolerance_limits(plan: Plan) -> tuple[ToleranceLimit, ...]:
    """Every limit of the job and of its zones."""
    accuracy = plan.accuracy
    found = []
    if plan.goal.baseline_limit_m is not None:
        found.append(ToleranceLimit(None, "", None, plan.goal.baseline_limit_m))
    for direction, tolerance, constant, ppm in (
        ("horizontal", accuracy.tolerance_m, accuracy.horizontal_m, accuracy.horizontal_ppm),
        ("vertical", accuracy.vertical_tolerance_m, accuracy.vertical_m, accuracy.vertical_ppm),
    ):
        if tolerance is not None:
            limit = baseline_limit_m(tolerance, constant, ppm)
            found.append(ToleranceLimit(None, direction, tolerance, limit))
    for zone in plan.siting.zones if plan.siting is not None else ():
        if zone.tolerance_m is not None:
            own = baseline_limit_m(zone.tolerance_m, accuracy.horizontal_m, accuracy.horizontal_ppm)
            found.append(ToleranceLimit(zone.name, "horizontal", zone.tolerance_m, own))
    return tuple(found)


def decides(plan: Plan) -> bool:
    """Whether the job asks for more than corrections: it has a [sky] or a tolerance."""
    return plan.sky is not None or any(one.tolerance_m is not None for one in tolerance_limits(plan))


def asked(plan: Plan) -> bool:
    """Whether there is anything to say beside corrections: a sky, or a limit of the baseline."""
    return plan.sky is not None or bool(tolerance_limits(plan))


def workable_map(plan: Plan, coverage: CoverageMap, rover: RoverSky | None) -> WorkableMap:
    """Join the three questions; `rover` is None where the job says nothing about the sky."""
    grid, inside = coverage.grid, coverage.inside
    distance = grid.distance_from_base_m()
    reason = np.where(coverage.class_index == 1, WORKABLE, NO_CORRECTIONS).astype(np.uint8)
    limit = job_limit_m(plan)
    far = np.zeros(grid.shape, dtype=bool) if limit is None else distance > limit
    for zone in plan.siting.zones if plan.siting is not None else ():
        if zone.tolerance_m is not None:
            mask = inside_mask(grid, grid.frame.geometry_to_local(zone.area))
            own = baseline_limit_m(zone.tolerance_m, plan.accuracy.horizontal_m, plan.accuracy.horizontal_ppm)
            far |= mask & (distance > own)
    reason[far] |= TOO_FAR
    if rover is not None:
        blocked = np.zeros(grid.shape, dtype=bool)
        blocked[inside] = ~rover.suffices[on_cells(rover, inside)]
        reason[blocked] |= NO_SKY
    reason[(coverage.class_index == NO_DATA) | ~inside] = UNKNOWN
    accuracy = accuracy_m(distance, plan.accuracy.horizontal_m, plan.accuracy.horizontal_ppm)
    return WorkableMap(
        reason=reason,
        inside=inside,
        sky_counted=rover is not None,
        baseline_limit_m=limit,
        horizontal_m=np.asarray(accuracy, dtype=np.float32),
    )


def job_limit_m(plan: Plan) -> float | None:
    """The smallest baseline limit that the job's goal, or the accuracy wanted in all of it, asks for."""
    accuracy = plan.accuracy
    limits = [plan.goal.baseline_limit_m]
    if accuracy.tolerance_m is not None:
        limits.append(baseline_limit_m(accuracy.tolerance_m, accuracy.horizontal_m, accuracy.horizontal_ppm))
    if accuracy.vertical_tolerance_m is not None:
        limits.append(
            baseline_limit_m(accuracy.vertical_tolerance_m, accuracy.vertical_m, accuracy.vertical_ppm)
        )
    return min((one for one in limits if one is not None), default=None)
