"""The antenna's field: how far from it the limits of exposure reach, keyed all the time and on average.

The far field's formula with the ground's usual reflection, and the greatest gain in every direction. Several
antennas add up by their shares of the limits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from linkplan.plan.model import Base, Plan
from linkplan.plan.siting_model import SitingRules
from linkplan.radio import budget
from linkplan.radio.air_time import AirTime, air_time
from linkplan.radio.exposure import (
    exposure_distance_m,
    far_field_from_m,
    limit_w_m2,
    pattern_ground_radius_m,
)
from linkplan.ranges import require_range
from linkplan.safety.results import CountedAntenna, ExposureAnswer, ExposureFigure, Reach
from linkplan.tables.exposure import GROUPS, HEAD_HEIGHT_M, LIMITS, PUBLIC, REFLECTION_FACTOR
from linkplan.tables.safety import SAME_MAST_M
from linkplan.terrain.geodesy import LocalFrame
from linkplan.units import HALF_WAVE_DIPOLE_DBI, SPEED_OF_LIGHT_M_S, watt_from_dbm

OWN = "own"
"""Key of the limits that the job states itself."""

_ROUNDING_DB = 0.05
"""Gains are stated to a tenth of a decibel."""
_STEPS = 200
"""Halvings of a search: down to the last bit."""


def exposure_of(plan: Plan, frame: LocalFrame) -> ExposureAnswer:
    """Every limit for every group at the job's base, the origin of `frame`."""
    transmitter, stated_m = plan.transmitter, plan.safety.antenna_length_m
    half_wave_m = 0.5 * SPEED_OF_LIGHT_M_S / (transmitter.frequency_mhz * 1e6)
    length_m = half_wave_m if stated_m is None else stated_m
    antennas = counted_antennas(plan, frame)
    far_m = max(far_field_from_m(one.frequency_mhz, length_m) for one in antennas)
    stream, unknown = _stream(plan)
    own = plan.safety.public_limit_w_m2 is not None
    rules = plan.siting.rules if plan.siting is not None else SitingRules()
    figures = tuple(
        _figure(plan, antennas, key, group, stream, far_m)
        for key in ((OWN, *LIMITS) if own else tuple(LIMITS))
        for group in GROUPS
    )
    return ExposureAnswer(
        antennas=antennas,
        reflection_factor=REFLECTION_FACTOR,
        head_height_m=HEAD_HEIGHT_M,
        antenna_length_m=length_m,
        antenna_length_assumed=stated_m is None,
        antenna_is_longer=stated_m is None
        and transmitter.antenna.gain_dbi > HALF_WAVE_DIPOLE_DBI + _ROUNDING_DB,
        far_field_from_m=far_m,
        duty_unknown=unknown,
        judged_by=OWN if own else rules.exposure_limits,
        figures=figures,
    )


def counted_antennas(plan: Plan, frame: LocalFrame) -> tuple[CountedAntenna, ...]:
    """The base's antenna, and those of further bases so near that they may stand on one mast with it."""
    found = [_counted(plan, plan.base, plan.transmitter.power_dbm, None, 0.0)]
    for further in plan.bases:
        away_m = math.hypot(*frame.to_local(further.base.easting, further.base.northing))
        if away_m <= SAME_MAST_M:
            found.append(_counted(plan, further.base, further.power_dbm, further.frequency_mhz, away_m))
    return tuple(found)


def averaged_duty(stream: AirTime, averaging_min: float) -> float | None:
    """The greatest share of any time of so many minutes that a stream keys the transmitter; None where its
    pattern is too long to follow.

    Such a time touches no more than ceil(T / pattern) whole patterns' worth of keying.
    """
    if stream.bounded:
        return None
    window_s = 60.0 * averaging_min
    patterns = math.ceil(window_s / stream.pattern_s - 1e-9)
    return min(stream.duty_cycle * patterns * stream.pattern_s / window_s, 1.0)


def added_radius_m(distances_m: Sequence[float], away_m: Sequence[float], over_m: Sequence[float]) -> float:
    """Radius around a point beyond which antennas together keep the limits, m.

    `distances_m` the exposure distance of each alone, `away_m` how far it stands from the point, `over_m`
    how far above the people at that radius (0 and more, as are all). Each uses up (R / distance)^2 of its
    limit; an antenna counts as standing on the side where people are, so the radius holds in every direction.
    Values 0 to 1e6 m, RangeError.
    """
    for name, values in (("distances_m", distances_m), ("away_m", away_m), ("over_m", over_m)):
        for value in values:
            require_range(name, value, 0.0, 1e6, unit="m")

    def exceeded(radius_m: float) -> bool:
        used = 0.0
        for distance, away, over in zip(distances_m, away_m, over_m, strict=True):
            squared = max(radius_m - away, 0.0) ** 2 + over**2
            if squared == 0.0:
                used += math.inf if distance > 0.0 else 0.0
            else:
                used += distance**2 / squared
        return used > 1.0

    if not exceeded(0.0):
        return 0.0
    low, high = 0.0, max(away_m) + math.hypot(*distances_m)
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if exceeded(middle) else (low, middle)
    return high


