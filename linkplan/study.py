"""The one place that orders the stages: terrain, then coverage, then the figures of the answer."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches

import numpy as np

from linkplan.agreement.setup import SetUp, set_up
from linkplan.airtime.check import AirTimeAnswer, check_air_time
from linkplan.channels.clauses import breaches
from linkplan.channels.results import Breach
from linkplan.channels.stations import own_stations
from linkplan.coverage.area import compute_coverage
from linkplan.coverage.cautions import study_warnings
from linkplan.coverage.ground import base_terminal, job_grid
from linkplan.coverage.link import Terminal, compute_link
from linkplan.coverage.results import CoverageMap, CoverageSummary, Gap, LinkResult, Spot
from linkplan.coverage.summary import summarize
from linkplan.errors import PlaceError
from linkplan.plan.model import Plan
from linkplan.plan.words import shown
from linkplan.safety.check import check_safety
from linkplan.safety.results import SafetyAnswer
from linkplan.sky.day import base_sky, rover_sky, wishes_of
from linkplan.sky.results import BaseSky, RoverSky
from linkplan.terrain.grid import BoolArray, TerrainGrid
from linkplan.terrain.masks import inside_mask
from linkplan.workable import WorkableMap, decides, workable_map


@dataclass(frozen=True)
class Study:
    """A job and everything computed for it."""

    plan: Plan
    coverage: CoverageMap
    summary: CoverageSummary
    workable: WorkableMap
    base_sky: BaseSky | None = None
    """None where the job has no [sky], as the next."""
    rover_sky: RoverSky | None = None

    @property
    def reached(self) -> bool:
        """Whether the wanted share of the job is served: by corrections or, where the job has a [sky] or a
        tolerance, workable."""
        if not decides(self.plan):
            return self.summary.all_covered
        return self.workable.workable_share >= self.plan.goal.share - 1e-9


@dataclass(frozen=True)
class SkyStudy:
    """The sky of a job over its working day, without its coverage."""

    plan: Plan
    grid: TerrainGrid
    inside: BoolArray
    """(rows, columns), cells of the job."""
    base: BaseSky
    rovers: RoverSky
    known: BoolArray
    """(P,): the rovers' places on known ground; on the others no sky counts as open."""

    @property
    def reached(self) -> bool:
        """The base never holds corrections back, and the wanted share of the job has sky enough."""
        enough = self.rovers.suffices_share >= self.plan.goal.share - 1e-9
        return enough and not bool(self.base.together.held_back.any())

    @property
    def unknown_ground_share(self) -> float:
        """Share of the rovers' places on unknown ground."""
        return float((~self.known).mean())

    @property
    def fewest_common(self) -> int:
        """Common satellites at the poorest time and place on known ground; 0 where none is known."""
        return int(self.rovers.common[self.known].min(initial=255)) if self.known.any() else 0

    @property
    def fewest_common_at_worst(self) -> int:
        """The same at the rovers' worst time."""
        at = self.rovers.worst_time
        return int(self.rovers.common[self.known, at].min(initial=255)) if self.known.any() else 0


Progress = Callable[[str, float], None]
"""Called with the name of the stage and the share of it that is done, 0 to 1."""


def run(plan: Plan, progress: Progress | None = None) -> Study:
    """Compute a job's coverage and summary."""
    tell = progress or (lambda _stage, _share: None)
    tell("reading the terrain", 0.0)
    grid = job_grid(plan)
    tell("computing coverage", 0.0)
    coverage = compute_coverage(plan, grid, progress=lambda share: tell("computing coverage", share))
    tell("summing up", 0.0)
    summary = summarize(plan, coverage, study_warnings(plan, coverage))
    base, rovers = None, None
    if plan.sky is not None:
        tell("looking at the sky", 0.0)
        base, positions = base_sky(plan, grid)
        rovers = rover_sky(
            plan, grid, coverage.inside, base, positions, lambda share: tell("looking at the sky", share)
        )
    return Study(plan, coverage, summary, workable_map(plan, coverage, rovers), base, rovers)


