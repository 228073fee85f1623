"""The set-up sheets that follow from a job: what its base and its rovers are to be set to."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from linkplan.agreement.compare import JobSheets
from linkplan.errors import PlaceError
from linkplan.plan.model import Base, FurtherBase, Plan
from linkplan.plan.settings import metres_text, millimetres_shown
from linkplan.plan.sheet_fields import BY_NAME, Role
from linkplan.plan.sheet_values import Stated, read_stated
from linkplan.plan.sheets import Sheet

SYSTEM_OF_MSM = {
    107: "GPS", 108: "GLONASS", 109: "Galileo", 110: "SBAS", 111: "QZSS", 112: "BeiDou", 113: "NavIC",
}  # fmt: skip
"""First three digits of the MSM message numbers [RTCM 10403.3]."""
OF_ONE_BASE = frozenset({"base_antenna", "base_antenna_height", "base_antenna_height_method", "time_slot"})
"""Settings of the job's first base alone: what another base has is not said by them."""
LEGACY_SYSTEM = {**dict.fromkeys(range(1001, 1005), "GPS"), **dict.fromkeys(range(1009, 1013), "GLONASS")}
"""Observations before MSM [RTCM 10403.3]."""


def job_sheets(plan: Plan, base_name: str | None = None) -> JobSheets:
    """The sheets of a base and of its rovers as the job wants them; the job's first base by default.

    Both hold the same fields with the same values, so both have one code; what the job does not say is
    not stated on them either. Raises PlaceError when the job has no base of that name.
    """
    further = _further_base(plan, base_name)
    base = plan.base if further is None else further.base
    values = _from_sections(plan, base, further)
    if plan.settings is not None:
        own = plan.settings.values
        for name, value in own.items():
            if further is None or name not in OF_ONE_BASE or value.canonical == "none":
                values[name] = value
        if plan.settings.filter_own and "station_id" in values:
            values["id_filter"] = values["station_id"]
    if "satellite_systems" not in values and "messages" in values:
        systems = systems_of(int(number) for number in values["messages"].canonical.split(","))
        if systems:
            values["satellite_systems"] = _stated("satellite_systems", ", ".join(systems))
    if "repeater" in values and values["repeater"].canonical == "none":
        values.setdefault("repeater_frequency", Stated("none", "none"))
    file = str(plan.file)

    def sheet(role: Role, name: str) -> Sheet:
        return Sheet(role, name, file, values)

    return JobSheets(plan.name, sheet("base", f"base {_bare(base.name)}".strip()), sheet("rover", "rover"))


def _further_base(plan: Plan, name: str | None) -> FurtherBase | None:
    """The further base of that name; None for the first base."""
    if name is None or name == plan.base.name:
        return None
    for further in plan.bases:
        if further.base.name == name:
            return further
    names = ", ".join([plan.base.name, *(one.base.name for one in plan.bases)])
    raise PlaceError(f'{plan.file}: no base "{name}" in this job; its bases are {names}')


def _bare(name: str) -> str:
    return "" if name == "base" else name


def systems_of(numbers: Iterable[int]) -> list[str]:
    """Satellite systems whose observations these messages carry, in the order of the numbers."""
    found = (SYSTEM_OF_MSM.get(n // 10) or LEGACY_SYSTEM.get(n) for n in sorted(numbers))
    return list(dict.fromkeys(name for name in found if name))


def _from_sections(plan: Plan, base: Base, further: FurtherBase | None) -> dict[str, Stated]:
    """What the sections that compute the link say already."""
    written = {
        "channel_spacing": f"{_number(plan.transmitter.channel_spacing_khz)} kHz",
        **_position(plan, base),
    }
    frequency_mhz = plan.transmitter.frequency_mhz if further is None else further.frequency_mhz
    if frequency_mhz is not None:
        written["corrections_frequency"] = f"{_number(frequency_mhz)} MHz"
    station_id = plan.corrections.station_id if plan.corrections else None
    if further is not None:
        station_id = further.station_id
    if station_id is not None:
        written["station_id"] = str(station_id)
    receiver = plan.rover.receiver
    if receiver.modulation:
        written["modulation"] = receiver.modulation
    stream = plan.corrections
    if stream is not None:
        if stream.messages:
            written["messages"] = " ".join(str(one.number) for one in stream.messages)
        if stream.framing is not None:
            written["over_air_rate"] = f"{_number(stream.framing.rate_bps)} bit/s"
            if base.slot is not None and stream.framing.slots > 1:
                written["time_slot"] = f"{base.slot} of {stream.framing.slots}"
    return {name: _stated(name, text) for name, text in written.items()}


def _position(plan: Plan, base: Base) -> dict[str, str]:
    """Where the base stands, in the job's coordinate system and its unit."""
    axis = plan.crs.axis_info[0]
    authority = plan.crs.to_authority(min_confidence=100)
    written = {"coordinate_system": f"{authority[0]}:{authority[1]}" if authority else plan.crs.name}
    degrees = plan.crs.is_geographic
    unit = "deg" if degrees else _unit_of(axis.unit_conversion_factor)
    if unit:
        show = _number if degrees else lambda value: millimetres_shown(_number(value))
        written["base_easting"] = f"{show(base.easting)} {unit}"
        written["base_northing"] = f"{show(base.northing)} {unit}"
        written["coordinate_unit"] = {"m": "metre", "ft": "foot", "ftUS": "us-survey-foot", "deg": "degree"}[
            unit
        ]
    if base.height_m is not None:
        written["base_height"] = metres_text(base.height_m)
    return written


def _unit_of(metres: float) -> str:
    """Short name of the unit of so many metres, or "" for one that sheets do not know."""
    sizes = {"m": Fraction(1), "ft": Fraction(3048, 10000), "ftUS": Fraction(1200, 3937)}
    return next((name for name, size in sizes.items() if abs(metres - size) < 1e-9), "")


def _number(value: float) -> str:
    """A float as the shortest decimal that means it, without an exponent."""
    text = format(Decimal(repr(float(value))), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _stated(name: str, text: str) -> Stated:
    stated = read_stated(text, BY_NAME[name])
    assert stated is not None, name
    return stated
