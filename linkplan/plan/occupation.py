"""The [occupation] section of a job file: how the base point was come by, and how its antenna is measured."""

from __future__ import annotations

import re

from linkplan.errors import RangeError
from linkplan.gnss.antenna_height import Method, arp_height_m, mounted_height_m
from linkplan.gnss.base_position import Origin
from linkplan.plan.checking import Section
from linkplan.plan.settings import Settings, metres_text
from linkplan.plan.sheet_fields import BY_NAME
from linkplan.plan.sheet_values import Stated, read_stated
from linkplan.plan.sky_model import WAY_WORDS, MeasuredHeight, Occupation, OccupationCheck
from linkplan.plan.stand import Ground, read_stand
from linkplan.plan.words import NOTHING, Report

SAME_M = 0.001
"""Antenna heights that differ by less are the same, as on settings sheets."""
RADIO_SAME_M = 0.05
"""The radio antenna's height needs no more than this: it moves a margin by far less than a decibel."""

_NEEDED: dict[Method, tuple[str, ...]] = {
    "slant": ("antenna_radius_mm", "mark_above_arp_mm"),
    "vertical": ("mark_above_arp_mm",),
    "arp": (),
}


def read_occupation(
    section: Section, base: Section | None, ground: Ground, report: Report
) -> Occupation | None:
    """How the base point is occupied; None, with faults noted, where anything of the section is faulty."""
    before = len(report.faults)
    on_control = base is not None and base["point"] is not None
    origin: Origin | None = section["method"] or ("known" if on_control else None)
    _check_averaging(section, origin, "occupation", report)
    if origin == "averaged" and on_control and base is not None:
        problem = f"averaged, but base.point takes the coordinates that [control] has for {base['point']}"
        report.warn("occupation.method", problem)
    measured = _measured(section, report)
    radio_m = _radio_above_arp_m(section, measured, base, report)
    checks = tuple(
        check
        for number, entry in enumerate(section["checks"] or (), start=1)
        if (check := _check(entry, number, ground, report)) is not None
    )
    if origin is None and "checks" in section.present and "method" not in section.present:
        problem = "missing: nothing says how the base's own coordinates were come by"
        cure = 'add method = "known", or method = "averaged" with averaging_s'
        report.fault("occupation.method", NOTHING, problem, cure)
    if len(report.faults) > before:
        return None
    return Occupation(origin, section["averaging_s"], measured, radio_m, checks)


def _check_averaging(section: Section, origin: Origin | None, where: str, report: Report) -> None:
    key = f"{where}.averaging_s"
    if origin == "averaged" and "averaging_s" not in section.present:
        cure = "add for how many seconds, such as averaging_s = 600"
        report.fault(key, NOTHING, 'missing: method = "averaged" needs it', cure)
    elif origin != "averaged" and "averaging_s" in section.present:
        cure = 'add method = "averaged", or leave it out'
        report.fault(key, section.raw("averaging_s"), 'goes with method = "averaged"', cure)


def _measured(section: Section, report: Report) -> MeasuredHeight | None:
    """The antenna's height as measured; None, with faults noted, where it is not stated or cannot be."""
    method: Method | None = section["measured"]
    if "measured" not in section.present:
        for name in ("antenna_radius_mm", "mark_above_arp_mm", "radio_above_arp"):
            if name in section.present and "height" not in section.present:
                problem = "goes with measured and height"
                report.fault(f"occupation.{name}", section.raw(name), problem, "add them, or leave it out")
    reading_m: float | None = section["height"]
    if method is None or reading_m is None:
        return None
    missing = [name for name in _NEEDED[method] if name not in section.present]
    for name in missing:
        what = "how far the measuring mark is from the antenna's axis"
        if name == "mark_above_arp_mm":
            what = "how far the measuring mark is above the antenna reference point, 0 where it is that point"
        report.fault(f"occupation.{name}", NOTHING, f'missing: measured = "{method}" needs it', f"add {what}")
    radius_m, mark_m = (_metres(section[name]) for name in ("antenna_radius_mm", "mark_above_arp_mm"))
    if missing or (radius_m is None and method == "slant"):
        return None
    try:
        arp_m = arp_height_m(reading_m, method, radius_m or 0.0, mark_m or 0.0)
    except RangeError as error:
        cure = "measure again, and check the antenna's data (in millimetres)"
        report.fault("occupation.height", section.raw("height"), str(error), cure)
        return None
    return MeasuredHeight(method, reading_m, radius_m, mark_m, arp_m)


