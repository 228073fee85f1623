"""Every candidate with what it does for the job and which rules it keeps."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from linkplan.errors import DemError, PlaceError
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place
from linkplan.siting.evaluate import AZIMUTHS_DEG
from linkplan.siting.heights import outcome_of
from linkplan.siting.places import centre_frame, siting_of
from linkplan.siting.results import Candidate, Judged
from linkplan.siting.rules import findings, measure
from linkplan.siting.workload import Found
from linkplan.terrain.dem import load_terrain
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.horizon import HorizonProfile, combined, horizon_deg

SKY_REACH_M = 10_000.0
"""Ground around the places that may stand in the way of the sky: a hill 10 km off must rise 1750 m above the
antenna to stand 10 degrees high."""

SKY_CELLS = 1_500_000


def judge(
    plan: Plan, candidates: Sequence[Candidate], places: Sequence[Place], found: Sequence[Found]
) -> tuple[Judged, ...]:
    """All candidates in their order, not yet ranked."""
    siting = siting_of(plan)
    frame = centre_frame(plan)
    far = _far_ground(plan, places) if siting.rules.sky_blocked_share is not None else None
    per_place = len(candidates) // len(places)
    powers, antennas = len(siting.powers_dbm), len(siting.antennas)
    judged: list[Judged] = []
    for at, (place, one) in enumerate(zip(places, found, strict=True)):
        ground = measure(plan, frame, place)
        horizon = _horizon(plan, far, place, one)
        unknown = str(one.numbers.get("unknown", ""))
        for within in range(per_place):
            mast, rest = divmod(within, antennas * powers)
            outcome = outcome_of(one, mast, *divmod(rest, powers))
            candidate = candidates[at * per_place + within]
            judged.append(
                Judged(
                    number=len(judged) + 1,
                    candidate=candidate,
                    outcome=outcome,
                    findings=findings(plan, candidate, ground, horizon, outcome, unknown),
                    rank=None,
                    best_cases=0,
                    decided_by="",
                )
            )
    return tuple(judged)


def _far_ground(plan: Plan, places: Sequence[Place]) -> TerrainGrid | None:
    """A coarser grid around all places, for hills beyond the job; None where there is no ground."""
    import shapely

    middles = [(plan.base.easting, plan.base.northing), *((one.easting, one.northing) for one in places)]
    for easting, northing in middles:
        frame = LocalFrame.around(plan.crs, easting, northing)
        spots = frame.to_local(
            np.array([one.easting for one in places]), np.array([one.northing for one in places])
        )
        area = shapely.MultiPoint(np.column_stack(spots)).envelope.buffer(SKY_REACH_M)
        try:
            return load_terrain(plan.terrain, None, frame=frame, area=area, margin_m=0.0, max_cells=SKY_CELLS)
        except (PlaceError, DemError):
            continue  # this one stands off the ground: another may not
    return None


def _horizon(plan: Plan, far: TerrainGrid | None, place: Place, found: Found) -> HorizonProfile | None:
    """The terrain horizon at a place: near ground from its own grid, the rest from the common one."""
    if "horizon_deg" not in found.arrays:
        return None
    near = HorizonProfile(
        azimuths_deg=AZIMUTHS_DEG,
        horizon_deg=found.arrays["horizon_deg"],
        distance_m=found.arrays["horizon_m"],
        known_to_m=found.arrays["known_to_m"],
    )
    if far is None:
        return near
    x_m, y_m = far.frame.to_local(place.easting, place.northing)
    row, column = far.base_row - y_m / far.cell_size_m, far.base_column + x_m / far.cell_size_m
    if far.cell_of(float(x_m), float(y_m)) is None:
        return near
    around = horizon_deg(
        far.height_m,
        cell_size_m=far.cell_size_m,
        row=min(max(row, 0.0), far.shape[0] - 1.0),
        column=min(max(column, 0.0), far.shape[1] - 1.0),
        eye_height_m=siting_of(plan).rules.gnss_antenna_height_m,
        azimuths_deg=AZIMUTHS_DEG,
        ground_m=found.numbers["ground_m"],
        beyond_m=near.known_to_m,
    )
    return combined(near, around)
