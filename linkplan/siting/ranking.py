"""The ranking of places, each with the best of its candidates, and how often it holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from linkplan.coverage.reliability import margin_for_chance_db
from linkplan.coverage.site import site_constants
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import Siting
from linkplan.siting.cases import ErrorDraws, firsts, shares_in_draws
from linkplan.siting.places import FloatArray, centre_frame, siting_of
from linkplan.siting.rank import NEVER, keys_of, sort_key
from linkplan.siting.results import Judged
from linkplan.siting.workload import Found
from linkplan.siting.zones import point_masks, point_weights

PLACES_IN_DRAWS = 40
"""Places, from the best, among which the ranking is repeated: those below are far behind."""


def best_of_places(siting: Siting, judged: Sequence[Judged], wanted_share: float) -> tuple[int, ...]:
    """Numbers of each place's best accepted candidate, the best place first."""
    best: dict[str, tuple[tuple[int, ...], int]] = {}
    for one in judged:
        if not one.accepted or one.outcome is None:
            continue
        key = sort_key(one.candidate, one.outcome, siting.order, wanted_share), one.number
        name = one.candidate.place.name
        if name not in best or key < best[name]:
            best[name] = key
    return tuple(number for _, number in sorted(best.values()))


def repeat_over_draws(
    plan: Plan, judged: tuple[Judged, ...], points: FloatArray, found: Sequence[Found]
) -> tuple[Judged, ...]:
    """The candidates with how often their place comes first when the prediction's error is drawn."""
    siting = siting_of(plan)
    ranked = sorted((one for one in judged if one.rank is not None), key=lambda one: one.rank or 0)
    if siting.cases == 0 or not ranked:
        return judged
    leading = {one.candidate.place.name for one in ranked[:PLACES_IN_DRAWS]}
    per_place = len(judged) // len(found)
    wins = firsts(_keys_in_draws(plan, judged, leading, points, found))
    return tuple(
        replace(one, best_cases=wins.get((one.number - 1) // per_place, 0)) if one.rank is not None else one
        for one in judged
    )


def _keys_in_draws(
    plan: Plan,
    judged: tuple[Judged, ...],
    leading: set[str],
    points: FloatArray,
    found: Sequence[Found],
) -> Iterator[tuple[int, NDArray[np.int64]]]:
    """Place and keys (cases, criteria) of each accepted candidate at the leading places."""
    siting = siting_of(plan)
    frame = centre_frame(plan)
    at_m = np.column_stack(frame.to_local(points[:, 0], points[:, 1]))
    draws = ErrorDraws(at_m, plan.prediction_sigma_db, siting.cases, siting.seed)
    per_place = len(judged) // len(found)
    weight = point_weights(plan, point_masks(plan, points), len(points))
    error = np.empty((0, 0), dtype=np.float32)
    drawn_for = -1
    first_there: dict[tuple[float, float], int] = {}  # places on one spot err alike
    for one in sorted(judged, key=lambda one: one.number):
        here = one.candidate.place
        if not one.accepted or one.outcome is None or here.name not in leading:
            continue
        place, within_place = divmod(one.number - 1, per_place)
        if place != drawn_for:
            spot = first_there.setdefault((here.easting, here.northing), place)
            error, drawn_for = draws.of_base(spot + 1), place
        margin = candidate_margin(siting, found[place], within_place)
        near = _near(plan, at_m, frame.to_local(here.easting, here.northing))
        cell_m = found[place].numbers["cell_size_m"]
        needed = margin_for_chance_db(plan.goal.chance, site_constants(plan, cell_m).location_sigma_db)
        shares, worsts = shares_in_draws(margin, error, needed, weight, near)
        yield (
            place,
            keys_of(
                siting.order,
                workable_share=one.outcome.workable_share or 0.0,
                weighted_share=shares,
                reaches=shares >= plan.goal.share,
                worst_margin_db=np.where(np.isfinite(worsts), worsts, -NEVER),
                longest_baseline_m=one.outcome.longest_baseline_m,
                candidate=one.candidate,
            ),
        )


def candidate_margin(siting: Siting, found: Found, within_place: int) -> np.ndarray:
    """Margins at the points of a place's candidate, by its number within the place from 0."""
    powers, antennas = len(siting.powers_dbm), len(siting.antennas)
    mast, rest = divmod(within_place, antennas * powers)
    antenna, power = divmod(rest, powers)
    more_db = np.float32(siting.powers_dbm[power] - siting.powers_dbm[0])
    margin: np.ndarray = found.arrays["margins"][mast, antenna] + more_db
    return margin


def _near(plan: Plan, at_m: FloatArray, place_m: tuple[float, float]) -> np.ndarray:
    limit = plan.goal.baseline_limit_m
    if limit is None:
        return np.ones(len(at_m), dtype=bool)
    near: np.ndarray = np.hypot(at_m[:, 0] - place_m[0], at_m[:, 1] - place_m[1]) <= limit
    return near
