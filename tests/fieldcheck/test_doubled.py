"""Evidence that is given twice: the same file under another name, other cuts of the same drive."""

from __future__ import annotations

import gzip
import os
from pathlib import Path

import pytest

from linkplan.errors import RecordingError
from linkplan.fieldcheck.observed import LogFile, observe
from tests.evidence.small_job import job
from tests.fieldcheck.field_logs import clock, gga, sentence, small_grid


def drive(first: int, last: int, *, north_m: float = 0.0, date: str = "120526", later_s: int = 0) -> bytes:
    """3 m/s along the job, epoch by epoch, dated at its end."""
    epochs = [gga(later_s + n, -900 + 3 * n, north_m) for n in range(first, last)]
    return b"".join(epochs) + sentence(f"GNRMC,{clock(later_s + last - 1)},A,,,,,,,{date},,,R,V")


def notes_of(folder: Path, *contents: bytes) -> list[str]:
    files = []
    for number, content in enumerate(contents):
        path = folder / f"log{number}"
        path.write_bytes(content)
        files.append(LogFile(str(path)))
    return [note for note in observe(job(), small_grid(), files).notes if "count double" in note]


@pytest.mark.parametrize("packed", [False, True])
def test_a_copy_is_refused(tmp_path: Path, packed: bool) -> None:
    content = drive(0, 400)
    first, copy = tmp_path / "log.nmea", tmp_path / "copy"
    first.write_bytes(content)
    copy.write_bytes(gzip.compress(content) if packed else content)
    with pytest.raises(RecordingError, match=r"copy: holds the same as .*log\.nmea; its epochs would count"):
        observe(job(), small_grid(), [LogFile(str(first)), LogFile(str(copy))])


def test_a_link_and_a_way_round_are_the_same_file(tmp_path: Path) -> None:
    log, link = tmp_path / "log.nmea", tmp_path / "link"
    log.write_bytes(drive(0, 400))
    os.symlink(log, link)
    for other in (link, tmp_path / ".." / tmp_path.name / "log.nmea"):
        with pytest.raises(RecordingError, match="given twice"):
            observe(job(), small_grid(), [LogFile(str(log)), LogFile(str(other))])


def test_another_cut_of_a_drive_is_told(tmp_path: Path) -> None:
    """Seconds 103 to 299 of a drive of 400 s: 588 m, in visits of 20 m (every 7 s) 28 or 29 samples."""
    (note,) = notes_of(tmp_path, drive(0, 400), drive(103, 300))
    assert "log1" in note
    assert "log0" in note
    assert int(note.split(": ")[1].split()[0]) in (28, 29)


def test_other_drives_are_not(tmp_path: Path) -> None:
    """Another day, another road at the same time, the same road an hour later."""
    others = drive(0, 400, date="130526"), drive(0, 400, north_m=100.0), drive(0, 400, later_s=3600)
    assert notes_of(tmp_path, drive(0, 400), *others) == []


def test_a_drive_without_dates(tmp_path: Path) -> None:
    """Which day it was is not known: the very same positions tell. 400 s at 3 m/s are 1197 m, of 20 m."""
    dated = drive(0, 400)
    undated = b"".join(line for line in dated.splitlines(keepends=True) if b"RMC" not in line)
    (note,) = notes_of(tmp_path, dated, undated)
    assert int(note.split(": ")[1].split()[0]) in (57, 58)


def test_lists_of_levels(tmp_path: Path) -> None:
    """Without a time of day: the same place and level; measured anew they differ."""
    head = b"easting,northing,level_dbm,time\n"
    rows = [b"%d,4500000,%d,2026-05-12" % (500000 + 40 * n, -60 - n) for n in range(20)]
    anew = [b"%d,4500000,%d,2026-05-12" % (500000 + 40 * n, -61 - n) for n in range(20)]
    assert notes_of(tmp_path, head + b"\n".join(rows), head + b"\n".join(anew)) == []
    (note,) = notes_of(tmp_path, head + b"\n".join(rows), head + b"\r\n".join(rows[5:]))
    assert ": 15 samples" in note
