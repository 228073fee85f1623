"""What rules a place out: one finding for each rule of the job, with what was found and what is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linkplan.coverage.mast_room import fence_radius_m, line_clearance_m
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import OverheadLine, Place, Siting
from linkplan.radio import budget
from linkplan.radio.exposure import exposure_distance_m, ground_radius_m, public_limit_w_m2
from linkplan.siting.places import siting_of
from linkplan.siting.results import Candidate, Finding, Outcome
from linkplan.terrain.geodesy import LocalFrame
from linkplan.terrain.horizon import HorizonProfile, blocked_share, unknown_share
from linkplan.terrain.surroundings import SKY_KNOWN_M
from linkplan.units import watt_from_dbm

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True)
class SiteGround:
    """The distances from one place that rules ask for, m; None where the job has no such thing."""

    kept_out: bool | None
    lines_m: tuple[float, ...]
    """To each kind of overhead line."""
    fence_m: float | None
    """Radius of the largest circle around the place that can be fenced; 0 outside of such ground."""
    track_m: float | None


def measure(plan: Plan, frames: LocalFrame, place: Place) -> SiteGround:
    """Distances on the ground from one place, in the plane `frames` around the job."""
    import shapely

    rules = siting_of(plan).rules
    point = shapely.Point(*frames.to_local(place.easting, place.northing))

    def local(shape: BaseGeometry) -> BaseGeometry:
        return frames.geometry_to_local(shape)

    kept_out = None if rules.keep_out is None else bool(local(rules.keep_out).covers(point))
    return SiteGround(
        kept_out=kept_out,
        lines_m=tuple(float(local(line.shape).distance(point)) for line in rules.lines),
        fence_m=fence_radius_m(rules, frames, point.x, point.y),
        track_m=None if rules.tracks is None else float(local(rules.tracks).distance(point)),
    )


def findings(
    plan: Plan,
    candidate: Candidate,
    ground: SiteGround,
    horizon: HorizonProfile | None,
    outcome: Outcome | None,
    unknown: str,
) -> tuple[Finding, ...]:
    """Every rule of the job at one candidate; `unknown` says why there is no outcome."""
    siting = siting_of(plan)
    found = list(_on_the_ground(siting, candidate, ground))
    exposure = _exposure(plan, candidate, ground)
    if exposure is not None:
        found.append(exposure)
    if siting.rules.sky_blocked_share is not None:
        found.append(_sky(siting, horizon))
    if outcome is None:
        found.append(Finding("terrain", False, None, None, "", unknown))
    elif siting.mode == "one":  # several set-ups have to cover such zones together, not each by itself
        for zone, share in zip(siting.zones, outcome.zone_shares, strict=True):
            if zone.must_share is not None:
                held = share >= zone.must_share
                found.append(Finding("zone", held, share, zone.must_share, "share", zone.name))
    return tuple(found)


def _on_the_ground(siting: Siting, candidate: Candidate, ground: SiteGround) -> Iterator[Finding]:
    rules = siting.rules
    if rules.known_control:
        yield Finding("known control", candidate.place.known, None, None, "")
    if ground.kept_out is not None:
        yield Finding("keep-out", not ground.kept_out, None, None, "")
    for line, distance_m in zip(rules.lines, ground.lines_m, strict=True):
        wanted_m = line_distance_m(line, candidate.antenna_height_m, rules.fall_factor)
        yield Finding("overhead line", distance_m >= wanted_m, distance_m, wanted_m, "m", line.name)
    if ground.track_m is not None and rules.track_distance_m is not None:
        held = ground.track_m <= rules.track_distance_m
        yield Finding("track", held, ground.track_m, rules.track_distance_m, "m")


def line_distance_m(line: OverheadLine, mast_height_m: float, fall_factor: float) -> float:
    """Distance on the ground that a mast keeps from an overhead line, m: its height times a factor, so that
    it can fall, and the clearance beyond. Common practice; the line's owner and local codes decide.

    Where neither clearance nor voltage is stated, the largest clearance of the table counts.
    """
    return fall_factor * mast_height_m + line_clearance_m(line)[0]


def exposure_radius_m(plan: Plan, candidate: Candidate) -> float:
    """Radius on the ground around the mast within which the public limit may be exceeded while the
    transmitter is keyed, m, for people whose heads are 2 m up."""
    from dataclasses import replace

    transmitter = replace(plan.transmitter, antenna=candidate.antenna.antenna, power_dbm=candidate.power_dbm)
    eirp_w = float(watt_from_dbm(budget.peak_eirp_dbm(transmitter)))
    limit = public_limit_w_m2(siting_of(plan).rules.exposure_limits, transmitter.frequency_mhz)
    return float(ground_radius_m(exposure_distance_m(eirp_w, limit), candidate.antenna_height_m))


def _exposure(plan: Plan, candidate: Candidate, ground: SiteGround) -> Finding | None:
    if ground.fence_m is None:
        return None
    radius_m = exposure_radius_m(plan, candidate)
    return Finding("exposure", radius_m <= ground.fence_m, radius_m, ground.fence_m, "m")


def _sky(siting: Siting, horizon: HorizonProfile | None) -> Finding:
    rules = siting.rules
    limit = rules.sky_blocked_share
    if horizon is None:
        return Finding("sky", None, None, limit, "share", "the ground is unknown")
    share = blocked_share(horizon, rules.elevation_mask_deg)
    unknown = unknown_share(horizon, rules.elevation_mask_deg, SKY_KNOWN_M)
    assert limit is not None
    if share > limit:
        return Finding("sky", False, share, limit, "share")
    if unknown > 0.0:
        about = f"ground known less than {SKY_KNOWN_M / 1000.0:g} km far in {unknown:.0%} of the directions"
        return Finding("sky", None, share, limit, "share", about)
    return Finding("sky", True, share, limit, "share")
