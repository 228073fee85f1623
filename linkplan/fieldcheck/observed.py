"""Field logs to thinned samples on the job's grid: the reading half of the field check.

A file's kind is told from its content: a first row that names `level_dbm` makes a file of levels
(`levels_file`); RTCM 3 frames with observations make a capture of a rover's radio (`captured`) where a place
is stated for it, or where position sentences stand between the frames that do not tell the corrections' age;
GGA or GNS sentences make a rover's log (`observed_track`). Files may be packed with gzip.

Each file is judged and thinned for itself, in one pass; memory holds the samples and the places visited.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from linkplan.errors import RecordingError
from linkplan.fieldcheck.doubled import doubled_notes, require_different_content
from linkplan.fieldcheck.levels_file import WANTED, header_of
from linkplan.fieldcheck.observed_ground import Ground
from linkplan.fieldcheck.observed_levels import OUTSIDE as ROWS_OUTSIDE
from linkplan.fieldcheck.observed_levels import read_levels
from linkplan.fieldcheck.observed_rover import read_recording
from linkplan.fieldcheck.observed_rules import Rules
from linkplan.fieldcheck.observed_source import Observed
from linkplan.fieldcheck.observed_track import OUTSIDE
from linkplan.fieldcheck.samples import LEVELS, OtherBaseSpot, Samples
from linkplan.fieldcheck.thinning import MOST_VISITS, spacing_for
from linkplan.gnss.recordings import STANDARD_INPUT, pieces
from linkplan.gnss.rover_log import AGE_LIMIT_S as AGE_LIMIT_S
from linkplan.gnss.unzipped import Unzipped
from linkplan.plan.model import Plan
from linkplan.ranges import require_range
from linkplan.terrain.grid import TerrainGrid

_HEAD_BYTES = 4096
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class LogFile:
    """A file to read."""

    path: str
    """Or "-" for standard input."""
    place: tuple[float, float] | None = None
    """Easting and northing, in the job's coordinate system, where a capture was recorded."""


def observe(
    plan: Plan,
    grid: TerrainGrid,
    files: Sequence[LogFile],
    *,
    age_limit_s: float = AGE_LIMIT_S,
    spacing_m: float | None = None,
    most_visits: int = MOST_VISITS,
    unnamed_counts: bool = False,
    progress: Progress | None = None,
) -> Samples:
    """Read all files.

    `age_limit_s` 0.1 to 600; `spacing_m` 1 to 1000, None: the grid's cell, at least 10 m (`thinning`);
    `most_visits` 1 to 1000 samples of a place and file; `unnamed_counts`: corrections that state no station
    count as the job's. `progress` is told the file and its share that was read (0 on standard input).

    Raises RecordingError where a file cannot be read, is given twice or holds nothing that could be judged.
    """
    require_range("age limit", age_limit_s, 0.1, 600.0, unit="s")
    spacing_m = spacing_for(grid.cell_size_m) if spacing_m is None else spacing_m
    require_range("spacing", spacing_m, 1.0, 1000.0, unit="m")
    require_range("visits of a place", most_visits, 1, 1000)
    _require_different(files)
    rules = Rules.of(
        plan, age_limit_s=age_limit_s, spacing_m=spacing_m, most_visits=most_visits,
        unnamed_counts=unnamed_counts,
    )  # fmt: skip
    ground = Ground(grid)
    observed = [_read(one, rules, ground, progress) for one in files]
    require_different_content(observed)
    return _gathered(observed, rules)


def observe_stream(
    name: str, stream: Iterator[bytes], rules: Rules, ground: Ground, place: tuple[float, float] | None = None
) -> Observed:
    """One file that comes in pieces cut anywhere, packed or not; `name` is what messages call it."""
    unzipped = Unzipped(stream)
    rest = iter(unzipped)
    head = b""
    for piece in rest:
        head += piece
        if len(head) >= _HEAD_BYTES:
            break

    digest = hashlib.blake2b(head, digest_size=16, usedforsecurity=False)

    def whole() -> Iterator[bytes]:
        yield head
        for piece in rest:
            digest.update(piece)
            yield piece

    if not head:
        raise RecordingError(f"{name}: the file is empty")
    if _is_levels(head):
        if place is not None:
            raise RecordingError(
                f"{name}: a file of levels states its own places; leave out the one given for it"
            )
        observed = read_levels(name, whole(), rules, ground)
    else:
        observed = read_recording(name, whole(), rules, ground, place, _hint(head))
    if unzipped.broken:
        observed.facts.left_out["packed data that break off or are damaged"] = 1
    return replace(observed, digest=digest.digest())


