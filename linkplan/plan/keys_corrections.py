"""What may stand in a job file about the corrections: messages, framing of the radio, power supply."""

from __future__ import annotations

from collections.abc import Sequence

from linkplan.plan.schema import Key, Table
from linkplan.tables import rtcm3
from linkplan.tables.framing import PRESETS


def _presets() -> Sequence[str]:
    return tuple(PRESETS)


CORRECTIONS = Table(
    "corrections",
    "messages",
    (
        Key("station_id", "integer", "12", low=0, high=rtcm3.HIGHEST_STATION_ID),
        Key(
            "messages",
            "tables",
            "[{ number = 1074, interval_s = 1, satellites = 10, signals = 2 }]",
            required=True,
            inner=(
                Key("number", "integer", "1074", required=True, low=1, high=rtcm3.HIGHEST_NUMBER),
                Key("interval_s", "number", "1.0", required=True, low=0.05, high=86_400.0, unit="s"),
                Key("offset_s", "number", "5.0", default=0.0, low=0.0, high=86_400.0, unit="s"),
                Key("satellites", "integer", "10", low=1, high=rtcm3.MSM_MOST_SATELLITES),
                Key("signals", "integer", "2", low=1, high=rtcm3.MSM_MOST_SIGNALS),
                Key("texts", "texts", '["ANTENNA NAME", "12345"]'),
                Key("biases", "integer", "4", low=0, high=rtcm3.MOST_BIASES),
                Key("payload_bytes", "integer", "100", low=2, high=rtcm3.LONGEST_PAYLOAD_BYTES),
            ),
        ),
    ),
    absent="nothing",
)

FRAMING = Table(
    "framing",
    "rate_bps and the rest, or preset",
    (
        Key("preset", "choice", '"generic-9600"', choices=_presets),
        Key("rate_bps", "number", "9600", low=50.0, high=10e6, unit="bit/s"),
        Key("key_up_ms", "number", "20", low=0.0, high=10_000.0, unit="ms"),
        Key("preamble_bits", "number", "64", low=0.0, high=100_000.0, unit="bits"),
        Key("header_bits", "number", "96", low=0.0, high=100_000.0, unit="bits"),
        Key("packet_bytes", "integer", "256", low=1, high=100_000, unit="bytes"),
        Key("code_rate", "number", "0.75", low=0.1, high=1.0, hint="1 without error correction"),
        Key("gap_ms", "number", "0", low=0.0, high=10_000.0, unit="ms"),
        Key("repeaters", "integer", "1", default=0, low=0, high=10),
        Key("slots", "integer", "2", default=1, low=1, high=100),
        Key("slot_s", "number", "0.5", low=0.001, high=3600.0, unit="s"),
    ),
    absent="nothing",
)

SUPPLY = Table(
    "supply",
    "capacity_ah, transmit_a and receive_a",
    (
        Key("capacity_ah", "number", "40", required=True, low=0.01, high=100_000.0, unit="Ah"),
        Key("transmit_a", "number", "3.5", required=True, low=0.001, high=1000.0, unit="A"),
        Key("receive_a", "number", "0.3", required=True, low=0.0, high=1000.0, unit="A"),
        Key("other_a", "number", "0.4", default=0.0, low=0.0, high=1000.0, unit="A"),
        Key("usable_share", "number", "0.8", default=0.8, low=0.01, high=1.0, fraction=True),
    ),
    absent="nothing",
)

TABLES = (CORRECTIONS, FRAMING, SUPPLY)
