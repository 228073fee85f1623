"""A file of measured levels to thinned samples.

Rows are taken as they follow each other. A visit's level is the median of its rows (of the first thousand):
the prediction is a median too, and within ten metres fading by reflections, some wavelengths of 0.7 m, is
smoothed out [common practice]. So a single row at each place holds that fading still.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from statistics import median

import numpy as np

from linkplan.fieldcheck.levels_file import LevelRow, LevelsReader
from linkplan.fieldcheck.observed_ground import FloatArray, Ground
from linkplan.fieldcheck.observed_rules import Rules
from linkplan.fieldcheck.observed_source import Observed, SourceColumns
from linkplan.fieldcheck.observed_track import VISITED
from linkplan.fieldcheck.samples import LEVELS, SourceFacts
from linkplan.fieldcheck.thinning import Thinning

OUTSIDE = "rows outside the map"
_MOST_ROWS = 1000


class _Visits:
    """Visits one behind the other; the last is open until the next begins."""

    def __init__(self) -> None:
        self.places: list[tuple[float, float, float]] = []
        """x, y and time of the first row."""
        self.levels_dbm: list[float] = []
        self._open: list[float] = []
        self._keep = False

    def begin(self, place: tuple[float, float, float], *, keep: bool) -> None:
        self.close()
        self._keep = keep
        if keep:
            self.places.append(place)

    def add(self, levels_dbm: FloatArray) -> None:
        if self._keep:
            self._open += levels_dbm[: _MOST_ROWS - len(self._open)].tolist()

    def close(self) -> None:
        if self._keep:
            self.levels_dbm.append(median(self._open))
        self._open, self._keep = [], False


def read_levels(name: str, pieces: Iterable[bytes], rules: Rules, ground: Ground) -> Observed:
    """Samples of a file. Raises RecordingError where no row can be used."""
    total = judged = outside = 0
    first_s = last_s = math.nan

    def counted() -> Iterable[bytes]:
        nonlocal total
        for piece in pieces:
            total += len(piece)
            yield piece

    reader = LevelsReader(name)
    thinning = Thinning(rules.spacing_m, rules.most_visits)
    visits = _Visits()
    for block in reader.read(counted()):
        table = _table(block)
        first_s = float(np.fmin(first_s, np.fmin.reduce(table[3])))
        last_s = float(np.fmax(last_s, np.fmax.reduce(table[3])))
        place = ground.from_geographic if reader.header and reader.header.geographic else ground.from_job
        x_m, y_m = place(table[0], table[1])
        _, _, inside = ground.cells(x_m, y_m)
        outside += int((~inside).sum())
        judged += int(inside.sum())
        _visit(visits, thinning, x_m[inside], y_m[inside], table[3, inside], table[2, inside])
    reader.require_rows()
    visits.close()
    x_m, y_m, utc_s = np.array(visits.places, dtype=np.float64).reshape(-1, 3).T
    row, column, _ = ground.cells(x_m, y_m)
    left_out = {**reader.left_out(), OUTSIDE: outside, VISITED: thinning.left_out}
    facts = SourceFacts(
        name=name,
        kind=LEVELS,
        total_bytes=total,
        epochs=reader.used,
        judged=judged,
        kept=x_m.size,
        left_out={words: count for words, count in left_out.items() if count},
        first_utc_s=None if math.isnan(first_s) else first_s,
        last_utc_s=None if math.isnan(last_s) else last_s,
    )
    levels_dbm = np.array(visits.levels_dbm, dtype=np.float64)
    return Observed(facts, SourceColumns.of_levels(x_m, y_m, row, column, utc_s, levels_dbm))


def _table(block: list[LevelRow]) -> FloatArray:
    """Across, along, level, time: (4, n)."""
    return np.array([(one.across, one.along, one.level_dbm, one.utc_s) for one in block]).T


def _visit(
    visits: _Visits,
    thinning: Thinning,
    x_m: FloatArray,
    y_m: FloatArray,
    utc_s: FloatArray,
    level_dbm: FloatArray,
) -> None:
    begins, kept = thinning.visits(x_m, y_m)
    ends = [*begins[1:].tolist(), x_m.size] if begins.size else []
    visits.add(level_dbm[: int(begins[0]) if begins.size else x_m.size])
    for start, end, keep in zip(begins.tolist(), ends, kept.tolist(), strict=True):
        visits.begin((float(x_m[start]), float(y_m[start]), float(utc_s[start])), keep=keep)
        visits.add(level_dbm[start:end])