def _read(file: LogFile, rules: Rules, ground: Ground, progress: Progress | None) -> Observed:
    stage = f"reading {'standard input' if file.path == STANDARD_INPUT else Path(file.path).name}"
    return observe_stream(file.path, _told(file.path, stage, progress), rules, ground, file.place)


def _told(path: str, stage: str, progress: Progress | None) -> Iterator[bytes]:
    """The file's bytes, saying how far it is read."""
    try:
        size = 0 if path == STANDARD_INPUT else Path(path).stat().st_size
    except (OSError, ValueError):
        size = 0  # opening it says what is wrong
    done = 0
    for piece in pieces(path):
        if progress is not None:
            progress(stage, min(1.0, done / size) if size else 0.0)
        done += len(piece)
        yield piece
    if progress is not None:
        progress(stage, 1.0)


def _require_different(files: Sequence[LogFile]) -> None:
    seen: set[str] = set()
    for file in files:
        key = file.path if file.path == STANDARD_INPUT else os.path.realpath(file.path)
        if key in seen:
            raise RecordingError(f"{file.path}: given twice; its epochs would count double")
        seen.add(key)


def _is_levels(head: bytes) -> bool:
    return header_of(_first_line(head)) is not None


def _first_line(head: bytes) -> str:
    lines = head.decode("utf-8", "replace").lstrip("\ufeff").splitlines()
    return next((line for line in lines if line.strip()), "")


def _hint(head: bytes) -> str:
    """What the first row looks like, where the file is text of another kind."""
    line = _first_line(head)
    if line and line.isprintable() and any(mark in line for mark in ",;"):
        return f'; if it is a file of levels: its first row is {WANTED}, here it is "{line[:60]}"'
    return ""


def _gathered(observed: Sequence[Observed], rules: Rules) -> Samples:
    columns = [one.columns for one in observed]

    def together(name: str, kind: type) -> np.ndarray:
        parts = [getattr(one, name) for one in columns]
        return np.concatenate(parts).astype(kind) if parts else np.empty(0, dtype=kind)

    spots = [
        OtherBaseSpot(source, station, row, column, x_m, y_m, epochs)
        for source, one in enumerate(observed)
        for station, row, column, x_m, y_m, epochs in one.spots
    ]
    counts = [len(one.columns) for one in observed]
    notes = [*rules.notes(), *doubled_notes(observed, rules.spacing_m), *_elsewhere(observed)]
    notes += [note for one in observed for note in one.notes]
    return Samples(
        x_m=together("x_m", np.float64),
        y_m=together("y_m", np.float64),
        row=together("row", np.int32),
        column=together("column", np.int32),
        source=np.repeat(np.arange(len(observed), dtype=np.int32), counts),
        utc_s=together("utc_s", np.float64),
        outcome=together("outcome", np.int8),
        level_dbm=together("level_dbm", np.float64),
        sources=tuple(one.facts for one in observed),
        other_bases=tuple(spots),
        arrived=together("arrived", np.int8),
        notes=tuple(notes),
    )


def _elsewhere(observed: Sequence[Observed]) -> Iterator[str]:
    """Files that are most likely of another job."""
    for one in observed:
        facts = one.facts
        outside = facts.left_out.get(OUTSIDE, 0) + facts.left_out.get(ROWS_OUTSIDE, 0)
        if outside > facts.judged:
            more = "; are easting and northing in their columns?" if facts.kind == LEVELS else ""
            yield (
                f"{facts.name}: {outside} of {outside + facts.judged} lie outside the map: is it of this "
                f"job{more or '?'}"
            )
