"""One place: the path to it, its budget, why corrections fail there, and what would make them arrive."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from linkplan.coverage.ground import base_terminal
from linkplan.coverage.link import Terminal, compute_link
from linkplan.coverage.reliability import margin_for_chance_db
from linkplan.coverage.results import LinkResult
from linkplan.errors import PlaceError
from linkplan.outputs import formats
from linkplan.outputs.formats import Formats, typeset
from linkplan.outputs.text import obstacle_line, verdict_line
from linkplan.page.jobs import OpenJob
from linkplan.page.lanes import Tell
from linkplan.page.set_up import At, geographic, limits, spot_of
from linkplan.plan.model import Plan
from linkplan.terrain.grid import TerrainGrid
from linkplan.units import METRES_PER_UNIT, dbm_from_watt, watt_from_dbm

TALLEST_MAST_M = 30.0
TALLEST_POLE_M = 6.0
"""Beyond these nobody puts an antenna up for a working day [common practice]."""
MOST_PLACES = 60
"""Other places that are tried for the base, the nearest to the rover first."""
PLACES_NAMED = 3
_ENOUGH = 1e-6


def point_body(job: OpenJob, plan: Plan, to: At, tell: Tell) -> dict[str, Any]:
    """Everything about the path from the base of `plan`, a set-up of the job, to one place."""
    show = Formats.of(plan)
    spot = spot_of(plan, to)
    name = spot.name or show.position(spot.easting, spot.northing)
    end = Terminal(name, spot.easting, spot.northing)
    tell("reading the terrain", 0.0)
    grid, stamp = _ground(job, plan, end)
    tell("computing the path", 0.0)
    link = compute_link(plan, grid, base_terminal(plan), end)
    missing_db = margin_for_chance_db(plan.goal.chance, link.sigma_db) - link.margin_db
    works = missing_db <= _ENOUGH
    longitude, latitude = geographic(plan, spot.easting, spot.northing)
    cures = [] if works else list(_cures(plan, grid, end, missing_db, tell))
    return {
        "terrain_stamp": stamp,
        "to": {
            "name": name, "easting": spot.easting, "northing": spot.northing,
            "longitude": longitude, "latitude": latitude,
            "positions": show.positions(spot.easting, spot.northing, longitude, latitude),
        },
        "works": works,
        "line": typeset(verdict_line(link)),
        "obstacle": typeset(obstacle_line(link, show)),
        "class_name": link.class_name,
        "distance_m": link.distance_m,
        "distance": typeset(show.distance(link.distance_m)),
        "azimuth": formats.azimuth(link.azimuth_deg),
        "margin_db": link.margin_db,
        "chance": link.chance,
        "wanted_chance": link.wanted_chance,
        "missing_db": max(0.0, missing_db),
        "line_of_sight": link.line_of_sight,
        "model": link.model,
        "profile": _profile(link),
        "budget": [
            {"label": one.label, "value": one.value, "unit": one.unit, "kind": one.kind, "note": one.note}
            for one in link.budget
        ],
        "why": [] if works else [typeset(line) for line in _why(link, show, missing_db)],
        "cures": cures,
        "warnings": list(link.warnings),
    }  # fmt: skip


def _ground(job: OpenJob, plan: Plan, end: Terminal) -> tuple[TerrainGrid, str]:
    """The grid of the map where it holds the place, so that map and path say the same; else a wider one."""
    try:
        grid, stamp = job.ground.full(plan)
    except PlaceError:
        return job.ground.full(plan, end)
    x_m, y_m = grid.frame.to_local(end.easting, end.northing)
    if grid.cell_of(float(x_m), float(y_m)) is not None:
        return grid, stamp
    return job.ground.full(plan, end)


def _profile(link: LinkResult) -> dict[str, Any]:
    profile = link.profile
    found = link.obstacle
    return {
        "distance_m": [round(float(one), 2) for one in profile.distance_m],
        "ground_m": [round(float(one), 3) for one in profile.height_m],
        "clutter_m": [round(float(one), 3) for one in profile.clutter_height_m],
        "bulge_m": [round(float(one), 4) for one in link.bulge_m],
        "ray_m": [round(float(one), 3) for one in link.ray_m],
        "fresnel_radius_m": [round(float(one), 3) for one in link.fresnel_radius_m],
        "antenna_from_m": link.antenna_from_m,
        "antenna_to_m": link.antenna_to_m,
        "obstacle": None if found is None else {
            "distance_m": found.distance_m, "ground_m": found.ground_m, "clutter_m": found.clutter_m,
            "clearance_m": found.clearance_m, "fresnel_radius_m": found.fresnel_radius_m,
            "clearance_fraction": found.clearance_fraction,
        },
    }  # fmt: skip


def _why(link: LinkResult, show: Formats, missing_db: float) -> Iterator[str]:
    """What takes the margin, the largest part first."""
    found = link.obstacle
    yield (
        f"The margin is {formats.decibels(link.margin_db, signed=True)}; "
        f"{formats.decibels(missing_db)} more would give a chance of {formats.chance(link.wanted_chance)}."
    )
    if found is not None and found.clearance_fraction < 1.0 and link.diffraction_db > 0.5:
        top = "ground with trees or buildings on it" if found.clutter_m > 0.0 else "the ground"
        where = f"{show.distance(found.distance_m)} from the base"
        if found.clearance_m < 0.0:
            yield (
                f"{top.capitalize()} {where} stands {show.height(-found.clearance_m)} above the ray; going "
                f"round it costs {formats.decibels(link.diffraction_db)}."
            )
        else:
            yield (
                f"The ray clears {top} {where} by {show.height(found.clearance_m)} only, "
                f"{100.0 * found.clearance_fraction:.0f} % of the first Fresnel zone; that costs "
                f"{formats.decibels(link.diffraction_db)}."
            )
    elif link.diffraction_db > 0.5:
        yield (
            f"Antennas this low over the ground lose {formats.decibels(link.diffraction_db)} to the curve of "
            "the earth and to grazing ground."
        )
    if link.diffraction_db < missing_db:
        yield (
            f"Even without any obstacle {formats.decibels(missing_db - link.diffraction_db)} would be "
            f"missing: over {show.distance(link.distance_m)} the way through free space alone takes "
            f"{formats.decibels(link.free_space_db)}."
        )


def _cures(
    plan: Plan, grid: TerrainGrid, end: Terminal, missing_db: float, tell: Tell
) -> Iterator[dict[str, Any]]:
    """What would make it work: mast, rover's pole, power, another place; each computed, none guessed."""
    show = Formats.of(plan)
    start = base_terminal(plan)
    yield _taller(plan, grid, start, end, "mast", tell)
    yield _taller(plan, grid, start, end, "rover", tell)
    yield _power(plan, missing_db)
    yield from _places(plan, grid, end, show, tell)


