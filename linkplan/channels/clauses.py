"""What breaks the licence, clause by clause of the user's own data."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date

from linkplan.channels.results import Breach
from linkplan.channels.stations import OwnStation, own_emission
from linkplan.plan.model import Plan
from linkplan.radio.licence import Licence, LicenceArea, LicensedChannel
from linkplan.terrain.geodesy import LocalFrame
from linkplan.units import HALF_WAVE_DIPOLE_DBI, METRES_PER_UNIT, watt_from_dbm

SAME_CHANNEL_KHZ = 0.1
"""Frequencies nearer to each other are the same."""

ROUNDING = 1.0 + 1e-6
"""A limit met to six digits is met."""

SOON_DAYS = 30


def breaches(plan: Plan, stations: tuple[OwnStation, ...], today: date) -> tuple[Breach, ...]:
    """Every clause that the job, as it states its bases, breaks; empty without a licence."""
    licence = plan.licence
    if licence is None:
        return ()
    found = [*_of_the_job(plan, licence, today)]
    for station in stations:
        found += _of_a_base(plan, licence, station)
    return tuple(found)


def channel_of(licence: Licence, frequency_mhz: float) -> LicensedChannel | None:
    """The licensed channel on a frequency, the widest where several are."""
    there = [
        one for one in licence.channels if abs(one.frequency_mhz - frequency_mhz) * 1e3 < SAME_CHANNEL_KHZ
    ]
    return max(there, key=lambda one: one.spacing_khz, default=None)


def over_channel_limit(station: OwnStation, channel: LicensedChannel) -> Breach | None:
    """What a base radiates above a channel's own limit."""
    return _over_power(station, f"{channel.clause}.", channel.erp_limit_w, channel.eirp_limit_w)


def licence_notes(plan: Plan, today: date) -> tuple[str, ...]:
    """What the user ought to know of the licence though it breaks nothing."""
    licence = plan.licence
    if licence is None:
        return (
            "The job has no [licence]: nothing shows that these transmissions are permitted. Add it from "
            "your own licence.",
        )
    found = []
    if licence.expires is None:
        found.append("licence.expires is not stated: look when your licence ends.")
    elif 0 <= (licence.expires - today).days <= SOON_DAYS:
        found.append(f"The licence ends soon, on {licence.expires.isoformat()}.")
    if licence.call_sign and plan.identification_interval_s is None:
        every = licence.identification_interval_s
        often = f" every {every / 60.0:g} minutes" if every is not None else ""
        found.append(
            f"Send the call sign {licence.call_sign}{often}: the job does not say that the radio does "
            "(radio.identification_interval_min)."
        )
    if licence.erp_limit_w is None and licence.eirp_limit_w is None:
        found.append("The licence data state no limit of radiated power: none was checked.")
    if licence.area is None:
        found.append("The licence data state no area: none was checked.")
    return tuple(found)


def _of_the_job(plan: Plan, licence: Licence, today: date) -> Iterator[Breach]:
    if licence.expires is not None and today > licence.expires:
        problem = f"the licence had ended by {today.isoformat()}"
        yield Breach("licence.expires", licence.expires.isoformat(), "the job", problem)
    every, own = licence.identification_interval_s, plan.identification_interval_s
    if every is not None and own is not None and own > every * ROUNDING:
        problem = f"the call sign is sent every {own / 60.0:g} minutes only"
        yield Breach("licence.identification_interval_min", f"{every / 60.0:g}", "the job", problem)
    if every is not None and not licence.call_sign:
        problem = "there is no licence.call_sign to identify with"
        yield Breach("licence.identification_interval_min", f"{every / 60.0:g}", "the job", problem)
    width, limit = own_emission(plan).bandwidth_khz, licence.authorised_bandwidth_khz
    if limit is not None and width > limit * ROUNDING:
        how = "" if plan.transmitter.occupied_bandwidth_khz else ", usual for the channel spacing"
        problem = f"the emission fills {width:g} kHz{how}"
        yield Breach("licence.authorised_bandwidth_khz", f"{limit:g}", "the job", problem)


def _of_a_base(plan: Plan, licence: Licence, station: OwnStation) -> Iterator[Breach]:
    who = station.who
    over = _over_power(station, "licence.", licence.erp_limit_w, licence.eirp_limit_w)
    if over is not None:
        yield over
    unit = METRES_PER_UNIT[plan.height_unit]
    height_m, limit_m = station.base.antenna_height_m, licence.antenna_height_limit_m
    if limit_m is not None and height_m > limit_m * ROUNDING:
        problem = f"the antenna stands {height_m / unit:.4g} above ground"
        yield Breach("licence.antenna_height_limit", f"{limit_m / unit:.6g}", who, problem)
    if licence.area is not None:
        problem = _outside(plan, licence.area, station)
        if problem:
            yield Breach(licence.area.clause, _area_text(plan, licence.area), who, problem)
    if station.frequency_mhz is not None:
        yield from _of_a_frequency(plan, licence, station, station.frequency_mhz)


def _of_a_frequency(
    plan: Plan, licence: Licence, station: OwnStation, frequency_mhz: float
) -> Iterator[Breach]:
    who = station.who
    channel = channel_of(licence, frequency_mhz)
    if channel is None:
        clauses = dict.fromkeys(one.clause.partition("[")[0] for one in licence.channels)
        stands = ", ".join(f"{one.frequency_mhz:.10g}" for one in licence.channels[:8])
        more = " ..." if len(licence.channels) > 8 else ""
        problem = f"sends on {frequency_mhz:.10g} MHz, which is none of the permitted frequencies"
        yield Breach(" or ".join(clauses), stands + more, who, problem)
        return
    width = own_emission(plan).bandwidth_khz
    if width > channel.spacing_khz * ROUNDING:
        problem = f"the emission fills {width:g} kHz of a channel of {channel.spacing_khz:g} kHz"
        yield Breach(f"{channel.clause}.spacing_khz", f"{channel.spacing_khz:g}", who, problem)
    over = over_channel_limit(station, channel)
    if over is not None:
        yield over


def _over_power(
    station: OwnStation, prefix: str, erp_limit_w: float | None, eirp_limit_w: float | None
) -> Breach | None:
    who = station.who
    for name, limit_w, level_dbm in (
        ("ERP", erp_limit_w, station.eirp_dbm - HALF_WAVE_DIPOLE_DBI),
        ("EIRP", eirp_limit_w, station.eirp_dbm),
    ):
        radiated_w = float(watt_from_dbm(level_dbm))
        if limit_w is not None and radiated_w > limit_w * ROUNDING:
            clause = f"{prefix}{name.lower()}_limit_w"
            return Breach(clause, f"{limit_w:g}", who, f"radiates {radiated_w:.3g} W {name}")
    return None


def _outside(plan: Plan, area: LicenceArea, station: OwnStation) -> str:
    """How a base lies outside the licence's area, or ""."""
    place = station.base.easting, station.base.northing
    if area.polygon is not None:
        from shapely import Point

        return "" if area.polygon.covers(Point(place)) else "stands outside the area"
    assert area.centre is not None
    assert area.radius_m is not None
    x_m, y_m = LocalFrame.around(plan.crs, *area.centre).to_local(*place)
    distance_m = math.hypot(x_m, y_m)
    if distance_m <= area.radius_m:
        return ""
    return f"stands {distance_m / METRES_PER_UNIT[plan.length_unit]:.5g} from licence.area_centre"


def _area_text(plan: Plan, area: LicenceArea) -> str:
    if area.radius_m is None:
        return "a polygon"
    return f"{area.radius_m / METRES_PER_UNIT[plan.length_unit]:.6g}"
