"""What may stand in a job file: every table and key, with its kind, range, default and an example.

To add a section, add a Table here and say in `reader` what object it becomes. Ranges without a source
are plausibility limits: wide enough for any real equipment, narrow enough to catch a slip of the pen.
"""

from __future__ import annotations

from collections.abc import Sequence

from linkplan.plan import keys_licence
from linkplan.plan.keys_calibration import CALIBRATION
from linkplan.plan.keys_corrections import TABLES as CORRECTION_TABLES
from linkplan.plan.keys_parts import ANTENNA_GAIN, GAIN_RULE
from linkplan.plan.keys_safety import SAFETY
from linkplan.plan.keys_settings import SETTINGS
from linkplan.plan.keys_siting import SITING
from linkplan.plan.keys_sky import TABLES as SKY_TABLES
from linkplan.plan.schema import AtLeastOne, Key, OneWay, Table
from linkplan.tables.p1812_8 import FREQUENCY_GHZ
from linkplan.tables.receivers import (
    DEFAULT_CHANCE,
    DEFAULT_NOISE_FIGURE_DB,
    DEFAULT_PREDICTION_SIGMA_DB,
    REQUIRED_SNR_DB,
)
from linkplan.units import METRES_PER_UNIT

LOWEST_GROUND_M, HIGHEST_GROUND_M = -500.0, 9000.0
"""Heights of dry land, with room for any vertical datum."""


def _units() -> Sequence[str]:
    return tuple(METRES_PER_UNIT)


def _modulations() -> Sequence[str]:
    return tuple(REQUIRED_SNR_DB)


def _noise_categories() -> Sequence[str]:
    from linkplan.propagation.noise import CATEGORIES

    return tuple(CATEGORIES)


def _vertical_only() -> Sequence[str]:
    return ("vertical",)


def _antenna_height(example: str) -> Key:
    return Key("antenna_height", "height", example, required=True, low=0.1, high=300.0)


def _loss(name: str, default: float | None = None) -> Key:
    return Key(
        name, "number", "1.0", default=default, low=0.0, high=60.0, unit="dB", hint="a loss is positive"
    )


JOB = Table(
    "job",
    "name and crs",
    (
        Key("name", "text", '"East pit"', required=True),
        Key("crs", "text", '"EPSG:32611"', required=True),
        Key("notes", "notes", '"second shift from May"', default=""),
    ),
)

UNITS = Table(
    "units",
    "length and height",
    (
        Key("length", "choice", '"metre"', default="metre", choices=_units),
        Key("height", "choice", '"metre"', default="metre", choices=_units),
    ),
    absent="defaults",
)

BOUNDARY = Table(
    "boundary",
    "file, or coordinates",
    (
        Key("file", "dataset", '"boundary.gpkg"'),
        Key("layer", "text", '"limit_of_work"'),
        Key("crs", "text", '"EPSG:4326"'),
        Key("coordinates", "ring", "[[500000, 4200000], [501000, 4200000], [501000, 4201000]]"),
    ),
    rules=(OneWay((("file",), ("coordinates",))),),
)

TERRAIN = Table(
    "terrain",
    "files",
    (
        Key("files", "files", '["terrain/*.tif"]', required=True),
        Key("height_unit", "choice", '"metre"', choices=_units),
        Key("height_datum", "text", '"EGM2008 geoid"'),
        Key("cell_size", "length", "10", low=0.2, high=1000.0),
    ),
)

CLUTTER = Table(
    "clutter",
    "file and classes",
    (
        Key("file", "file", '"clutter.tif"', required=True),
        Key(
            "classes",
            "classes",
            '{ 1 = { name = "trees", height = 12 } }',
            required=True,
            inner=(
                Key("name", "text", '"trees"', required=True),
                Key("height", "height", "12", required=True, low=0.0, high=300.0),
            ),
        ),
    ),
    absent="nothing",
)

CONTROL = Table(
    "control",
    "file",
    (
        Key("file", "dataset", '"control.csv"', required=True),
        Key("layer", "text", '"control"'),
        Key("crs", "text", '"EPSG:4326"'),
    ),
    absent="nothing",
)

BASE = Table(
    "base",
    "position or point, and antenna_height",
    (
        Key("position", "place", "[500200, 4200300]"),
        Key("point", "text", '"CP1"'),
        Key("height", "height", "412.5", low=LOWEST_GROUND_M, high=HIGHEST_GROUND_M),
        _antenna_height("5"),
        *keys_licence.BASE_EXTRAS,
    ),
    rules=(OneWay((("position",), ("point",))),),
)

