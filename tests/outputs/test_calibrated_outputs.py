"""A calibrated prediction says so, and from what, wherever it is shown; another says nothing of the kind."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import rasterio

from linkplan.outputs.calibration_words import calibration_line
from linkplan.outputs.folder import write_all, write_coverage
from linkplan.plan.calibration import Calibration
from linkplan.terrain.source import ClutterSource

LEARNED = Calibration(-4.25, 5.5, date(2026, 5, 13), 2, 34_120, 480, 24, {3: -2.5, 9: 1.0})


@pytest.fixture(scope="module")
def calibrated(case: tuple) -> tuple:
    plan, coverage, summary = case
    clutter = ClutterSource(Path("c.tif"), {3: 12.0}, {3: "<trees>\x07"})
    return (
        replace(plan, calibration=LEARNED, clutter=clutter),
        coverage,
        replace(summary, calibration=LEARNED),
    )


def test_the_sentence_names_logs_epochs_day_and_classes(calibrated: tuple, case: tuple) -> None:
    assert calibration_line(case[0]) == ""
    assert calibration_line(calibrated[0]) == (
        "Calibrated from 2 logs, 34\N{NARROW NO-BREAK SPACE}120 epochs, 2026-05-13: -4.2 dB on every level, "
        "-2.5 dB more at <trees>, +1.0 dB more at class 9; error of the prediction 5.5 dB (before: 6.0 dB)."
    )


def test_it_stands_in_every_file(calibrated: tuple, tmp_path: Path) -> None:
    write_all(*calibrated, [], tmp_path)
    for name in ("summary.txt", "index.html", "map.html"):
        assert "alibrated from 2 logs" in " ".join((tmp_path / name).read_text().split())
    assert not any("<trees>" in (tmp_path / name).read_text() for name in ("index.html", "map.html"))
    learned = json.loads((tmp_path / "summary.json").read_text())["calibration"]
    assert learned["offset_db"] == -4.25
    assert learned["made"] == "2026-05-13"
    assert learned["class_offsets_db"] == {"3": -2.5, "9": 1.0}
    with rasterio.open(tmp_path / "coverage.tif") as raster:
        assert raster.tags()["CALIBRATION"] == calibration_line(calibrated[0])


def test_without_it_nothing_is_said(case: tuple, tmp_path: Path) -> None:
    write_coverage(*case, tmp_path)
    for name in ("summary.txt", "map.html"):
        assert "alibrated" not in (tmp_path / name).read_text()
    assert json.loads((tmp_path / "summary.json").read_text())["calibration"] is None
