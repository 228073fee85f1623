"""The [siting] section of a job file: where else the base may stand, what counts there, what rules it out.

Defaults without a source are common practice, as is a repeater's margin of 10 dB.
"""

from __future__ import annotations

from collections.abc import Sequence

from linkplan.plan.keys_parts import ANTENNA_GAIN, GAIN_RULE, layer_keys
from linkplan.plan.keys_sky import tolerance_key
from linkplan.plan.schema import Key, OneWay, Table
from linkplan.plan.siting_model import CRITERIA, MODES, RELIANTS, SitingRules
from linkplan.tables.exposure import LIMITS

LAYER_WORDS = ("points_", "grid_", "keep_out_", "fence_", "track_", "corridor_")
"""What stands before `file`, `layer` and `crs` in the section itself."""


def _criteria() -> Sequence[str]:
    return CRITERIA


def _modes() -> Sequence[str]:
    return MODES


def _reliants() -> Sequence[str]:
    return RELIANTS


def _exposure_limits() -> Sequence[str]:
    return tuple(LIMITS)


_CANDIDATES = (
    Key("control_points", "boolean", "true"),
    Key("control_names", "words", '["CP1", "CP2"]'),
    *layer_keys("points_", "places.csv", "places"),
    *layer_keys("grid_", "may_stand.gpkg", "owned"),
    Key("grid_spacing", "length", "100", low=1.0, high=50_000.0),
    Key("antenna_heights", "heights", "[3, 5, 8]", low=0.1, high=300.0),
    Key("powers_w", "numbers", "[2, 10]", low=0.001, high=1000.0, unit="W"),
    Key(
        "antennas",
        "tables",
        "",
        inner=(
            Key("name", "text", '"high-gain"', required=True),
            *ANTENNA_GAIN,
            Key("antenna_pattern", "file", '"pattern.csv"'),
        ),
        rules=(GAIN_RULE,),
    ),
)

_WHAT_COUNTS = (
    Key("order", "words", '["share", "worst", "baseline", "mast", "power"]', choices=_criteria),
    Key(
        "zones",
        "tables",
        "",
        inner=(
            Key("name", "text", '"haul road"', required=True),
            *layer_keys("", "zones.gpkg", "haul_road"),
            Key("coordinates", "ring", "[[500000, 4200000], [501000, 4200000], [501000, 4201000]]"),
            Key("weight", "number", "5", default=1.0, low=0.0, high=1000.0),
            Key("must", "boolean", "true", default=False),
            Key("share", "number", "0.98", low=0.01, high=1.0, fraction=True),
            tolerance_key("tolerance_mm"),
            Key("relies", "choice", '"machines"', choices=_reliants),
            Key("speed_km_h", "number", "6", low=0.1, high=200.0, unit="km/h"),
        ),
        rules=(OneWay((("file",), ("coordinates",))),),
    ),
)

_RULES = (
    Key("known_control", "boolean", "true", default=False),
    *layer_keys("keep_out_", "keep_out.gpkg", "keep_out"),
    Key(
        "lines",
        "tables",
        "",
        inner=(
            Key("name", "text", '"valley line"', required=True),
            *layer_keys("", "lines.gpkg", "overhead", required=True),
            Key("voltage_kv", "number", "110", low=0.1, high=1500.0, unit="kV"),
            Key("clearance", "length", "5", low=0.0, high=1000.0),
        ),
    ),
    Key("fall_factor", "number", "1.5", default=SitingRules.fall_factor, low=1.0, high=5.0),
    *layer_keys("fence_", "fence.gpkg", "fence"),
    Key("fence_radius", "length", "5", low=0.1, high=10_000.0),
    Key(
        "exposure_limits", "choice", '"icnirp-2020"', default=SitingRules.exposure_limits,
        choices=_exposure_limits,
    ),
    Key("elevation_mask_deg", "number", "10", low=0.0, high=60.0, unit="degrees"),
    Key("sky_blocked_share", "number", "0.1", low=0.0, high=1.0, fraction=True),
    Key("gnss_antenna_height", "height", "2", low=0.0, high=50.0),
    *layer_keys("track_", "tracks.gpkg", "tracks"),
    Key("track_distance", "length", "50", low=0.0, high=50_000.0),
    tolerance_key("tolerance_mm"),
    Key(
        "accuracy_mm", "number", "8", default=1000.0 * SitingRules.accuracy_m,
        low=0.1, high=1000.0, unit="mm",
    ),
    Key(
        "accuracy_ppm", "number", "1", default=SitingRules.accuracy_ppm, low=0.01, high=100.0, unit="ppm",
    ),
)  # fmt: skip

_TOGETHER = (
    Key("set_ups", "choice", '"several"', default=MODES[0], choices=_modes),
    Key("most_set_ups", "integer", "3", low=1, high=50),
    *layer_keys("corridor_", "corridor.gpkg", "centre_line"),
    Key("check_spacing", "length", "500", default=500.0, low=1.0, high=50_000.0),
    Key("overlap", "boolean", "true"),
    Key("link_margin_db", "number", "10", default=10.0, low=0.0, high=60.0, unit="dB"),
    Key("cases", "integer", "100", default=100, low=0, high=10_000),
    Key("seed", "integer", "1", default=1, low=0, high=2**32 - 1),
)

SITING = Table(
    "siting",
    "where the base may stand",
    (*_CANDIDATES, *_WHAT_COUNTS, *_RULES, *_TOGETHER),
    absent="nothing",
    rules=(
        OneWay((("grid_file", "grid_spacing"),), required=False),
        OneWay((("track_file", "track_distance"),), required=False),
    ),
)
