# ruff: noqa: E501  -- the expected lines are shown as the user sees them
"""What logs have taught, in the job file: read as it stands, faults named, and the error that counts."""

from __future__ import annotations

import datetime

import pytest

from linkplan.plan.calibration import Calibration

SOUND = {
    "calibration__offset_db": "-4.25",
    "calibration__sigma_db": "5.5",
    "calibration__made": "2026-05-13",
    "calibration__logs": "2",
    "calibration__epochs": "3412",
    "calibration__samples": "480",
    "calibration__blocks": "24",
}
CLUTTER = {
    "clutter__file": '"dem.tif"',
    "clutter__classes": '{ 1 = { name = "open", height = 0 }, 3 = { name = "trees", height = 12 } }',
}


def test_learned_values_stand_in_place_of_the_guess(job):
    plan = job.plan(environment__prediction_sigma_db="8")
    assert plan.calibration is None
    assert plan.prediction_sigma_db == 8.0
    plan = job.plan(
        **SOUND, **CLUTTER, calibration__classes="{ 3 = -2.5 }", environment__prediction_sigma_db="8"
    )
    assert plan.calibration == Calibration(
        -4.25, 5.5, datetime.date(2026, 5, 13), 2, 3412, 480, 24, {3: -2.5}
    )
    assert plan.prediction_sigma_db == 5.5
    # the guess stays: what is learned again from all logs starts from it
    assert plan.environment.prediction_sigma_db == 8.0


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"calibration__sigma_db": None}, "calibration.sigma_db: missing; add, for example, sigma_db = 5.1"),
        ({"calibration__offset_db": "-60"}, "calibration.offset_db = -60: too small; give -40 to 40 dB"),
        ({"calibration__made": '"2026-05-13"'}, 'calibration.made = "2026-05-13": a date is wanted, not text; write year-month-day: made = 2026-05-13 without quotes'),
        ({"calibration__logs": "0"}, "calibration.logs = 0: too small; give 1 to 1e+12"),
        ({"calibration__classes": "{ trees = 1 }"}, "calibration.classes.trees = 1: a class goes by its whole number in the raster; write 3 = -2.5"),
        ({"calibration__classes": '{ 3 = "2" }'}, 'calibration.classes.3 = "2": a number is wanted, not text; write a bare number in dB, such as 3 = 2'),
        ({"calibration__classes": "{ 3 = 55 }"}, "calibration.classes.3 = 55: too large; give -40 to 40 dB"),
        ({"calibration__classes": "4"}, "calibration.classes = 4: a table of classes is wanted, not a number; write [calibration.classes] and below it a line a class: 3 = -2.5"),
        ({"calibration__classes": "{ 2 = 1.5 }"}, "calibration.classes.2 = 1.5: no class of this job's [clutter]; [clutter.classes] has 1, 3"),
    ],
)  # fmt: skip
def test_one_fault(job, changes, line):
    assert job.faults(**{**SOUND, **CLUTTER, **changes}) == [line]


def test_classes_need_a_clutter_raster(job):
    assert job.faults(**SOUND, calibration__classes="{ 3 = -2.5 }") == [
        "calibration.classes.3 = -2.5: this job has no [clutter]; leave it out"
    ]
