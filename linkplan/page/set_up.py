"""A set-up: what the user moves on the page, put over a job without touching its file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from linkplan.errors import PlaceError
from linkplan.page.words import RequestError, number_of, only, text_of
from linkplan.plan.keys import TABLES
from linkplan.plan.model import Base, Plan
from linkplan.plan.schema import Key
from linkplan.units import dbm_from_watt, watt_from_dbm

_SAME_DB = 1e-9
FARTHEST = 1e9
"""Of a job's coordinates: no zone or grid comes near it, whatever its unit."""


@dataclass(frozen=True)
class At:
    """A place as the page names it: one of four ways, the others None."""

    point: str | None = None
    """A control point's name, ..."""
    place: str | None = None
    """... that of another place of [siting], ..."""
    job: tuple[float, float] | None = None
    """... easting and northing in the job's coordinates, ..."""
    geographic: tuple[float, float] | None = None
    """... or WGS 84 longitude and latitude, degrees."""


@dataclass(frozen=True)
class SetUp:
    """None: as in the job file."""

    base: At | None = None
    antenna_height_m: float | None = None
    power_w: float | None = None
    rover_height_m: float | None = None
    frequency_mhz: float | None = None
    chance: float | None = None
    antenna_gain_dbi: float | None = None
    feeder_loss_db: float | None = None


@dataclass(frozen=True)
class Editable:
    """One number of a set-up: its name here, its place in the job file, and where its slider goes."""

    key: str
    job_key: str
    label: str
    kind: str
    """"height", "power", "frequency", "chance" or "dB"."""
    slider_low: float
    slider_high: float
    step: float


EDITABLE = (
    Editable(
        "antenna_height_m", "base.antenna_height", "Base antenna above ground", "height", 1.0, 15.0, 0.1
    ),
    Editable("power_w", "radio.power_w", "Power", "power", 0.5, 35.0, 0.5),
    Editable("rover_height_m", "rover.antenna_height", "Rover antenna above ground", "height", 1.0, 5.0, 0.1),
    Editable("frequency_mhz", "radio.frequency_mhz", "Frequency", "frequency", 400.0, 475.0, 0.0125),
    Editable("chance", "goal.chance", "Wanted chance", "chance", 0.5, 0.995, 0.005),
    Editable("antenna_gain_dbi", "radio.antenna_gain_dbi", "Base antenna gain", "dB", 0.0, 12.0, 0.1),
    Editable("feeder_loss_db", "radio.feeder_loss_db", "Base feeder and connectors", "dB", 0.0, 10.0, 0.1),
)
"""Sliders go over what is usual on site [common practice]; the job file's own limits hold."""

UNIT = {"power": "W", "frequency": "MHz", "chance": "", "dB": "dB"}


def limits(job_key: str) -> tuple[float, float]:
    """What the job file allows for a key, SI."""
    table, _, name = job_key.partition(".")
    key: Key = next(one for one in TABLES if one.name == table).key(name)
    return key.low, key.high


def set_up_from(body: Any) -> SetUp:
    """A set-up out of a request; RequestError for what is none."""
    if not isinstance(body, Mapping):
        raise RequestError("set_up: an object is wanted")
    only(body, *(one.name for one in fields(SetUp)))
    found: dict[str, Any] = {}
    for one in EDITABLE:
        if body.get(one.key) is not None:
            found[one.key] = number_of(body[one.key], f"set_up.{one.key}", *limits(one.job_key))
    if body.get("base") is not None:
        found["base"] = at_from(body["base"], "set_up.base")
    return SetUp(**found)


def at_from(body: Any, name: str) -> At:
    """A place out of a request; of several ways to name it the first counts."""
    if not isinstance(body, Mapping):
        raise RequestError(f"{name}: an object is wanted")
    only(
        body, "point", "place", "easting", "northing", "longitude", "latitude",
        "name", "ground_m", "height_m",
    )  # fmt: skip
    if body.get("point") is not None:
        return At(point=text_of(body["point"], f"{name}.point"))
    if body.get("place") is not None:
        return At(place=text_of(body["place"], f"{name}.place"))
    if body.get("easting") is not None:
        easting, northing = (
            number_of(body.get(axis), f"{name}.{axis}", -FARTHEST, FARTHEST)
            for axis in ("easting", "northing")
        )
        return At(job=(easting, northing))
    longitude = number_of(body.get("longitude"), f"{name}.longitude", -360.0, 360.0)
    return At(geographic=(longitude, number_of(body.get("latitude"), f"{name}.latitude", -90.0, 90.0)))


@dataclass(frozen=True)
class Spot:
    """A place found: in the job's coordinates, with its name where it has one."""

    name: str
    easting: float
    northing: float
    height_m: float | None
    control: bool


