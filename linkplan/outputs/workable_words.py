"""Where work can go on, in words and as an object for programs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from linkplan.outputs import formats
from linkplan.outputs.formats import Formats
from linkplan.plan.model import Plan
from linkplan.sky.results import RoverSky
from linkplan.terrain.surroundings import SKY_KNOWN_M
from linkplan.workable import (
    NO_CORRECTIONS,
    NO_SKY,
    REASONS,
    TOO_FAR,
    UNKNOWN,
    WorkableMap,
    asked,
    decides,
    tolerance_limits,
)

if TYPE_CHECKING:
    from linkplan.study import Study

WORKABLE_NAME = "work can go on"


@dataclass(frozen=True)
class Work:
    """What outputs show of where work can go on."""

    found: WorkableMap
    rover: RoverSky | None
    typical: bool
    """The sky's hours are those of no certain day."""
    wanted_share: float
    decides: bool
    """The goal is asked of the workable share."""

    @property
    def reached(self) -> bool:
        """Whether the workable share is the wanted one."""
        return self.found.workable_share >= self.wanted_share - 1e-9


def work_of(plan: Plan, found: WorkableMap, rover: RoverSky | None, *, typical: bool) -> Work | None:
    """None where the job asks for nothing beside corrections: then outputs stay as they are."""
    if not asked(plan):
        return None
    return Work(found, rover, typical, plan.goal.share, decides(plan))


def work_of_study(study: Study) -> Work | None:
    """The same of a whole study."""
    typical = study.base_sky is not None and study.base_sky.orbits.typical
    return work_of(study.plan, study.workable, study.rover_sky, typical=typical)


def work_line(work: Work) -> str:
    """The answer in one sentence."""
    found = work.found
    goal = "all of it" if work.wanted_share >= 1.0 else f"{100.0 * work.wanted_share:g} % of it"
    wanted = f" (wanted: {goal})" if work.decides else ""
    typical = ", with a typical sky, not of a date" if work.typical and found.sky_counted else ""
    sky = f", {_share(work, NO_SKY)} sky" if found.sky_counted else ""
    return (
        f"Work can go on in {formats.percent(found.workable_share)} of the job{wanted}{typical}; "
        f"{_share(work, NO_CORRECTIONS)} lack corrections{sky}, {_share(work, TOO_FAR)} are too far from "
        f"the base; {_share(work, UNKNOWN)} unknown."
    )


def reasons_in_words(code: int) -> str:
    """A sum of reasons in words."""
    if code == UNKNOWN:
        return REASONS[UNKNOWN]
    return "; ".join(REASONS[bit] for bit in (NO_CORRECTIONS, NO_SKY, TOO_FAR) if code & bit)


def work_remarks(plan: Plan, work: Work) -> list[str]:
    """What the sentence counts, and what not."""
    found, show = work.found, Formats.of(plan)
    remarks = []
    if not found.sky_counted:
        remarks.append("The sky is not counted: the job file has no [sky].")
    elif work.rover is not None:
        remarks.append(
            f"Sky enough: {work.rover.least_common} satellites in common with the base and a PDOP of "
            f"{work.rover.greatest_pdop:g} at most in {100.0 * work.rover.wanted_share:g} % of the working "
            "hours."
        )
        if work.rover.unknown_share > 0.0:
            remarks.append(
                f"The ground is known less far than {show.distance(SKY_KNOWN_M)} in "
                f"{formats.percent(work.rover.unknown_share)} of the directions round the rovers: hills "
                "beyond are not counted."
            )
    limits = tolerance_limits(plan)
    if found.baseline_limit_m is not None:
        remarks.append(f"Longest baseline for the whole job: {show.distance(found.baseline_limit_m)}.")
    elif not limits:
        remarks.append("No tolerance is asked for, so no distance is too far.")
    if any(one.zone is not None for one in limits):
        remarks.append("Zones with a tolerance of their own are held to it.")
    return remarks


def work_object(work: Work) -> dict[str, Any]:
    """For programs."""
    found = work.found
    return {
        "answer": work_line(work),
        "reached": work.reached,
        "goal_asked_of_it": work.decides,
        "workable_share": found.workable_share,
        "no_corrections_share": found.share(bit=NO_CORRECTIONS),
        "no_sky_share": found.share(bit=NO_SKY) if found.sky_counted else None,
        "too_far_share": found.share(bit=TOO_FAR),
        "unknown_share": found.share(bit=UNKNOWN),
        "sky_counted": found.sky_counted,
        "baseline_limit_m": found.baseline_limit_m,
    }


def _share(work: Work, bit: int) -> str:
    return formats.percent(work.found.share(bit=bit))
