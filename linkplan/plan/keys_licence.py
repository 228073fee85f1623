"""What a job file may say about the licence, further bases, other users, and what radios bear."""

from __future__ import annotations

from linkplan.plan.schema import AtLeastOne, Key, OneWay, Table
from linkplan.tables.p1812_8 import FREQUENCY_GHZ
from linkplan.tables.rtcm3 import HIGHEST_STATION_ID

SERVES = ("strongest", "job")
"""Which rovers a base is there for: those where it is the strongest of the own bases, or all of the job."""

LOWEST_GROUND_M, HIGHEST_GROUND_M = -500.0, 9000.0
"""Heights of dry land, with room for any vertical datum."""


def _serves() -> tuple[str, ...]:
    return SERVES


def _frequency(name: str = "frequency_mhz", *, required: bool) -> Key:
    return Key(
        name,
        "number",
        "461.05",
        required,
        low=1e3 * FREQUENCY_GHZ[0],
        high=1e3 * FREQUENCY_GHZ[1],
        unit="MHz",
    )


def _spacing(name: str, *, required: bool) -> Key:
    return Key(
        name, "number", "12.5", required, low=1.0, high=1000.0, unit="kHz", hint="12.5 and 25 are usual"
    )


def _power(name: str) -> Key:
    return Key(name, "number", "5", low=0.001, high=100_000.0, unit="W")


def _figure(name: str, example: str) -> Key:
    return Key(name, "number", example, low=0.0, high=150.0, unit="dB")


def _station_id() -> Key:
    return Key("station_id", "integer", "17", low=0, high=HIGHEST_STATION_ID)


BASE_EXTRAS = (
    Key("serves", "choice", '"job"', default="strongest", choices=_serves),
    Key("slot", "integer", "1", low=1, high=16),
)
"""What every own base may say besides where it stands."""

_RADIATED = OneWay((("erp_limit_w",), ("eirp_limit_w",)), required=False)

LICENCE = Table(
    "licence",
    "the permitted channels",
    (
        Key("call_sign", "text", '"DEMO-1"', default=""),
        Key("expires", "date", "2027-12-31"),
        Key("identification_interval_min", "number", "15", low=0.1, high=1440.0, unit="minutes"),
        _power("erp_limit_w"),
        _power("eirp_limit_w"),
        Key("antenna_height_limit", "height", "12", low=0.1, high=1000.0),
        Key("authorised_bandwidth_khz", "number", "11.25", low=0.1, high=1000.0, unit="kHz"),
        Key("area_centre", "place", "[500000, 4200000]"),
        Key("area_radius", "length", "20000", low=1.0, high=5_000_000.0),
        Key("area_file", "dataset", '"licence_area.gpkg"'),
        Key("area_layer", "text", '"area"'),
        Key("area_coordinates", "ring", "[[490000, 4190000], [510000, 4190000], [500000, 4210000]]"),
        Key(
            "frequencies_mhz", "numbers", "[461.05, 461.075]",
            low=1e3 * FREQUENCY_GHZ[0], high=1e3 * FREQUENCY_GHZ[1], unit="MHz",
        ),
        _spacing("spacing_khz", required=False),
        Key(
            "channels",
            "tables",
            "",
            inner=(
                Key("name", "text", '"CH 1"', required=True),
                _frequency(required=True),
                _spacing("spacing_khz", required=True),
                _power("erp_limit_w"),
                _power("eirp_limit_w"),
            ),
            rules=(_RADIATED,),
        ),
    ),
    absent="nothing",
    rules=(
        _RADIATED,
        OneWay(
            (("area_centre", "area_radius"), ("area_file",), ("area_coordinates",)), required=False
        ),
        OneWay((("frequencies_mhz", "spacing_khz"),), required=False),
        AtLeastOne(("frequencies_mhz", "channels")),
    ),
)  # fmt: skip

BASES = Table(
    "bases",
    "further bases of your own",
    (
        Key("name", "text", '"north base"'),
        Key("position", "place", "[500900, 4200800]"),
        Key("point", "text", '"CP2"'),
        Key("height", "height", "412.5", low=LOWEST_GROUND_M, high=HIGHEST_GROUND_M),
        Key("antenna_height", "height", "5", low=0.1, high=300.0),
        Key("power_w", "number", "10", low=0.001, high=1000.0, unit="W"),
        Key("power_dbm", "number", "40", low=0.0, high=60.0, unit="dBm"),
        _frequency(required=False),
        _station_id(),
        *BASE_EXTRAS,
    ),
    absent="nothing",
    rules=(
        OneWay((("position",), ("point",))),
        OneWay((("power_w",), ("power_dbm",)), required=False),
    ),
    many=True,
)

OTHERS = Table(
    "others",
    "transmitters of others",
    (
        Key("name", "text", '"dispatch in town"', required=True),
        Key("position", "place", "[512000, 4208000]"),
        Key("point", "text", '"CP9"'),
        _frequency(required=True),
        _spacing("spacing_khz", required=False),
        _power("erp_w"),
        Key("antenna_height", "height", "30", low=0.1, high=1000.0),
        _station_id(),
    ),
    absent="nothing",
    rules=(OneWay((("position",), ("point",))),),
    many=True,
)

HEARD = Table(
    "heard",
    "frequencies heard busy",
    (
        _frequency(required=True),
        Key("what", "text", '"voice, all morning"', default=""),
        _station_id(),
    ),
    absent="nothing",
    many=True,
)

INTERFERENCE = Table(
    "interference",
    "what the radios bear",
    (
        _figure("co_channel_db", "12"),
        _figure("adjacent_power_db", "60"),
        _figure("adjacent_selectivity_db", "60"),
        _figure("spurious_rejection_db", "70"),
        _figure("blocking_db", "84"),
        _figure("intermodulation_rejection_db", "65"),
        _figure("transmitter_intermodulation_db", "40"),
        Key("overload_dbm", "number", "-10", low=-80.0, high=40.0, unit="dBm"),
        Key("protected_level_dbm", "number", "-122", low=-180.0, high=0.0, unit="dBm"),
    ),
    absent="nothing",
)

TABLES = (LICENCE, BASES, OTHERS, HEARD, INTERFERENCE)
