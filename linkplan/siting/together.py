"""Several set-ups that work together: at once, moved along a corridor, or a base with repeaters."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from linkplan.coverage.area import compute_coverage
from linkplan.coverage.combined import CombinedCoverage, combine
from linkplan.coverage.ground import job_grid
from linkplan.coverage.link import Terminal
from linkplan.coverage.reliability import margin_for_chance_db
from linkplan.coverage.site import site_constants
from linkplan.plan.model import Plan
from linkplan.radio.air_time import air_time
from linkplan.siting.cases import ErrorDraws
from linkplan.siting.cover_problem import CoverChoice, CoverProblem
from linkplan.siting.cover_solver import choose
from linkplan.siting.evaluate import plan_at
from linkplan.siting.places import POINTS_OF_ONE, CheckPoints, FloatArray, centre_frame, siting_of
from linkplan.siting.ranking import candidate_margin
from linkplan.siting.results import Judged, SetUp, Together
from linkplan.siting.workload import Found
from linkplan.siting.zones import point_masks, point_weights, zone_weights
from linkplan.terrain.grid import BoolArray
from linkplan.terrain.masks import inside_mask

MOST_REPEATERS = 8
"""Looked at; more on one channel is no radio link but a network."""

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Choosable:
    """The accepted candidates and what they reach; rows are candidates, columns points or check points."""

    judged: tuple[Judged, ...]
    margin_db: np.ndarray
    needed_db: FloatArray
    """(candidates,), for the wanted chance."""
    within: BoolArray
    check_seen: BoolArray
    """The check point has the wanted chance and lies within the baseline limit."""
    place: np.ndarray
    places_m: FloatArray
    """(candidates, 2), local."""

    @property
    def covers(self) -> BoolArray:
        """By radio alone; unknown never counts."""
        seen: BoolArray = self.margin_db >= self.needed_db[:, None]
        return seen


def put_together(
    plan: Plan,
    judged: Sequence[Judged],
    points: FloatArray,
    checks: CheckPoints,
    found: Sequence[Found],
    tell: Progress,
) -> tuple[Together, CombinedCoverage | None]:
    """Choose set-ups, and compute what they cover together on all cells."""
    siting = siting_of(plan)
    tell("choosing set-ups", 0.0)
    ready = choosable(plan, judged, points, checks, found)
    weight, musts, names = _weights(plan, points)
    most_repeaters = most_repeaters_on_air(plan) if siting.mode == "repeaters" else None
    links = _links(plan, ready, found) if siting.mode == "repeaters" else np.zeros((0, 0))
    problem = CoverProblem(
        covers=ready.covers,
        within=ready.within,
        weight=weight,
        musts=musts,
        must_names=names,
        place=ready.place,
        cost=_costs(ready),
        mode=siting.mode,
        along=_along(plan, ready),
        neighbours=(ready.check_seen.astype(np.float32) @ ready.check_seen.T.astype(np.float32)) > 0.0,
        overlap=siting.overlap,
        hears=links >= siting.link_margin_db if siting.mode == "repeaters" else None,
        most_repeaters=most_repeaters,
        most=siting.most_set_ups,
        wanted_share=plan.goal.share,
    )
    choice = choose(problem, progress=lambda share: tell("choosing set-ups", share))
    chosen = [ready.judged[one] for one in choice.chosen]
    combined = _on_all_cells(plan, chosen, tell) if chosen else None
    together = Together(
        mode=siting.mode,
        set_ups=_set_ups(ready, choice, combined, checks, links, siting.mode),
        points=len(points),
        covered_share=choice.covered_share,
        unreachable_share=choice.unreachable_share,
        all_cells_share=_weighted_share(plan, combined) if combined is not None else 0.0,
        goal=choice.goal,
        gap=choice.gap,
        proven=choice.proven,
        air_time_fits=None if most_repeaters is None else fits_on_air(plan, len(chosen) - 1),
        most_repeaters=most_repeaters,
        cases_held=_cases_held(plan, ready, choice, points, weight, found),
        notes=choice.notes,
    )
    return together, combined


def choosable(
    plan: Plan,
    judged: Sequence[Judged],
    points: FloatArray,
    checks: CheckPoints,
    found: Sequence[Found],
) -> Choosable:
    """Every accepted candidate with its margins at the job's points and at the check points."""
    siting = siting_of(plan)
    accepted = tuple(one for one in judged if one.accepted)
    per_place = len(judged) // len(found)
    place = np.array([(one.number - 1) // per_place for one in accepted], dtype=np.int64)
    everywhere = np.vstack([points, checks.positions])
    margin = np.full((len(accepted), len(everywhere)), np.nan, dtype=np.float32)
    needed = np.zeros(len(accepted))
    for row, one in enumerate(accepted):
        at, within_place = divmod(one.number - 1, per_place)
        margin[row] = candidate_margin(siting, found[at], within_place)
        sigma_db = site_constants(plan, found[at].numbers["cell_size_m"]).sigma_db
        needed[row] = margin_for_chance_db(plan.goal.chance, sigma_db)
    frame = centre_frame(plan)
    x_m, y_m = frame.to_local(everywhere[:, 0], everywhere[:, 1])
    at_m = np.array(
        [frame.to_local(one.candidate.place.easting, one.candidate.place.northing) for one in accepted]
    ).reshape(-1, 2)
    limit = plan.goal.baseline_limit_m
    within = np.ones(margin.shape, dtype=bool)
    if limit is not None:
        within = np.hypot(x_m[None, :] - at_m[:, :1], y_m[None, :] - at_m[:, 1:]) <= limit
    count = len(points)
    return Choosable(
        judged=accepted,
        margin_db=margin[:, :count],
        needed_db=needed,
        within=within[:, :count],
        check_seen=(margin[:, count:] >= needed[:, None]) & within[:, count:],
        place=place,
        places_m=at_m,
    )


def most_repeaters_on_air(plan: Plan) -> int | None:
    """How many repeaters the air time allows, each sending everything again; None where the job does not say
    what is sent, or how. Less than none fit where the stream itself does not: then 0."""
    fitting = 0
    for count in range(MOST_REPEATERS + 1):
        fits = fits_on_air(plan, count)
        if fits is None:
            return None
        if not fits:
            break
        fitting = count
    return fitting


def fits_on_air(plan: Plan, repeaters: int) -> bool | None:
    """Whether the stream fits the channel with that many repeaters; None where the job does not say."""
    stream = plan.corrections
    if stream is None or stream.framing is None:
        return None
    return air_time(stream.messages, replace(stream.framing, repeaters=max(0, repeaters))).fits


def _weights(
    plan: Plan, points: FloatArray
) -> tuple[FloatArray, tuple[tuple[BoolArray, float], ...], tuple[str, ...]]:
    """Weight of each point; the zones that are a must with their shares; and their names."""
    zones = siting_of(plan).zones
    masks = point_masks(plan, points)
    musts = [
        (zone.name, mask, zone.must_share)
        for zone, mask in zip(zones, masks, strict=True)
        if zone.must_share is not None and mask.any()
    ]
    return (
        point_weights(plan, masks, len(points)),
        tuple((mask, share) for _, mask, share in musts),
        tuple(name for name, _, _ in musts),
    )


def _costs(ready: Choosable) -> FloatArray:
    """Metres of mast, and a little for power: a decibel counts as a centimetre."""
    return np.array(
        [one.candidate.antenna_height_m + 0.01 * max(0.0, one.candidate.power_dbm) for one in ready.judged]
    )


def _along(plan: Plan, ready: Choosable) -> FloatArray:
    """How far along the corridor each candidate stands, m; 0 without one."""
    siting = siting_of(plan)
    if siting.corridor is None:
        return np.zeros(len(ready.judged))
    line = centre_frame(plan).geometry_to_local(siting.corridor)
    return np.array([line.project(shapely.Point(*at)) for at in ready.places_m])


def _links(plan: Plan, ready: Choosable, found: Sequence[Found]) -> FloatArray:
    """(base, repeater): margin of the link between two candidates, dB, minus infinity where unknown."""
    siting = siting_of(plan)
    masts = list(siting.antenna_heights_m)
    own = plan.transmitter
    count = len(ready.judged)
    links = np.full((count, count), -np.inf)
    for row, one in enumerate(ready.judged):
        table = found[int(ready.place[row])].arrays["links"]
        here = one.candidate
        for column, other in enumerate(ready.judged):
            there = other.candidate
            margin = table[
                masts.index(here.antenna_height_m),
                int(ready.place[column]),
                masts.index(there.antenna_height_m),
            ]
            # computed with the job's own power and antenna at both ends
            more = here.power_dbm - own.power_dbm
            more += here.antenna.antenna.gain_dbi + there.antenna.antenna.gain_dbi
            more -= 2.0 * own.antenna.gain_dbi
            links[row, column] = -np.inf if np.isnan(margin) else margin + more
    return links


def _on_all_cells(plan: Plan, chosen: Sequence[Judged], tell: Progress) -> CombinedCoverage:
    """The chosen set-ups' whole maps on one grid; repeaters count within the limit of their base."""
    maps, ends = [], []
    for number, one in enumerate(chosen):
        tell("computing the set-ups together", number / len(chosen))
        here = with_candidate(plan, one)
        maps.append(compute_coverage(here, job_grid(here)))
        place = one.candidate.place
        ends.append(Terminal(place.name, place.easting, place.northing))
    grid = job_grid(with_candidate(plan, chosen[len(chosen) // 2]), *ends)
    repeated = siting_of(plan).mode == "repeaters"
    anchors = [(end.easting, end.northing) for end in (ends[:1] * len(ends) if repeated else ends)]
    return combine(plan, grid, maps, anchors)


def _weighted_share(plan: Plan, combined: CombinedCoverage) -> float:
    """Share of the job's cells that are covered, zones with their weights: the measure of the choice."""
    grid, inside = combined.coverage.grid, combined.coverage.inside
    zones = siting_of(plan).zones
    masks = [inside_mask(grid, grid.frame.geometry_to_local(zone.area))[inside] for zone in zones]
    weight = zone_weights([zone.weight for zone in zones], masks, (int(inside.sum()),))
    total = float(weight.sum())
    return float(weight @ combined.covered[inside]) / total if total > 0.0 else combined.covered_share


def with_candidate(plan: Plan, one: Judged) -> Plan:
    """The job with a candidate for its base."""
    candidate = one.candidate
    here = plan_at(plan, candidate.place, candidate.antenna_height_m)
    radio = replace(here.transmitter, antenna=candidate.antenna.antenna, power_dbm=candidate.power_dbm)
    return replace(here, transmitter=radio)


def _set_ups(
    ready: Choosable,
    choice: CoverChoice,
    combined: CombinedCoverage | None,
    checks: CheckPoints,
    links: FloatArray,
    mode: str,
) -> tuple[SetUp, ...]:
    if combined is None:
        return ()
    found = []
    for order, row in enumerate(choice.chosen):
        repeater = mode == "repeaters" and order > 0
        following = (
            choice.chosen[order + 1] if mode == "corridor" and order + 1 < len(choice.chosen) else None
        )
        found.append(
            SetUp(
                order=order + 1,
                number=ready.judged[row].number,
                candidate=ready.judged[row].candidate,
                role="repeater" if repeater else "base",
                covered_share=combined.by_itself[order],
                only_share=combined.by_no_other[order],
                check_point="" if following is None else _common_check(ready, row, following, checks),
                link_margin_db=float(links[choice.chosen[0], row]) if repeater else None,
            )
        )
    return tuple(found)


def _common_check(ready: Choosable, one: int, other: int, checks: CheckPoints) -> str:
    """The check point that both see, a control point before others, the one nearest to both; or ""."""
    both = np.nonzero(ready.check_seen[one] & ready.check_seen[other])[0]
    return checks.names[int(both[0])] if both.size else ""


def _cases_held(
    plan: Plan,
    ready: Choosable,
    choice: CoverChoice,
    points: FloatArray,
    weight: FloatArray,
    found: Sequence[Found],
) -> int:
    """In how many draws of the prediction's error the set-ups cover the wanted share."""
    siting = siting_of(plan)
    if not choice.chosen or siting.cases == 0:
        return 0
    counting = np.nonzero(weight > 0.0)[0]
    few = counting[:: max(1, -(-counting.size // POINTS_OF_ONE))]
    frame = centre_frame(plan)
    at_m = np.column_stack(frame.to_local(points[few, 0], points[few, 1]))
    draws = ErrorDraws(at_m, plan.prediction_sigma_db, siting.cases, siting.seed)
    reached = np.zeros((siting.cases, len(at_m)), dtype=bool)
    base = choice.chosen[0]
    for row in choice.chosen:
        place = int(ready.place[row])
        sigma_db = site_constants(plan, found[place].numbers["cell_size_m"]).location_sigma_db
        needed = np.float32(margin_for_chance_db(plan.goal.chance, sigma_db))
        level = ready.margin_db[row, few][None, :] + draws.of_base(place + 1)
        near = ready.within[base if siting.mode == "repeaters" else row, few]
        reached |= (level >= needed) & near[None, :]
    shares = reached @ weight[few] / weight[few].sum()
    return int((shares >= plan.goal.share).sum())
