"""An antenna's vertical pattern from a CSV file."""

from __future__ import annotations

from pathlib import Path

from linkplan.plan.rows import FileFaults, read_rows
from linkplan.plan.words import Report
from linkplan.radio.equipment import VerticalPattern


def read_pattern(path: Path, key: str, written: str, report: Report) -> VerticalPattern | None:
    """Read `elevation_deg,relative_gain_db`; None, with faults noted, when a row will not do.

    Elevations rise from row to row within -90 to 90 degrees; gains are at most 0 dB, relative to the
    antenna's stated gain.
    """
    faults = FileFaults(report, key, written)
    elevations: list[float] = []
    gains: list[float] = []
    for row in read_rows(path, ("elevation_deg", "relative_gain_db"), (), faults):
        elevation, gain = row.number("elevation_deg", faults), row.number("relative_gain_db", faults)
        if elevation is None or gain is None:
            continue
        if not -90.0 <= elevation <= 90.0:
            cure = "0 is the horizon, 90 straight up"
            faults.add(f"row {row.line}: elevation_deg {elevation:g} is outside -90 to 90", cure)
        elif elevations and elevation <= elevations[-1]:
            problem = f"row {row.line}: elevation_deg {elevation:g} follows {elevations[-1]:g}"
            faults.add(problem, "sort the rows so that elevations rise, each once")
        if not -200.0 <= gain <= 0.0:
            cure = "the antenna's greatest gain is the 0, all else is below it"
            faults.add(f"row {row.line}: relative_gain_db {gain:g} is outside -200 to 0", cure)
        elevations.append(elevation)
        gains.append(gain)
    if len(elevations) < 2 and faults.count == 0:
        faults.add("fewer than two rows make no pattern")
    faults.close()
    return VerticalPattern(tuple(elevations), tuple(gains)) if faults.count == 0 else None
