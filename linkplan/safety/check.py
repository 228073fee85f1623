"""The whole look at a job's safety, and which of its own rules it breaks."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from linkplan.coverage.area import compute_coverage
from linkplan.coverage.ground import job_grid
from linkplan.coverage.results import CoverageMap
from linkplan.plan.model import Plan
from linkplan.safety.cautions import CAUTIONS
from linkplan.safety.field import OWN, exposure_of
from linkplan.safety.gaps import guidance_zones, zones_relied_on
from linkplan.safety.mast import fence_of, mast_of
from linkplan.safety.results import (
    FENCE,
    GUIDANCE,
    LINE,
    ExposureAnswer,
    Finding,
    GuidanceZone,
    MastAnswer,
    Note,
    SafetyAnswer,
)
from linkplan.tables.exposure import PUBLIC
from linkplan.tables.safety import SAME_MAST_M
from linkplan.terrain.geodesy import LocalFrame

Progress = Callable[[str, float], None]
"""Called with the name of the stage and the share of it that is done, 0 to 1."""


def check_safety(
    plan: Plan, coverage: CoverageMap | None = None, progress: Progress | None = None
) -> SafetyAnswer:
    """Exposure, mast, lines, and gaps where somebody relies on corrections.

    `coverage` is the job's own, where it is at hand; it is computed only where a zone needs it. Raises
    what reading the terrain raises.
    """
    frame = LocalFrame.around(plan.crs, plan.base.easting, plan.base.northing)
    exposure, mast, fence_m = exposure_of(plan, frame), mast_of(plan, frame), fence_of(plan, frame)
    zones: tuple[GuidanceZone, ...] = ()
    if zones_relied_on(plan):
        if coverage is None:
            coverage = _coverage(plan, progress or (lambda _stage, _share: None))
        zones = guidance_zones(plan, coverage)
    findings = tuple(_findings(exposure, mast, fence_m, zones))
    return SafetyAnswer(
        job_name=plan.name,
        base_name=plan.base.name,
        easting=plan.base.easting,
        northing=plan.base.northing,
        exposure=exposure,
        fence_m=fence_m,
        mast=mast,
        zones=zones,
        findings=findings,
        cautions=tuple(CAUTIONS.values()),
        notes=tuple(_notes(plan, exposure, zones)),
        held=all(one.held for one in findings),
    )


def _coverage(plan: Plan, tell: Progress) -> CoverageMap:
    tell("reading the terrain", 0.0)
    grid = job_grid(plan)
    tell("computing coverage", 0.0)
    return compute_coverage(plan, grid, progress=lambda share: tell("computing coverage", share))


def _findings(
    exposure: ExposureAnswer, mast: MastAnswer, fence_m: float | None, zones: tuple[GuidanceZone, ...]
) -> Iterator[Finding]:
    if fence_m is not None:
        radius_m = exposure.figure(PUBLIC).keyed.ground_radius_m
        yield Finding(FENCE, "", radius_m <= fence_m, radius_m, fence_m, "m")
    for line in mast.lines:
        yield Finding(LINE, line.name, line.held, line.distance_m, line.wanted_m, "m")
    for zone in zones:
        longest_s = zone.gaps[0].seconds if zone.gaps else 0.0
        yield Finding(GUIDANCE, zone.name, zone.held, longest_s, zone.age_limit_s, "s")


def _notes(plan: Plan, exposure: ExposureAnswer, zones: tuple[GuidanceZone, ...]) -> Iterator[Note]:
    yield Note(
        "not-counted",
        "rovers' radios, repeaters and hand-held radios are not counted, and the limits hold for the "
        "field of the antennas listed alone",
    )
    yield Note(
        "level-ground",
        "the call sign's identification is not in the share of time; level ground is taken around the mast",
    )
    if exposure.antenna_length_assumed:
        longer = ", though its gain is that of a longer one" if exposure.antenna_is_longer else ""
        yield Note(
            "length-assumed-longer" if exposure.antenna_is_longer else "length-assumed",
            "the antenna's length is not stated: half a wave is taken"
            f"{longer}; state it as safety.antenna_length",
        )
    if exposure.judged_by == OWN:
        yield Note(
            "own-limits",
            "no averaging time belongs to the job's own limits: they are held against the keyed transmitter",
        )
    others = len(plan.bases) + 1 - len(exposure.antennas)
    if others:
        yield Note(
            "further-not-added",
            f"further bases that stand farther than {SAME_MAST_M:g} m away are not added: {others}",
            {"away_m": SAME_MAST_M, "bases": others},
        )
    if len(exposure.antennas) > 1:
        yield Note(
            "further-keyed",
            "nobody says how much of the time further antennas are keyed: all of it is taken",
        )
    if zones and plan.bases:
        yield Note(
            "base-alone", "gaps are those of the job's base alone, without what further bases may fill"
        )
    if any(zone.speed_assumed for zone in zones):
        yield Note("walking-pace", "walking pace is taken for people whose speed the job does not state")
    if zones and plan.safety.age_limit_assumed:
        yield Note(
            "age-limit-assumed",
            f"corrections older than {plan.safety.age_limit_s:g} s count as lost, by common practice: "
            "take the limit that is set in rovers and machines (safety.age_limit_s)",
            {"age_limit_s": plan.safety.age_limit_s},
        )
