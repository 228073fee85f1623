"""The [calibration] section of a job file: what `linkplan fieldcheck --write` has learned from logs."""

from __future__ import annotations

from linkplan.plan.schema import Key, Table

OFFSET_DB = (-40.0, 40.0)
"""A prediction that is farther off than this has a wrong antenna, feeder or place."""

SIGMA_DB = (0.5, 20.0)
"""As `environment.prediction_sigma_db`, in whose place it stands."""

_MOST = 1e12


def _count(name: str, example: str) -> Key:
    return Key(name, "integer", example, required=True, low=1, high=_MOST)


CALIBRATION = Table(
    "calibration",
    "what field logs have taught",
    (
        Key("offset_db", "number", "-4.2", True, low=OFFSET_DB[0], high=OFFSET_DB[1], unit="dB"),
        Key("sigma_db", "number", "5.1", True, low=SIGMA_DB[0], high=SIGMA_DB[1], unit="dB"),
        Key("made", "date", "2026-05-13", required=True),
        _count("logs", "2"),
        _count("epochs", "3412"),
        _count("samples", "480"),
        _count("blocks", "24"),
        Key("classes", "classes", "{ 3 = -2.5 }", low=OFFSET_DB[0], high=OFFSET_DB[1], unit="dB"),
    ),
    absent="nothing",
)
