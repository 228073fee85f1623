"""An invented sky over the invented job: nothing here is computed by the product."""

from __future__ import annotations

import datetime
import zoneinfo
from dataclasses import replace

import numpy as np

from linkplan.coverage.results import CoverageMap
from linkplan.outputs.workable_words import Work
from linkplan.plan.model import Goal, Plan
from linkplan.plan.sky_model import Accuracy, Occupation, SkyWishes, WorkHours
from linkplan.sky.results import BaseSky, OrbitsUsed, RoverSky, SystemDay, WorkingDay
from linkplan.study import SkyStudy
from linkplan.terrain.horizon import HorizonProfile
from linkplan.workable import NO_CORRECTIONS, NO_SKY, TOO_FAR, UNKNOWN, WorkableMap

ZONE = "America/Denver"
STEPS, STEP_S = 21, 1800.0
START = datetime.datetime(2026, 12, 1, 14, 0, tzinfo=datetime.UTC)
"""07:00 in Denver, seven hours behind in winter; the day ends at 00:00 UTC of the next date."""
STRIDE = 6


def working_day() -> WorkingDay:
    zone = zoneinfo.ZoneInfo(ZONE)
    utc = tuple(START + datetime.timedelta(seconds=STEP_S * step) for step in range(STEPS))
    return WorkingDay(utc, tuple(one.astimezone(zone) for one in utc), ZONE, STEP_S)


def wishes() -> SkyWishes:
    day = working_day()
    hours = WorkHours(day.local[0].date(), ZONE, zoneinfo.ZoneInfo(ZONE), day.utc[0], day.utc[-1])
    return SkyWishes(
        hours, STEP_S, (), ("GPS", "Galileo"), 10.0, 10.0, 7, 3.0, 5, 6.0, 0.8, (), 1.8, 2.0,
        ("least_common", "workable_share"),
    )  # fmt: skip


def base_sky(*, held: bool = True, typical: bool = False) -> BaseSky:
    """Two systems of six satellites that rise, pass and set; a hill in the north, a shed."""
    satellites = tuple(f"{letter}{number:02d}" for letter in "GE" for number in range(1, 7))
    time = np.arange(STEPS)
    number = np.arange(12)[:, None]
    azimuth = (30.0 * number + 9.0 * time[None, :]) % 360.0
    elevation = 80.0 * np.sin(np.pi * (time[None, :] + 2 * number) / 20.0)
    azimuths = np.arange(0.0, 360.0, 5.0)
    horizon = np.where((azimuths > 300.0) | (azimuths < 60.0), 14.0, 1.0)
    distance = np.full(azimuths.size, 800.0)
    shed = (azimuths >= 200.0) & (azimuths <= 240.0)
    horizon[shed], distance[shed] = 35.0, np.nan
    known = np.where(azimuths > 180.0, 5000.0, 900.0)
    visible = elevation > 12.0
    counts = [visible[:6].sum(axis=0), visible[6:].sum(axis=0)]
    holes = np.zeros(STEPS, dtype=bool)
    if held:
        holes[[4, 5, 20]] = True
    pdop = np.where(holes, np.nan, 1.5 + 0.05 * time)
    gps = SystemDay("GPS", counts[0], np.full(STEPS, 4.25), np.full(STEPS, 2.5), np.full(STEPS, 3.4), ~holes)
    none = np.full(STEPS, np.nan)
    galileo = SystemDay("Galileo", counts[1], none, none, none, np.ones(STEPS, dtype=bool))
    together = SystemDay("all", counts[0] + counts[1], pdop, 0.6 * pdop, 0.8 * pdop, holes)
    notes = ("3 records of some kind left out",)
    return BaseSky(
        day=working_day(),
        orbits=OrbitsUsed("YUMA, week 2395", typical, 0.0 if typical else 3.25, ("G04", "E06"), notes),
        latitude_deg=46.9, longitude_deg=9.2,
        horizon=HorizonProfile(azimuths, horizon, distance, known),
        unknown_share=0.375, mask_deg=10.0, least_satellites=7, greatest_pdop=3.0,
        satellites=satellites, azimuth_deg=azimuth, elevation_deg=elevation, visible=visible,
        systems=(gps, galileo), together=together,
    )  # fmt: skip


def rover_sky(coverage: CoverageMap, base: BaseSky) -> RoverSky:
    """Every sixth cell of the job: the sky gets poorer towards the east."""
    rows, columns = np.nonzero(coverage.inside)
    keep = (rows % STRIDE == 0) & (columns % STRIDE == 0)
    rows, columns = rows[keep], columns[keep]
    east = columns / columns.max()
    common = np.clip(np.rint(18.0 - 16.0 * east[:, None] - (np.arange(STEPS)[None, :] == 9)), 0, 40)
    enough = (common >= 5) & ~base.together.held_back[None, :]
    pdop = np.where(common >= 5, 2.0, np.nan).astype(np.float32)
    return RoverSky(
        STRIDE, rows, columns, 1.0 - 0.7 * east, common.astype(np.uint8), pdop, enough, 9, 5, 6.0, 0.8
    )  # fmt: skip


def sky_plan(plan: Plan) -> Plan:
    return replace(
        plan,
        sky=wishes(),
        goal=Goal(0.95, 10_000.0, 0.4),
        accuracy=Accuracy(assumed=("horizontal_mm",), tolerance_m=0.02, vertical_tolerance_m=0.03),
        occupation=Occupation("averaged", 300.0, None, None),
    )


def sky_study(case: tuple, *, held: bool = True, typical: bool = False) -> SkyStudy:
    """The invented job under the invented sky."""
    plan, coverage, _ = case
    base = base_sky(held=held, typical=typical)
    rovers = rover_sky(coverage, base)
    known = np.isfinite(coverage.grid.height_m[rovers.rows, rovers.columns])
    return SkyStudy(sky_plan(plan), coverage.grid, coverage.inside, base, rovers, known)


def work_example(case: tuple, *, sky: bool = True) -> Work:
    """Every reason on the map, in stripes from west to east, and the coverage's own unknown ground."""
    _, coverage, _ = case
    _, columns = np.indices(coverage.grid.shape)
    stripe = columns * 6 // coverage.grid.shape[1]
    codes = np.array([0, NO_CORRECTIONS, NO_SKY if sky else 0, TOO_FAR, NO_CORRECTIONS | TOO_FAR, 0])
    reason = codes[stripe].astype(np.uint8)
    reason[(coverage.class_index == 0) | ~coverage.inside] = UNKNOWN
    accuracy = (0.008 + 1e-6 * coverage.grid.distance_from_base_m()).astype(np.float32)
    found = WorkableMap(reason, coverage.inside, sky, 10_000.0, accuracy)
    rover = rover_sky(coverage, base_sky()) if sky else None
    return Work(found, rover, typical=False, wanted_share=0.4, decides=True)
