"""What may stand in a job file about the sky, about accuracy, and about how the base point is occupied.

Defaults are common practice: five satellites and PDOP 4 over a mask of 10 degrees for a base, 8 mm + 1 ppm
horizontal and 15 mm + 1 ppm vertical for a single base.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from linkplan.gnss.antenna_height import FARTHEST_MARK_M, LONGEST_READING_M, METHODS, WIDEST_RADIUS_M
from linkplan.gnss.base_position import ORIGINS
from linkplan.gnss.baseline import HORIZONTAL_CONSTANT_M, PPM, VERTICAL_CONSTANT_M
from linkplan.plan.schema import Key, OneWay, Table
from linkplan.tables.base_position import AVERAGED_95_M, LONGEST_AVERAGE_S
from linkplan.tables.constellations import SYSTEMS


def _systems() -> Sequence[str]:
    return tuple(system.name for system in SYSTEMS.values())


def _methods() -> Sequence[str]:
    return METHODS


def _origins() -> Sequence[str]:
    return ORIGINS


def _satellites(name: str) -> Key:
    return Key(name, "integer", "5", default=5, low=4, high=60)


def _pdop(name: str, default: float) -> Key:
    return Key(name, "number", f"{default:.1f}", default=default, low=1.0, high=100.0)


def _mask(name: str) -> Key:
    return Key(name, "number", "10", low=0.0, high=60.0, unit="degrees")


def _accuracy(name: str, default: float, unit: str) -> Key:
    low, high = (0.1, 1000.0) if unit == "mm" else (0.01, 100.0)
    return Key(name, "number", f"{default:g}", default=default, low=low, high=high, unit=unit)


def tolerance_key(name: str) -> Key:
    """A wanted accuracy, in [accuracy] and in zones."""
    return Key(name, "number", "20", low=0.1, high=10_000.0, unit="mm")


def _offset_mm(name: str, example: str, low_m: float, high_m: float) -> Key:
    return Key(name, "number", example, low=1000.0 * low_m, high=1000.0 * high_m, unit="mm")


def _averaging() -> Key:
    return Key("averaging_s", "number", "600", low=AVERAGED_95_M[0][0], high=LONGEST_AVERAGE_S, unit="s")


SKY = Table(
    "sky",
    "date and time_zone",
    (
        Key("date", "date", "2026-12-01", required=True),
        Key("from", "clock", '"07:00"', default=datetime.timedelta(hours=7)),
        Key("to", "clock", '"17:00"', default=datetime.timedelta(hours=17)),
        Key("time_zone", "text", '"America/Denver"', required=True),
        Key("step_min", "number", "5", default=5.0, low=1.0, high=60.0, unit="minutes"),
        Key("orbits", "files", '["almanac.alm"]'),
        Key("systems", "words", '["GPS", "Galileo"]', choices=_systems),
        _mask("elevation_mask_deg"),
        _mask("rover_elevation_mask_deg"),
        _satellites("least_satellites"),
        _pdop("greatest_pdop", 4.0),
        _satellites("least_common"),
        _pdop("rover_greatest_pdop", 6.0),
        Key("workable_share", "number", "0.9", default=0.9, low=0.01, high=1.0, fraction=True),
        Key("obstructions", "directions", "[[100, 0], [120, 15], [150, 0]]"),
        Key("obstructions_file", "file", '"obstructions.csv"'),
        Key("rover_gnss_height", "height", "2", low=0.0, high=100.0),
    ),
    absent="nothing",
    rules=(OneWay((("obstructions",), ("obstructions_file",)), required=False),),
)

ACCURACY = Table(
    "accuracy",
    "horizontal_mm and horizontal_ppm",
    (
        _accuracy("horizontal_mm", 1000.0 * HORIZONTAL_CONSTANT_M, "mm"),
        _accuracy("horizontal_ppm", PPM, "ppm"),
        _accuracy("vertical_mm", 1000.0 * VERTICAL_CONSTANT_M, "mm"),
        _accuracy("vertical_ppm", PPM, "ppm"),
        tolerance_key("tolerance_mm"),
        tolerance_key("vertical_tolerance_mm"),
    ),
    absent="defaults",
)

OCCUPATION = Table(
    "occupation",
    "method, or measured and height",
    (
        Key("method", "choice", '"known"', choices=_origins),
        _averaging(),
        Key("measured", "choice", '"slant"', choices=_methods),
        Key("height", "height", "1.874", low=0.0, high=LONGEST_READING_M),
        _offset_mm("antenna_radius_mm", "173", 0.0, WIDEST_RADIUS_M),
        _offset_mm("mark_above_arp_mm", "64", -FARTHEST_MARK_M, FARTHEST_MARK_M),
        Key("radio_above_arp", "height", "3.2", low=-LONGEST_READING_M, high=LONGEST_READING_M),
        Key(
            "checks",
            "tables",
            "",
            inner=(
                Key("name", "text", '"Tuesday"'),
                Key("point", "text", '"CP1"'),
                Key("position", "place", "[500200, 4200300]"),
                Key("height", "height", "412.5", low=-500.0, high=9000.0),
                Key("method", "choice", '"averaged"', choices=_origins),
                _averaging(),
            ),
            rules=(OneWay((("position",), ("point",))),),
        ),
    ),
    absent="nothing",
    rules=(OneWay((("measured", "height"),), required=False),),
)

TABLES = (SKY, ACCURACY, OCCUPATION)
