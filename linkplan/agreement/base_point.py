"""How the base point of a job is occupied: what the tape reads, what its coordinates are worth."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.gnss.antenna_height import Confusion, Method, confusions
from linkplan.gnss.base_position import (
    BaseErrorEffect,
    Origin,
    PositionError,
    TwoOccupations,
    compare_occupations,
    effect_of,
    position_error,
)
from linkplan.plan.model import Plan
from linkplan.plan.sky_model import WAY_WORDS, MeasuredHeight, Occupation, OccupationCheck
from linkplan.terrain.geodesy import LocalFrame


@dataclass(frozen=True)
class TapeReading:
    """What a tape reads by one way of measuring."""

    way: Method
    words: str
    reading_m: float


@dataclass(frozen=True)
class AntennaSetUp:
    """The height of the base's GNSS antenna."""

    readings: tuple[TapeReading, ...]
    """By every way that the antenna's data allow; first the one that the job measures by."""
    arp_m: float
    """Of the antenna reference point above the point on the ground."""
    confusions: tuple[Confusion, ...]
    """What comes of entering the job's reading as another one, the greatest error first."""
    radio_m: float | None
    """Of the radio antenna, where it stands on the same mast."""


@dataclass(frozen=True)
class PositionSetUp:
    """What the coordinates of the base are worth."""

    origin: Origin
    averaging_s: float | None
    error: PositionError
    """95 % [common practice]."""
    effect: BaseErrorEffect
    """On the job, over its longest baseline."""


@dataclass(frozen=True)
class ComparedPosition:
    """Another position of the base point, less the base's own."""

    name: str
    origin: Origin
    averaging_s: float | None
    found: TwoOccupations


@dataclass(frozen=True)
class BasePointSetUp:
    """All that the job says about how its base point is occupied."""

    antenna: AntennaSetUp | None
    position: PositionSetUp | None
    compared: tuple[ComparedPosition, ...]
    length_unit: str
    """Key of `units.METRES_PER_UNIT`, as the job shows distances; and heights:"""
    height_unit: str


def base_point(plan: Plan) -> BasePointSetUp | None:
    """What follows from the job's [occupation]; None where it has none."""
    occupation = plan.occupation
    if occupation is None:
        return None
    return BasePointSetUp(
        antenna=_antenna(occupation.measured, occupation.radio_height_m) if occupation.measured else None,
        position=_position(plan, occupation),
        compared=_compared(plan, occupation),
        length_unit=plan.length_unit,
        height_unit=plan.height_unit,
    )


def longest_baseline_m(plan: Plan) -> float:
    """From the job's base to the farthest corner of its boundary."""
    import numpy as np
    import shapely

    frame = LocalFrame.around(plan.crs, plan.base.easting, plan.base.northing)
    corners = shapely.get_coordinates(plan.boundary)
    x_m, y_m = frame.to_local(corners[:, 0], corners[:, 1])
    return float(np.hypot(x_m, y_m).max())


def _antenna(measured: MeasuredHeight, radio_m: float | None) -> AntennaSetUp:
    return AntennaSetUp(
        readings=tuple(
            TapeReading(way, WAY_WORDS[way], reading) for way, reading in measured.readings_m.items()
        ),
        arp_m=measured.arp_height_m,
        confusions=tuple(one for one in _confusions(measured) if one.entered is not None),
        radio_m=radio_m,
    )


def _confusions(measured: MeasuredHeight) -> tuple[Confusion, ...]:
    return confusions(measured.reading_m, measured.method, measured.radius_m, measured.mark_above_arp_m)


def _position(plan: Plan, occupation: Occupation) -> PositionSetUp | None:
    if occupation.origin is None:
        return None
    error = position_error(occupation.origin, occupation.averaging_s)
    effect = effect_of(error, longest_baseline_m(plan))
    return PositionSetUp(occupation.origin, occupation.averaging_s, error, effect)


def _compared(plan: Plan, occupation: Occupation) -> tuple[ComparedPosition, ...]:
    if occupation.origin is None or not occupation.checks:
        return ()
    own = position_error(occupation.origin, occupation.averaging_s)
    frame = LocalFrame.around(plan.crs, plan.base.easting, plan.base.northing)
    known = _confusions(occupation.measured) if occupation.measured else ()

    def compare(check: OccupationCheck) -> ComparedPosition:
        east_m, north_m = frame.to_local(check.easting, check.northing)
        heights = (check.height_m, plan.base.height_m)
        up_m = None if heights[0] is None or heights[1] is None else heights[0] - heights[1]
        theirs = position_error(check.origin, check.averaging_s)
        found = compare_occupations(east_m, north_m, up_m, own, theirs, known)
        return ComparedPosition(check.name, check.origin, check.averaging_s, found)

    return tuple(compare(check) for check in occupation.checks)