def _counted(
    plan: Plan, base: Base, power_dbm: float, frequency_mhz: float | None, away_m: float
) -> CountedAntenna:
    transmitter = replace(plan.transmitter, power_dbm=power_dbm)
    return CountedAntenna(
        name=base.name,
        power_w=float(watt_from_dbm(power_dbm)),
        eirp_w=float(watt_from_dbm(budget.peak_eirp_dbm(transmitter))),
        frequency_mhz=frequency_mhz or transmitter.frequency_mhz,
        height_m=base.antenna_height_m,
        away_m=float(away_m),
    )


def _stream(plan: Plan) -> tuple[AirTime | None, str]:
    """The base's stream on the air, or why there is none."""
    stream = plan.corrections
    if stream is None or stream.framing is None:
        missing = "[corrections]" if stream is None else "[framing]"
        return None, f"the job has no {missing}, so how long the transmitter is keyed is unknown"
    found = air_time(stream.messages, stream.framing)
    if found.bounded:
        return None, "the pattern of messages is too long to follow, so no share of the time is claimed"
    return found, ""


def _limit(plan: Plan, key: str, group: str, frequency_mhz: float) -> float:
    if key != OWN:
        return limit_w_m2(key, group, frequency_mhz)
    wishes = plan.safety
    stated = wishes.public_limit_w_m2 if group == PUBLIC else wishes.worker_limit_w_m2
    assert stated is not None, "a rule of the table asks for both"
    return stated


def _averaging_min(key: str, group: str) -> float | None:
    if key == OWN:
        return None
    document = LIMITS[key]
    return document.public_averaging_min if group == PUBLIC else document.worker_averaging_min


def _figure(
    plan: Plan,
    antennas: Sequence[CountedAntenna],
    key: str,
    group: str,
    stream: AirTime | None,
    far_m: float,
) -> ExposureFigure:
    limits = [_limit(plan, key, group, one.frequency_mhz) for one in antennas]
    averaging_min = _averaging_min(key, group)
    duty = None if stream is None or averaging_min is None else averaged_duty(stream, averaging_min)
    return ExposureFigure(
        limits=key,
        name=LIMITS[key].name if key != OWN else "the job's own limits",
        group=group,
        limit_w_m2=limits[0],
        averaging_min=averaging_min,
        keyed=_reach(plan, antennas, limits, 1.0, far_m),
        duty=duty,
        averaged=None if duty is None else _reach(plan, antennas, limits, duty, far_m),
    )


def _reach(
    plan: Plan, antennas: Sequence[CountedAntenna], limits: Sequence[float], duty: float, far_m: float
) -> Reach:
    """`duty` is that of the base's own antenna; of the others nobody says it."""
    duties = [duty, *[1.0] * (len(antennas) - 1)]
    alone = [
        exposure_distance_m(one.eirp_w, limit, duty=share)
        for one, limit, share in zip(antennas, limits, duties, strict=True)
    ]
    base_m = antennas[0].height_m
    apart = [math.hypot(one.away_m, one.height_m - base_m) for one in antennas]
    over = [max(one.height_m - HEAD_HEIGHT_M, 0.0) for one in antennas]
    distance_m = added_radius_m(alone, apart, [0.0] * len(antennas))
    near = distance_m < far_m
    own, pattern_m = plan.transmitter, None
    if own.antenna.pattern is not None and len(antennas) == 1 and not near:
        into_antenna_w = float(watt_from_dbm(own.power_dbm - own.feeder.loss_db))
        found_m = pattern_ground_radius_m(own.antenna, into_antenna_w, limits[0], base_m, duty=duty)
        pattern_m = found_m if math.hypot(found_m, over[0]) >= far_m else None
    return Reach(
        distance_m=distance_m,
        ground_radius_m=added_radius_m(alone, [one.away_m for one in antennas], over),
        pattern_radius_m=pattern_m,
        lowest_m=max(base_m - distance_m, 0.0),
        highest_m=base_m + distance_m,
        near_field=near,
    )
