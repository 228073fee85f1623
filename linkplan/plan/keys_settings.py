"""The [settings] section of a job file: what a set-up sheet holds that no other section says."""

from __future__ import annotations

from collections.abc import Sequence

from linkplan.plan.schema import Key, Table

OWN, ANY = "own", "any"


def _filters() -> Sequence[str]:
    return (OWN, ANY)


SETTINGS = Table(
    "settings",
    "what base and rovers are to be set to",
    (
        Key("return_frequency", "text", '"none"'),
        Key("protocol", "text", '"free text"'),
        Key("modulation", "text", '"free text"'),
        Key("error_correction", "text", '"on"'),
        Key("scrambling_key_id", "text", '"off"'),
        Key("repeater", "text", '"none"'),
        Key("repeater_frequency", "text", '"451.0 MHz"'),
        Key("time_slot", "text", '"none"'),
        Key("format", "text", '"RTCM 3"'),
        Key("id_filter", "choice", '"own"', choices=_filters),
        Key("elevation_mask_deg", "number", "10", low=0.0, high=60.0, unit="degrees"),
        Key("satellite_systems", "text", '"GPS, GLONASS, Galileo, BeiDou"'),
        Key("base_antenna", "text", '"name on its label"'),
        Key("base_antenna_height", "height", "1.802", low=0.0, high=50.0),
        Key("base_antenna_height_method", "text", '"vertical, mark to antenna reference point"'),
        Key("base_coordinates_source", "text", '"control list of 2 May"'),
        Key("geoid", "text", '"name of the model"'),
        Key("site_transformation", "text", '"none"'),
    ),
    absent="nothing",
)
