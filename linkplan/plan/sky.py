"""The [sky] section of a job file as an object: which satellites, when, from where, and what suffices."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from linkplan.plan.checking import Section
from linkplan.plan.clock import read_hours
from linkplan.plan.rows import FileFaults, read_rows
from linkplan.plan.settings import Settings
from linkplan.plan.sky_model import USUAL_BASE_GNSS_HEIGHT_M, USUAL_MASK_DEG, USUAL_SYSTEMS, SkyWishes
from linkplan.plan.values import direction_of
from linkplan.plan.words import Report
from linkplan.tables.constellations import SYSTEMS

_USUAL = ("least_satellites", "greatest_pdop", "least_common", "rover_greatest_pdop", "workable_share")
"""Keys whose defaults are common practice."""

Sections = Mapping[str, Section | None]
Directions = tuple[tuple[float, float], ...]


def read_sky(
    sections: Sections, settings: Settings | None, arp_height_m: float | None, report: Report
) -> SkyWishes | None:
    """What the job says about the sky; None where it says nothing or anything of the job is faulty.

    `arp_height_m`: of the base's GNSS antenna, where the job says how it is measured.
    """
    section, rover = sections["sky"], sections["rover"]
    if section is None:
        return None
    hours = read_hours(section, report)
    obstructions = _obstructions(section, report)
    if report.faults or hours is None or rover is None:
        return None
    assumed = [name for name in _USUAL if name not in section.present]
    sheet = sections["settings"] or Section({})
    stated_deg = (section["elevation_mask_deg"], sheet["elevation_mask_deg"])
    mask_deg = _first(*stated_deg)
    if mask_deg is None:
        assumed.append("elevation_mask_deg")
        mask_deg = USUAL_MASK_DEG
    elif None not in stated_deg and stated_deg[0] != stated_deg[1]:
        problem = f"{stated_deg[0]:g} degrees, but [settings] sets base and rovers to {stated_deg[1]:g}"
        report.warn("sky.elevation_mask_deg", problem)
    systems = _systems(section, settings, report)
    if not systems:
        assumed.append("systems")
    rover_mask_deg = _first(section["rover_elevation_mask_deg"], mask_deg)
    rover_height_m = _first(section["rover_gnss_height"], rover["antenna_height"])
    assert rover_mask_deg is not None
    assert rover_height_m is not None, "a rule of the table asks for it"
    return SkyWishes(
        hours=hours,
        step_s=60.0 * section["step_min"],
        orbit_files=section["orbits"] or (),
        systems=systems or USUAL_SYSTEMS,
        elevation_mask_deg=mask_deg,
        rover_elevation_mask_deg=rover_mask_deg,
        least_satellites=section["least_satellites"],
        greatest_pdop=section["greatest_pdop"],
        least_common=section["least_common"],
        rover_greatest_pdop=section["rover_greatest_pdop"],
        workable_share=section["workable_share"],
        obstructions=obstructions or (),
        base_gnss_height_m=_base_height_m(sections, arp_height_m),
        rover_gnss_height_m=rover_height_m,
        assumed=tuple(assumed),
    )


def _first(*values: float | None) -> float | None:
    """The first that is stated."""
    return next((value for value in values if value is not None), None)


def _base_height_m(sections: Sections, arp_height_m: float | None) -> float:
    """Of the base's GNSS antenna above ground, from whichever section says it."""
    sheet, siting = sections["settings"] or Section({}), sections["siting"] or Section({})
    stated = _first(arp_height_m, sheet["base_antenna_height"], siting["gnss_antenna_height"])
    return USUAL_BASE_GNSS_HEIGHT_M if stated is None else stated


def _systems(section: Section, settings: Settings | None, report: Report) -> tuple[str, ...]:
    """The systems that the section names, else those of [settings] whose satellites can be computed."""
    sheet = settings.values.get("satellite_systems") if settings is not None else None
    wanted = section["systems"]
    if wanted is not None and sheet is not None:
        off = [name for name in wanted if name not in sheet.members]
        if off:
            report.warn("sky.systems", f"{', '.join(off)}: not among the satellite systems of [settings]")
    named = wanted if wanted is not None else (sheet.members if sheet is not None else ())
    return tuple(system.name for system in SYSTEMS.values() if system.name in named)


def _obstructions(section: Section, report: Report) -> Directions | None:
    """Obstructions in ascending azimuth; None, with faults noted, where there are none."""
    directions: Directions | None = section["obstructions"]
    key = "sky.obstructions"
    if directions is not None:
        wrong = _out_of_order(directions)
        if wrong is not None:
            problem, cure = _order_words(directions, wrong)
            report.fault(f"{key}[{wrong + 1}]", section.raw("obstructions")[wrong], problem, cure)
    path: Path | None = section["obstructions_file"]
    if path is not None:
        directions = _from_file(path, FileFaults(report, f"{key}_file", section.raw("obstructions_file")))
    return _from_north(directions) if directions else None


def _from_file(path: Path, faults: FileFaults) -> Directions | None:
    before = faults.count
    found, lines = [], []
    for row in read_rows(path, ("azimuth", "elevation"), (), faults):
        pair = (row.number("azimuth", faults), row.number("elevation", faults))
        if None not in pair:
            own = Report()
            direction = direction_of(pair, "", own)
            for fault in own.faults:
                faults.add(f"row {row.line}: {fault.value}: {fault.problem}", fault.cure)
            if direction is not None:
                found.append(direction)
                lines.append(row.line)
    wrong = _out_of_order(tuple(found))
    if wrong is not None:
        problem, cure = _order_words(tuple(found), wrong)
        faults.add(f"row {lines[wrong]}: {problem}", cure)
    if not found and faults.count == before:
        faults.add("holds no direction", "give at least one row of azimuth,elevation")
    clean = faults.count == before
    faults.close()
    return tuple(found) if clean else None


def _out_of_order(directions: Directions) -> int | None:
    """The first place where a list that runs clockwise, and once across north at most, does not."""
    back = [place for place in range(1, len(directions)) if directions[place][0] < directions[place - 1][0]]
    if not back:
        return None
    if len(back) > 1:
        return back[1] if directions[back[0] - 1][0] > 180.0 else back[0]
    return back[0] if directions[-1][0] > directions[0][0] else None


def _order_words(directions: Directions, wrong: int) -> tuple[str, str]:
    problem = f"azimuth {directions[wrong][0]:g} comes after {directions[wrong - 1][0]:g}"
    return problem, "go round clockwise: azimuths ascend"


def _from_north(directions: Directions) -> Directions:
    """The same list begun with its smallest azimuth."""
    start = next(
        (place for place in range(1, len(directions)) if directions[place][0] < directions[place - 1][0]), 0
    )
    return (*directions[start:], *directions[:start])