def _metres(millimetres: float | None) -> float | None:
    return None if millimetres is None else millimetres / 1000.0


def _radio_above_arp_m(
    section: Section, measured: MeasuredHeight | None, base: Section | None, report: Report
) -> float | None:
    """How far the radio antenna is above the ARP; what then differs from [base] is warned of."""
    above_m: float | None = section["radio_above_arp"]
    if above_m is None or measured is None:
        return above_m
    try:
        radio_m = mounted_height_m(measured.arp_height_m, above_m)
    except RangeError as error:
        raw = section.raw("radio_above_arp")
        report.fault("occupation.radio_above_arp", raw, str(error), "check it, and height")
        return None
    stated_m = base["antenna_height"] if base is not None else None
    if stated_m is not None and abs(stated_m - radio_m) > RADIO_SAME_M:
        problem = (
            f"{metres_text(stated_m)}, but [occupation] puts the radio antenna at {millimetres_text(radio_m)}"
        )
        report.warn("base.antenna_height", f"{problem} above ground; coverage counts with the former")
    return above_m


def _check(entry: Section, number: int, ground: Ground, report: Report) -> OccupationCheck | None:
    where = f"occupation.checks[{number}]"
    origin: Origin | None = entry["method"] or ("known" if entry["point"] is not None else None)
    if origin is None and "method" not in entry.present and "position" in entry.present:
        cure = 'add method = "averaged" with averaging_s, or method = "known"'
        report.fault(
            f"{where}.method", NOTHING, "missing: nothing says how these coordinates were come by", cure
        )
    _check_averaging(entry, origin, where, report)
    stand = read_stand(entry, where, ground, report)
    if stand is None or origin is None:
        return None
    name = entry["name"] or stand.name or f"check {number}"
    return OccupationCheck(name, stand.easting, stand.northing, stand.height_m, origin, entry["averaging_s"])


def with_measured_height(
    settings: Settings | None, occupation: Occupation | None, report: Report
) -> Settings | None:
    """The settings with the antenna height that the occupation gives, where they are silent about it.

    Where they state one that does not agree with it a warning is noted.
    """
    if occupation is None or occupation.measured is None:
        return settings
    values = dict(settings.values) if settings is not None else {}
    height, method = values.get("base_antenna_height"), values.get("base_antenna_height_method")
    readings = occupation.measured.readings_m
    if height is not None and height.number is not None:
        _compare(float(height.number), method.shown if method else "", readings, report)
        return settings
    ways = understood(method.shown) if method is not None else ("arp",)
    if len(ways) != 1 or ways[0] not in readings:
        return settings
    values["base_antenna_height"] = _stated("base_antenna_height", millimetres_text(readings[ways[0]]))
    if method is None:
        values["base_antenna_height_method"] = _stated("base_antenna_height_method", WAY_WORDS["arp"])
    return Settings(values, settings.filter_own if settings is not None else False)


def millimetres_text(metres: float) -> str:
    """A height to a tenth of a millimetre, no better than any tape."""
    return metres_text(round(metres, 4))


def understood(text: str) -> tuple[Method, ...]:
    """The ways of measuring that a settings sheet's words can mean; all of them where they say none."""
    words = text.casefold()
    if "slant" in words or "slope" in words:
        return ("slant",)
    if "reference point" in words or re.search(r"\barp\b", words):
        return ("arp",)
    return ("arp", "vertical") if "vertical" in words else ("arp", "vertical", "slant")


def _compare(stated_m: float, method: str, readings: dict[Method, float], report: Report) -> None:
    """Warn of an antenna height that is no reading by the way that is stated for it."""
    expected = [readings[way] for way in understood(method) if way in readings]
    if not expected or any(abs(stated_m - reading) <= SAME_M for reading in expected):
        return
    gives = ", ".join(f"{millimetres_text(readings[way])} {WAY_WORDS[way]}" for way in readings)
    looks = [WAY_WORDS[way] for way, reading in readings.items() if abs(stated_m - reading) <= SAME_M]
    hint = f"; it looks like the one {looks[0]}" if looks else ""
    said = f', "{method}",' if method else ""
    report.warn(
        "settings.base_antenna_height",
        f"{metres_text(stated_m)}{said} does not agree with [occupation], which gives {gives}{hint}",
    )


def _stated(name: str, text: str) -> Stated:
    stated = read_stated(text, BY_NAME[name])
    assert stated is not None, name
    return stated