RADIO = Table(
    "radio",
    "frequency_mhz, channel_spacing_khz, power, antenna gain and feeder loss",
    (
        Key(
            "frequency_mhz", "number", "450.0", True,
            low=1e3 * FREQUENCY_GHZ[0], high=1e3 * FREQUENCY_GHZ[1], unit="MHz",
        ),
        Key(
            "channel_spacing_khz", "number", "12.5", True, low=1.0, high=1000.0, unit="kHz",
            hint="12.5 and 25 are usual",
        ),
        Key("occupied_bandwidth_khz", "number", "11.25", low=0.1, high=1000.0, unit="kHz"),
        Key("power_w", "number", "10", low=0.001, high=1000.0, unit="W"),
        Key("power_dbm", "number", "40", low=0.0, high=60.0, unit="dBm"),
        Key("identification_interval_min", "number", "15", low=0.1, high=1440.0, unit="minutes"),
        Key(
            "polarization", "choice", '"vertical"', default="vertical", choices=_vertical_only,
            hint="maps are computed for it alone",
        ),
        *ANTENNA_GAIN,
        Key("antenna_pattern", "file", '"pattern.csv"'),
        _loss("feeder_loss_db"),
        Key("feeder_length", "length", "10", low=0.0, high=500.0),
        Key(
            "feeder_loss_db_per_100m", "number", "12", low=0.0, high=300.0, unit="dB",
            hint="a loss is positive",
        ),
        _loss("connector_loss_db", 0.0),
    ),
    rules=(
        OneWay((("power_w",), ("power_dbm",))),
        GAIN_RULE,
        OneWay((("feeder_loss_db",), ("feeder_length", "feeder_loss_db_per_100m"))),
    ),
)  # fmt: skip

ROVER = Table(
    "rover",
    "antenna_height, antenna gain, and sensitivity_dbm or modulation",
    (
        _antenna_height("2"),
        *ANTENNA_GAIN,
        _loss("feeder_loss_db", 0.0),
        _loss("body_loss_db", 0.0),
        Key("sensitivity_dbm", "number", "-110", low=-150.0, high=-30.0, unit="dBm"),
        Key("required_snr_db", "number", "16", low=-20.0, high=60.0, unit="dB"),
        Key("modulation", "choice", '"gmsk"', choices=_modulations),
        Key(
            "noise_figure_db", "number", "8", default=DEFAULT_NOISE_FIGURE_DB,
            low=0.0, high=30.0, unit="dB",
        ),
        Key("noise_bandwidth_khz", "number", "12.5", low=0.1, high=1000.0, unit="kHz"),
    ),
    rules=(
        GAIN_RULE,
        OneWay((("required_snr_db",), ("modulation",)), required=False),
        AtLeastOne(("sensitivity_dbm", "required_snr_db", "modulation")),
    ),
)  # fmt: skip

ENVIRONMENT = Table(
    "environment",
    "noise",
    (
        Key("noise", "choice", '"rural"', default="rural", choices=_noise_categories),
        Key(
            "prediction_sigma_db", "number", "6", default=DEFAULT_PREDICTION_SIGMA_DB,
            low=0.5, high=20.0, unit="dB",
        ),
        # At 157 N-units per km the effective earth is flat and the Recommendation's radius infinite.
        Key(
            "refractivity_gradient_n_units_per_km", "number", "45", default=45.0,
            low=0.0, high=150.0, unit="N-units/km", hint="the fall with height, written positive",
        ),
        Key(
            "sea_level_refractivity_n_units", "number", "325", default=325.0,
            low=200.0, high=500.0, unit="N-units",
        ),
    ),
    absent="defaults",
)  # fmt: skip

GOAL = Table(
    "goal",
    "chance",
    (
        Key("chance", "number", "0.95", default=DEFAULT_CHANCE, low=0.5, high=0.999, fraction=True),
        Key("share", "number", "0.98", default=1.0, low=0.01, high=1.0, fraction=True),
        Key("baseline_limit", "length", "10000", low=1.0, high=200_000.0),
    ),
    absent="defaults",
)

TABLES = (
    *(JOB, UNITS, BOUNDARY, TERRAIN, CLUTTER, CONTROL, BASE, RADIO, ROVER, ENVIRONMENT, CALIBRATION),
    *(GOAL, SETTINGS),
    *CORRECTION_TABLES,
    *keys_licence.TABLES,
    *SKY_TABLES,
    SITING,
    SAFETY,
)
"""All tables of a job file, in the order of the starter."""
