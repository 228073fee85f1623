"""The [siting] section of a job file as objects: candidates, what counts, and how many set-ups are wanted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from linkplan.plan.boundary import AreaWords, read_area
from linkplan.plan.checking import Section
from linkplan.plan.control import read_points
from linkplan.plan.keys_siting import LAYER_WORDS
from linkplan.plan.model import ControlPoint
from linkplan.plan.radio_values import antenna_of, gain_dbi, pattern_of, power_dbm
from linkplan.plan.siting_ground import KnownElsewhere, NameList, read_corridor, read_rules, read_zones
from linkplan.plan.siting_model import DEFAULT_ORDER, NamedAntenna, Place, Siting
from linkplan.plan.stand import Ground
from linkplan.plan.vector import LayerKeys
from linkplan.plan.words import NOTHING, Report, choose, quoted
from linkplan.radio.equipment import VerticalPattern
from linkplan.units import METRES_PER_UNIT, dbm_from_watt

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

_GRID = AreaWords("ground where a base may stand", "the ground where a base may stand")

UNNAMED = "P"
"""Points of a vector file without names are P1, P2 and so on."""


def read_siting(
    sections: Mapping[str, Section | None],
    ground: Ground,
    boundary: Polygon | MultiPolygon | None,
    pattern: VerticalPattern | None,
    known: KnownElsewhere,
    report: Report,
) -> Siting | None:
    """What the job says about siting; None where it says nothing or anything of the job is faulty.

    `pattern` is that of the radio's own antenna. Faults of the section are noted whatever else is wrong.
    """
    section = sections["siting"]
    if section is None:
        return None
    goal = sections["goal"] or Section({})
    for word in LAYER_WORDS:
        LayerKeys(section, "siting", word).note_strays(report)
    places = _places(section, sections["units"] or Section({}), ground, report)
    grid = read_area(LayerKeys(section, "siting", "grid_"), ground.crs, _GRID, report)
    zones = read_zones(section, goal["share"], boundary, ground.crs, report)
    rules = read_rules(section, sections, known, ground.crs, report)
    corridor = read_corridor(section, boundary, ground.crs, report)
    antennas = _antennas(section, report)
    if "workable" in (section["order"] or ()) and sections["sky"] is None:
        problem = "needs the satellites of the working hours, and the job has no [sky]"
        report.fault("siting.order", section.raw("order"), problem, "add [sky], or leave the word out")
    radio, base = sections["radio"], sections["base"]
    if report.faults or rules is None or radio is None or base is None:
        return None
    return Siting(
        places=places,
        grid_area=grid,
        grid_spacing_m=section["grid_spacing"],
        antenna_heights_m=section["antenna_heights"] or (base["antenna_height"],),
        powers_dbm=_powers_dbm(section, radio),
        antennas=antennas or (NamedAntenna("", antenna_of(radio, pattern)),),
        order=_order(section),
        zones=zones,
        rules=rules,
        mode=section["set_ups"],
        most_set_ups=section["most_set_ups"],
        corridor=corridor,
        check_spacing_m=section["check_spacing"],
        overlap=section["set_ups"] == "corridor" if section["overlap"] is None else section["overlap"],
        link_margin_db=section["link_margin_db"],
        cases=section["cases"],
        seed=section["seed"],
    )


def _places(section: Section, units: Section, ground: Ground, report: Report) -> tuple[Place, ...]:
    """The named candidates, control points first; a job without any candidate is a fault."""
    before = len(report.faults)
    control = _control(section, ground, report)
    height_factor = METRES_PER_UNIT.get(units["height"])
    keys = LayerKeys(section, "siting", "points_")
    points = read_points(keys, ground.crs, height_factor, report, UNNAMED) or ()
    taken = {point.name for point in ground.points or ()}
    for point in points:
        if point.name in taken:
            problem = f"the name {quoted(point.name)} is taken by a point of [control]"
            cure = "rename it, or leave it out of this file: control points are candidates by themselves"
            report.fault(keys.path("file"), keys.raw("file"), problem, cure)
    others = keys.stands("file") or "grid_file" in section.present
    if not control and not others and not _uncertain(ground) and len(report.faults) == before:
        cure = "let control points count, or add points_file, or grid_file with grid_spacing"
        report.fault("siting", NOTHING, "names no place where the base may stand", cure)
    if section["known_control"] and not control and not _uncertain(ground):
        problem = "no point of [control] is among the candidates, so all would be ruled out"
        raw = section.raw("known_control")
        report.fault("siting.known_control", raw, problem, "leave it out, or let control points count")
    return (*(_place(point, known=True) for point in control), *(_place(point) for point in points))


def _uncertain(ground: Ground) -> bool:
    """Control points could not be read, which is noted already."""
    return ground.control is not None and ground.points is None


def _place(point: ControlPoint, *, known: bool = False) -> Place:
    return Place(point.name, point.easting, point.northing, point.height_m, known)


def _control(section: Section, ground: Ground, report: Report) -> tuple[ControlPoint, ...]:
    """The control points that are candidates."""
    wanted, names = section["control_points"], section["control_names"]
    for name in ("control_points", "control_names"):
        if section[name] and ground.control is None:
            cure = 'add [control] with file = "control.csv", or leave it out'
            report.fault(f"siting.{name}", section.raw(name), "there is no [control] in this job", cure)
    if wanted is False and "control_names" in section.present:
        problem = "names control points, but siting.control_points = false"
        report.fault("siting.control_names", section.raw("control_names"), problem, "keep one of the two")
    if wanted is False or ground.points is None:
        return ()
    by_name = {point.name: point for point in ground.points}
    for place, name in enumerate(names or (), start=1):
        if name not in by_name:
            cure = choose(name, tuple(by_name))
            report.fault(f"siting.control_names[{place}]", name, "no control point of this name", cure)
    return tuple(point for point in ground.points if names is None or point.name in names)


def _powers_dbm(section: Section, radio: Section) -> tuple[float, ...]:
    powers_w: tuple[float, ...] | None = section["powers_w"]
    if powers_w is not None:
        return tuple(float(dbm_from_watt(power_w)) for power_w in sorted(powers_w))
    own_dbm = power_dbm(radio)
    assert own_dbm is not None, "a rule of the table asks for it"
    return (own_dbm,)


def _antennas(section: Section, report: Report) -> tuple[NamedAntenna, ...]:
    """The antennas to try besides the radio's own; faults are noted, and what has one is left out."""
    found = []
    names = NameList(report)
    for number, entry in enumerate(section["antennas"] or (), start=1):
        where = f"siting.antennas[{number}]"
        names.add(where, entry)
        pattern = pattern_of(entry, where, report)
        if entry["name"] is not None and gain_dbi(entry) is not None:
            found.append(NamedAntenna(entry["name"], antenna_of(entry, pattern)))
    return tuple(found)


def _order(section: Section) -> tuple[str, ...]:
    """The criteria as the job orders them, then those of the usual order that it does not name."""
    stated: tuple[str, ...] = section["order"] or ()
    return (*stated, *(name for name in DEFAULT_ORDER if name not in stated))
