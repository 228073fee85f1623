"""Every candidate with what it does for the job and which rules it keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Place
from linkplan.siting.evaluate import AZIMUTHS_DEG
from linkplan.siting.heights import outcome_of
from linkplan.siting.places import FloatArray, centre_frame, siting_of
from linkplan.siting.ranking import candidate_margin
from linkplan.siting.results import Candidate, Judged
from linkplan.siting.rules import findings, measure
from linkplan.siting.workable_points import RoversSky
from linkplan.siting.workload import Found
from linkplan.terrain.grid import BoolArray, TerrainGrid
from linkplan.terrain.horizon import HorizonProfile
from linkplan.terrain.surroundings import horizon_with_far, surroundings


def judge(
    plan: Plan,
    candidates: Sequence[Candidate],
    places: Sequence[Place],
    points: FloatArray,
    found: Sequence[Found],
) -> tuple[Judged, ...]:
    """All candidates in their order, not yet ranked; `points` are those whose margins were kept."""
    siting = siting_of(plan)
    frame = centre_frame(plan)
    far = None
    sky = _rovers_sky(plan, points, places, found)
    if siting.rules.sky_blocked_share is not None or sky is not None:
        far = surroundings(plan.terrain, plan.crs, [(one.easting, one.northing) for one in places])
    per_place = len(candidates) // len(places)
    powers, antennas = len(siting.powers_dbm), len(siting.antennas)
    judged: list[Judged] = []
    for at, (place, one) in enumerate(zip(places, found, strict=True)):
        ground = measure(plan, frame, place)
        horizon = _horizon(plan, far, place, one)
        unknown = str(one.numbers.get("unknown", ""))
        seen = _sky_suffices(plan, sky, place, one, horizon)
        for within in range(per_place):
            mast, rest = divmod(within, antennas * powers)
            outcome = outcome_of(one, mast, *divmod(rest, powers))
            candidate = candidates[at * per_place + within]
            if outcome is not None and sky is not None and seen is not None:
                margin = candidate_margin(siting, one, within)
                share = sky.workable_share(margin, one.numbers["cell_size_m"], seen)
                outcome = replace(outcome, workable_share=share)
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


def _rovers_sky(
    plan: Plan, points: FloatArray, places: Sequence[Place], found: Sequence[Found]
) -> RoversSky | None:
    """What rovers see, where the job has a [sky] and one base is looked for."""
    known = [place for place, one in zip(places, found, strict=True) if "unknown" not in one.numbers]
    if plan.sky is None or siting_of(plan).mode != "one" or not known:
        return None
    return RoversSky(plan, points, known)


def _sky_suffices(
    plan: Plan, sky: RoversSky | None, place: Place, found: Found, horizon: HorizonProfile | None
) -> BoolArray | None:
    if sky is None or horizon is None:
        return None
    antenna_m = found.numbers["ground_m"] + siting_of(plan).rules.gnss_antenna_height_m
    return sky.suffices(place, antenna_m, horizon)


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
