"""The [safety] section of a job file: what the exposure distances and the gaps in guidance are judged by."""

from __future__ import annotations

from linkplan.plan.schema import Key, OneWay, Table
from linkplan.tables.safety import AGE_LIMIT_RANGE_S, AGE_LIMIT_S

_LOW_S, _HIGH_S = AGE_LIMIT_RANGE_S


def _limit(name: str, example: str) -> Key:
    return Key(name, "number", example, low=0.001, high=1000.0, unit="W/m2")


SAFETY = Table(
    "safety",
    "exposure and lost corrections",
    (
        Key("antenna_length", "length", "1.5", low=0.01, high=30.0),
        _limit("public_limit_w_m2", "2.0"),
        _limit("worker_limit_w_m2", "10.0"),
        Key("age_limit_s", "number", "10", default=AGE_LIMIT_S, low=_LOW_S, high=_HIGH_S, unit="s"),
    ),
    absent="defaults",
    rules=(OneWay((("public_limit_w_m2", "worker_limit_w_m2"),), required=False),),
)
