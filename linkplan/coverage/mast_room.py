"""What a mast asks of the ground around it: room for a fence, and distance from overhead lines."""

from __future__ import annotations

from linkplan.plan.siting_model import OverheadLine, SitingRules
from linkplan.tables.overhead_lines import UNKNOWN_VOLTAGE_CLEARANCE_M, clearance_m
from linkplan.terrain.geodesy import LocalFrame

STATED, BY_VOLTAGE, UNKNOWN_VOLTAGE = "stated", "voltage", "unknown voltage"
"""What a clearance rests on."""


def fence_radius_m(rules: SitingRules, frame: LocalFrame, x_m: float, y_m: float) -> float | None:
    """Radius of the largest circle around a local point that can be fenced, m; 0 outside of such ground, None
    where the job does not say."""
    import shapely

    fence_m = rules.fence_radius_m
    if rules.fenced is not None:
        point = shapely.Point(x_m, y_m)
        ground = frame.geometry_to_local(rules.fenced)
        room_m = float(ground.boundary.distance(point)) if ground.covers(point) else 0.0
        fence_m = room_m if fence_m is None else min(fence_m, room_m)
    return fence_m


def line_clearance_m(line: OverheadLine) -> tuple[float, str]:
    """Clearance that an overhead line asks for, m, and what it rests on: stated, the table's for the voltage,
    or the largest of the table where nobody says. The line's owner and local codes decide."""
    if line.clearance_m is not None:
        return line.clearance_m, STATED
    if line.voltage_kv is not None:
        return clearance_m(line.voltage_kv), BY_VOLTAGE
    return UNKNOWN_VOLTAGE_CLEARANCE_M, UNKNOWN_VOLTAGE
