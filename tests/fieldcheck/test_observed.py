"""Several files of several kinds together, from the disk and from standard input, with progress."""

from __future__ import annotations

import gzip
import io
import sys
from pathlib import Path

import numpy as np
import pytest

from linkplan.errors import RangeError, RecordingError
from linkplan.fieldcheck.observed import LogFile, observe
from linkplan.fieldcheck.samples import CAPTURE, LEVELS, NMEA, NOT_OBSERVED
from linkplan.radio.stream import CorrectionStream, Message
from tests.coverage.conftest import EAST, NORTH, plain_plan
from tests.evidence.small_job import job
from tests.fieldcheck.field_logs import gga, small_grid
from tests.fieldcheck.test_captured import message


@pytest.fixture
def files(tmp_path: Path) -> list[LogFile]:
    """A rover's log, a capture, a packed file of levels."""
    log = tmp_path / "monday.txt"
    log.write_bytes(b"".join(gga(n, 30 * n, station="0031" if n < 20 else "0077") for n in range(30)))
    capture = tmp_path / "radio.csv"  # the name says nothing
    capture.write_bytes(b"".join(message(n) for n in range(100)))
    levels = tmp_path / "survey.nmea"
    levels.write_bytes(gzip.compress(b"x;y;level_dbm\n500100;4500000;-90,5\n500200;4500000;-95\n"))
    return [LogFile(str(log)), LogFile(str(capture), (EAST + 50.0, NORTH)), LogFile(str(levels))]


def test_three_kinds_together(files: list[LogFile]) -> None:
    told: list[tuple[str, float]] = []
    samples = observe(job(), small_grid(), files, progress=lambda stage, share: told.append((stage, share)))
    assert [one.kind for one in samples.sources] == [NMEA, CAPTURE, LEVELS]
    assert [one.kept for one in samples.sources] == [20, 1, 2]
    assert len(samples) == 23
    assert samples.source.tolist() == [0] * 20 + [1] + [2] * 2
    assert samples.outcome.tolist() == [1] * 21 + [NOT_OBSERVED] * 2
    assert np.isnan(samples.level_dbm).tolist() == [True] * 21 + [False] * 2
    assert [(spot.source, spot.station, spot.epochs) for spot in samples.other_bases] == [(0, "77", 1)] * 10
    names = ("monday.txt", "radio.csv", "survey.nmea")
    assert told == [(f"reading {name}", share) for name in names for share in (0.0, 1.0)]
    grid = small_grid()
    for x, y, row, column in zip(samples.x_m, samples.y_m, samples.row, samples.column, strict=True):
        assert grid.cell_of(x, y) == (row, column)


def test_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    data = io.TextIOWrapper(io.BytesIO(b"".join(gga(n, 30 * n) for n in range(10))))
    monkeypatch.setattr(sys, "stdin", data)
    assert len(observe(job(), small_grid(), [LogFile("-")])) == 10


def test_the_jobs_own_interval_is_that_of_its_observations(files: list[LogFile]) -> None:
    """1006 every half second carries none: messages every second are what is due."""
    stream = CorrectionStream(31, (Message(1074, 1.0), Message(1006, 0.5)), None, None)
    samples = observe(job(corrections=stream), small_grid(), files[1:2])
    assert (samples.sources[0].epochs, samples.arrived.tolist()) == (100, [1])


def test_a_job_without_corrections_takes_any_station_and_says_so(files: list[LogFile]) -> None:
    samples = observe(plain_plan(), small_grid(), files[:1])
    assert samples.sources[0].kept == 30
    assert samples.other_bases == ()
    assert "states no station ID" in samples.notes[0]


def test_spacing_and_age_limit(files: list[LogFile]) -> None:
    assert len(observe(job(), small_grid(), files[:1], spacing_m=100.0)) == 5
    late = observe(job(), small_grid(), files[:1], age_limit_s=0.5)
    assert late.outcome.tolist() == [0] * 20
    for wrong in ({"spacing_m": 0.1}, {"age_limit_s": 0.0}, {"most_visits": 0}):
        with pytest.raises(RangeError):
            observe(job(), small_grid(), files[:1], **wrong)


def test_files_that_do_not_serve(files: list[LogFile], tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="given twice"):
        observe(job(), small_grid(), [files[0], files[0]])
    with pytest.raises(RecordingError, match="cannot be read: no such file"):
        observe(job(), small_grid(), [LogFile(str(tmp_path / "nothing"))])
    assert len(observe(job(), small_grid(), [])) == 0


def test_a_log_from_elsewhere_is_told(tmp_path: Path) -> None:
    """Columns the wrong way round, and a drive 3 km off, where the map reaches 1010 m."""
    levels, log = tmp_path / "levels.csv", tmp_path / "log.nmea"
    levels.write_text("northing,easting,level_dbm\n500000,4500000,-80\n")
    log.write_bytes(b"".join(gga(n, 3000 + 30 * n) for n in range(30)))
    notes = observe(job(), small_grid(), [LogFile(str(levels)), LogFile(str(log))]).notes
    assert any("1 of 1 lie outside the map" in one and "in their columns?" in one for one in notes)
    assert any("30 of 30 lie outside the map: is it of this job?" in one for one in notes)
