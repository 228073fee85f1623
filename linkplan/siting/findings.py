"""Every candidate with what it does for the job and which rules it keeps."""

from __future__ import annotations

from collections.abc import Sequence

from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place
from linkplan.siting.evaluate import AZIMUTHS_DEG
from linkplan.siting.heights import outcome_of
from linkplan.siting.places import centre_frame, siting_of
from linkplan.siting.results import Candidate, Judged
from linkplan.siting.rules import findings, measure
from linkplan.siting.workload import Found
from linkplan.terrain.grid import TerrainGrid
from linkplan.terrain.horizon import HorizonProfile
from linkplan.terrain.surroundings import horizon_with_far, surroundings


def judge(
    plan: Plan, candidates: Sequence[Candidate], places: Sequence[Place], found: Sequence[Found]
) -> tuple[Judged, ...]:
    """All candidates in their order, not yet ranked."""
    siting = siting_of(plan)
    frame = centre_frame(plan)
    far = None
    if siting.rules.sky_blocked_share is not None:
        far = surroundings(plan.terrain, plan.crs, [(one.easting, one.northing) for one in places])
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
    return horizon_with_far(
        near,
        far,
        (place.easting, place.northing),
        eye_height_m=siting_of(plan).rules.gnss_antenna_height_m,
        ground_m=found.numbers["ground_m"],
    )