def _taller(
    plan: Plan, grid: TerrainGrid, start: Terminal, end: Terminal, which: str, tell: Tell
) -> dict[str, Any]:
    """The lowest antenna that reaches the wanted chance, found by trying; more is not always better, so each
    step is computed, and the answer is one that was."""
    show = Formats.of(plan)
    mast = which == "mast"
    now_m = plan.base.antenna_height_m if mast else plan.rover.antenna_height_m
    high_m = min(TALLEST_MAST_M if mast else TALLEST_POLE_M, limits("base.antenna_height")[1])
    limit_m = plan.licence.antenna_height_limit_m if mast and plan.licence is not None else None
    if limit_m is not None:
        high_m = min(high_m, limit_m)
    unit = METRES_PER_UNIT[plan.height_unit]
    step_m = (0.5 if plan.height_unit == "metre" else 1.0) * unit
    key = "antenna_height_m" if mast else "rover_height_m"
    what = "mast" if mast else "rover's pole"
    steps = max(0, math.floor((high_m - now_m) / step_m + 1e-9))
    for number in range(1, steps + 1):
        tell("looking for a cure", 0.0)
        height_m = now_m + number * step_m
        if _missing(_with_height(plan, mast, height_m), grid, start, end) <= _ENOUGH:
            more = show.height(height_m - now_m)
            caution = " Mind overhead lines and guys." if mast else ""
            above = f"({show.height(height_m)} above ground)"
            line = f"{more} more {what} {above} give the wanted chance here.{caution}"
            return {
                "kind": which, "possible": True, key: height_m, "more_m": height_m - now_m,
                "line": typeset(line), "set_up": {key: height_m},
            }  # fmt: skip
    of_licence = ", the licence's limit," if limit_m is not None and high_m == limit_m else ""
    line = f"No {what} up to {show.height(max(high_m, now_m))}{of_licence} gives the wanted chance here."
    return {"kind": which, "possible": False, "line": typeset(line), "set_up": {}}