def spot_of(plan: Plan, at: At) -> Spot:
    """Where a place lies; PlaceError where the job has none of that name, or no coordinates for it."""
    if at.point is not None:
        for point in plan.control_points:
            if point.name == at.point:
                return Spot(point.name, point.easting, point.northing, point.height_m, True)
        raise PlaceError(f"the job has no control point {at.point!a}")
    if at.place is not None:
        for place in plan.siting.places if plan.siting is not None else ():
            if place.name == at.place:
                return Spot(place.name, place.easting, place.northing, place.height_m, place.known)
        raise PlaceError(f"[siting] names no place {at.place!a}")
    easting, northing = at.job if at.job is not None else _in_job(plan, at.geographic or (0.0, 0.0))
    if not (math.isfinite(easting) and math.isfinite(northing)):
        raise PlaceError("the place lies outside what the job's coordinate system can express")
    return Spot("", easting, northing, None, False)


def _in_job(plan: Plan, place: tuple[float, float]) -> tuple[float, float]:
    """Job coordinates of WGS 84 degrees: rounded to what a mast is set up to, as they go into the file."""
    from pyproj.exceptions import ProjError

    from linkplan.terrain.geodesy import WGS84, horizontal_crs, transformer_between

    flat = horizontal_crs(plan.crs)
    try:
        easting, northing = transformer_between(WGS84, flat).transform(*place)
    except ProjError:
        return math.inf, math.inf
    if not math.isfinite(easting + northing):
        return math.inf, math.inf
    digits = 7 if flat.is_geographic else 2
    return round(float(easting), digits), round(float(northing), digits)


def geographic(plan: Plan, easting: float, northing: float) -> tuple[float, float]:
    """WGS 84 longitude and latitude of a place of the job, degrees."""
    from linkplan.terrain.geodesy import WGS84, horizontal_crs, transformer_between

    found = transformer_between(horizontal_crs(plan.crs), WGS84).transform(easting, northing)
    return float(found[0]), float(found[1])


def with_set_up(plan: Plan, set_up: SetUp) -> Plan:
    """The job as the set-up has it; the very same numbers where it says what the job says."""
    base, transmitter, rover, goal = plan.base, plan.transmitter, plan.rover, plan.goal
    if set_up.base is not None:
        base = _moved(plan, base, set_up.base)
    if set_up.antenna_height_m is not None:
        base = replace(base, antenna_height_m=set_up.antenna_height_m)
    if set_up.power_w is not None:
        power_dbm = float(dbm_from_watt(set_up.power_w))
        if not math.isclose(power_dbm, transmitter.power_dbm, abs_tol=_SAME_DB):
            transmitter = replace(transmitter, power_dbm=power_dbm)
    if set_up.frequency_mhz is not None:
        transmitter = replace(transmitter, frequency_mhz=set_up.frequency_mhz)
    if set_up.antenna_gain_dbi is not None:
        transmitter = replace(
            transmitter, antenna=replace(transmitter.antenna, gain_dbi=set_up.antenna_gain_dbi)
        )
    if set_up.feeder_loss_db is not None:
        transmitter = replace(transmitter, feeder=replace(transmitter.feeder, loss_db=set_up.feeder_loss_db))
    if set_up.rover_height_m is not None:
        rover = replace(rover, antenna_height_m=set_up.rover_height_m)
    if set_up.chance is not None:
        goal = replace(goal, chance=set_up.chance)
    return replace(plan, base=base, transmitter=transmitter, rover=rover, goal=goal)


def _moved(plan: Plan, base: Base, at: At) -> Base:
    spot = spot_of(plan, at)
    if (spot.easting, spot.northing) == (base.easting, base.northing):
        return base
    return replace(
        base, name=spot.name or "base", easting=spot.easting, northing=spot.northing, height_m=spot.height_m
    )


def numbers_of(plan: Plan) -> dict[str, float]:
    """The editable numbers as a job has them."""
    transmitter = plan.transmitter
    return {
        "antenna_height_m": plan.base.antenna_height_m,
        "power_w": float(f"{float(watt_from_dbm(transmitter.power_dbm)):.12g}"),
        "rover_height_m": plan.rover.antenna_height_m,
        "frequency_mhz": transmitter.frequency_mhz,
        "chance": plan.goal.chance,
        "antenna_gain_dbi": transmitter.antenna.gain_dbi,
        "feeder_loss_db": transmitter.feeder.loss_db,
    }


def base_body(plan: Plan) -> dict[str, Any]:
    """Where the base of a job stands."""
    base = plan.base
    longitude, latitude = geographic(plan, base.easting, base.northing)
    point = next(
        (
            one.name for one in plan.control_points
            if (one.easting, one.northing) == (base.easting, base.northing)
        ),
        None,
    )  # fmt: skip
    return {
        "name": base.name, "point": point, "easting": base.easting, "northing": base.northing,
        "longitude": longitude, "latitude": latitude,
    }  # fmt: skip