def run_sky(plan: Plan, progress: Progress | None = None) -> SkyStudy:
    """Compute the sky alone. PlaceError where the job says nothing about it."""
    tell = progress or (lambda _stage, _share: None)
    wishes_of(plan)
    tell("reading the terrain", 0.0)
    grid = job_grid(plan)
    inside = inside_mask(grid, grid.frame.geometry_to_local(plan.boundary))
    tell("looking at the sky", 0.0)
    base, positions = base_sky(plan, grid)
    rovers = rover_sky(plan, grid, inside, base, positions, lambda share: tell("looking at the sky", share))
    known = np.isfinite(grid.height_m[rovers.rows, rovers.columns])
    return SkyStudy(plan, grid, inside, base, rovers, known)


@dataclass(frozen=True)
class BriefFacts:
    """All that a site-safety brief says, as other commands compute it."""

    study: Study
    safety: SafetyAnswer
    set_up: SetUp
    air_time: AirTimeAnswer | None
    """None where the job does not say what the base sends, or how."""
    computed_at: datetime
    """With its time zone."""
    breaches: tuple[Breach, ...] = ()
    """What breaks the licence, where the job states one."""


def brief_facts(study: Study, computed_at: datetime) -> BriefFacts:
    """What a brief needs beside a study; the coverage is not computed again."""
    plan = study.plan
    sends = plan.corrections is not None and plan.corrections.framing is not None
    day = computed_at.date()
    if plan.sky is not None:
        # a licence must last to the end of the work, not only to that of the computing
        day = max(day, plan.sky.hours.local(plan.sky.hours.end_utc).date())
    return BriefFacts(
        study=study,
        safety=check_safety(plan, study.coverage),
        set_up=set_up(plan),
        air_time=check_air_time(plan) if sends else None,
        computed_at=computed_at,
        breaches=breaches(plan, own_stations(plan), day),
    )


def run_link(plan: Plan, end: Terminal, start: Terminal | None = None) -> LinkResult:
    """Compute one link from the base, or from another place with the base's equipment."""
    begin = start or base_terminal(plan)
    return compute_link(plan, job_grid(plan, begin, end, origin=begin), begin, end)


def link_on(study: Study, end: Terminal) -> LinkResult:
    """One link from the base over the terrain that a study has already read."""
    return compute_link(study.plan, study.coverage.grid, base_terminal(study.plan), end)


def telling_links(study: Study) -> tuple[LinkResult, ...]:
    """Links that explain an answer: to the worst spot, the largest weak gap, the farthest good place."""
    summary = study.summary
    places: list[tuple[str, Spot | Gap | None]] = [("worst spot", summary.worst)]
    weak = next((gap for gap in summary.gaps if gap.kind == "weak"), None)
    places.append((f"gap {weak.number}" if weak else "", weak))
    places.append(("farthest dependable point", summary.farthest_dependable))
    seen: set[tuple[float, float]] = set()
    links = []
    for name, place in places:
        if place is None or place.distance_m < study.coverage.grid.cell_size_m:
            continue
        if (place.easting, place.northing) not in seen:
            seen.add((place.easting, place.northing))
            links.append(link_on(study, Terminal(name, place.easting, place.northing)))
    return tuple(links)


def terminal_from_text(plan: Plan, text: str) -> Terminal:
    """A place as a person writes it: a control point's name, or "easting,northing" of the job.

    Raises PlaceError that names the nearest control point where neither fits.
    """
    wanted = text.strip()
    alike = [point for point in plan.control_points if point.name.casefold() == wanted.casefold()]
    named = next((point for point in alike if point.name == wanted), None)
    if named is None and len(alike) > 1:
        raise PlaceError(f"{shown(text)} may be {' or '.join(shown(point.name) for point in alike)}")
    if alike:
        point = named or alike[0]
        return Terminal(point.name, point.easting, point.northing)
    if wanted.casefold() in {"base", plan.base.name.casefold()}:
        return base_terminal(plan)
    parts = wanted.replace(";", ",").split(",")
    try:
        easting, northing = (float(part) for part in parts)
    except ValueError:
        near = get_close_matches(wanted[:100], [point.name for point in plan.control_points], n=1)
        hint = f"; did you mean {shown(near[0])}?" if near else ""
        raise PlaceError(
            f'{shown(text)} is neither a control point of the job nor "easting,northing" in its '
            f"coordinates{hint}"
        ) from None
    if not (math.isfinite(easting) and math.isfinite(northing)):
        raise PlaceError(f"{shown(text)} is not a place: both coordinates must be finite numbers")
    return Terminal(f"{easting:.10g},{northing:.10g}", easting, northing)