def _with_height(plan: Plan, mast: bool, height_m: float) -> Plan:
    if mast:
        return replace(plan, base=replace(plan.base, antenna_height_m=height_m))
    return replace(plan, rover=replace(plan.rover, antenna_height_m=height_m))


def _missing(plan: Plan, grid: TerrainGrid, start: Terminal, end: Terminal) -> float:
    """Decibels that a link lacks for the wanted chance; infinite where it has no answer."""
    try:
        link = compute_link(plan, grid, start, end)
    except PlaceError:
        return math.inf
    return margin_for_chance_db(plan.goal.chance, link.sigma_db) - link.margin_db


def _power(plan: Plan, missing_db: float) -> dict[str, Any]:
    power_dbm = plan.transmitter.power_dbm + missing_db
    # rounded up to what a radio's menu may have, so that it suffices
    power_w = float(watt_from_dbm(power_dbm))
    step = 10.0 ** (math.floor(math.log10(power_w)) - 1)
    power_w = float(f"{math.ceil(power_w / step - 1e-9) * step:.6g}")
    low, high = limits("radio.power_w")
    possible = low <= power_w <= high and float(dbm_from_watt(power_w)) <= limits("radio.power_dbm")[1]
    line = f"{formats.decibels(missing_db)} are missing: by power alone {power_w:.3g} W, or the same "
    line += "by an antenna with more gain or less feeder loss; the licence decides what is allowed."
    if not possible:
        shown = f" ({formats.grouped(power_w)} W)" if power_w < 1e6 else ""
        line = (
            f"{formats.decibels(missing_db)} are missing: more than power can give{shown}; antenna gain and "
            "feeder alone rarely do."
        )
    return {
        "kind": "power", "possible": possible, "missing_db": missing_db,
        "power_w": power_w if possible else None, "line": typeset(line),
        "set_up": {"power_w": power_w} if possible else {},
    }  # fmt: skip


def _places(
    plan: Plan, grid: TerrainGrid, end: Terminal, show: Formats, tell: Tell
) -> Iterator[dict[str, Any]]:
    """Control points and places of [siting] from which it works, the best first."""
    named: dict[str, tuple[str, Terminal]] = {
        one.name: ("point", Terminal(one.name, one.easting, one.northing)) for one in plan.control_points
    }
    for one in plan.siting.places if plan.siting is not None else ():
        if not one.known:
            named.setdefault(one.name, ("place", Terminal(one.name, one.easting, one.northing)))
    here = (plan.base.easting, plan.base.northing)
    others = [pair for pair in named.values() if (pair[1].easting, pair[1].northing) != here]
    others.sort(key=lambda pair: math.hypot(pair[1].easting - end.easting, pair[1].northing - end.northing))
    found: list[tuple[float, str, LinkResult]] = []
    for kind, start in others[:MOST_PLACES]:
        tell("looking for a cure", 0.0)
        try:
            link = compute_link(plan, grid, start, end)
        except PlaceError:
            continue
        if margin_for_chance_db(plan.goal.chance, link.sigma_db) - link.margin_db <= _ENOUGH:
            found.append((-link.margin_db, kind, link))
    for _, kind, link in sorted(found, key=lambda one: one[0])[:PLACES_NAMED]:
        line = (
            f"From {link.from_name} it works: margin {formats.decibels(link.margin_db, signed=True)}, "
            f"chance {formats.chance(link.chance)} over {show.distance(link.distance_m)}, with the same mast "
            "and radio."
        )
        yield {
            "kind": "place", "possible": True, kind: link.from_name, "margin_db": link.margin_db,
            "chance": link.chance, "line": typeset(line), "set_up": {"base": {kind: link.from_name}},
        }  # fmt: skip
    if others and not found:
        line = "No other control point or named place reaches it with the same mast and radio."
        yield {"kind": "place", "possible": False, "line": line, "set_up": {}}
