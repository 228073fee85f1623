"""What a mast may strike when it falls, and how far it stands from overhead lines."""

from __future__ import annotations

from linkplan.coverage.mast_room import fence_radius_m, line_clearance_m
from linkplan.plan.model import Plan
from linkplan.plan.siting_model import OverheadLine, SitingRules
from linkplan.safety.results import LineClearance, MastAnswer
from linkplan.tables.safety import GUY_ANCHOR_SHARE, LEAST_GUY_DIRECTIONS
from linkplan.terrain.geodesy import LocalFrame


def mast_of(plan: Plan, frame: LocalFrame) -> MastAnswer:
    """The mast of the job's base, the origin of `frame`, as high as the radio antenna."""
    rules = _rules(plan)
    height_m = plan.base.antenna_height_m
    fall_m = rules.fall_factor * height_m
    least, most = GUY_ANCHOR_SHARE
    return MastAnswer(
        height_m=height_m,
        fall_factor=rules.fall_factor,
        fall_radius_m=fall_m,
        guy_anchors_m=(least * height_m, most * height_m),
        guy_directions=LEAST_GUY_DIRECTIONS,
        lines=tuple(_line(line, fall_m, frame) for line in rules.lines),
    )


def fence_of(plan: Plan, frame: LocalFrame) -> float | None:
    """Radius of the largest circle around the base that can be fenced, m; 0 outside of such ground, None
    where the job does not say."""
    return fence_radius_m(_rules(plan), frame, 0.0, 0.0)


def _rules(plan: Plan) -> SitingRules:
    return plan.siting.rules if plan.siting is not None else SitingRules()


def _line(line: OverheadLine, fall_m: float, frame: LocalFrame) -> LineClearance:
    """The fallen mast keeps the clearance: stated, the table's for the voltage, or the largest of it."""
    import shapely

    wanted_m, basis = line_clearance_m(line)
    distance_m = float(frame.geometry_to_local(line.shape).distance(shapely.Point(0.0, 0.0)))
    return LineClearance(
        name=line.name,
        distance_m=distance_m,
        wanted_m=fall_m + wanted_m,
        clearance_m=wanted_m,
        basis=basis,
        voltage_kv=line.voltage_kv,
        held=distance_m >= fall_m + wanted_m,
    )
