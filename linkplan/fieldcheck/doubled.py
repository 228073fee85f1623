"""Is a piece of evidence given twice? A copy of a log says nothing that the log did not say."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from linkplan.errors import RecordingError
from linkplan.fieldcheck.observed_source import Observed, SourceColumns

FEWEST = 3
"""Samples that two files share, before it is said."""
LEAST_SHARE, LEAST_SHARE_UNTIMED = 0.05, 0.25
"""... and their share of the smaller file's; where no time is known chance may play a part."""
ALIKE_S = 30.0
"""A visit begins where the recording does: another cut of the same drive is shifted by up to a visit."""


def require_different_content(observed: Sequence[Observed]) -> None:
    """Raise RecordingError where two files, as unpacked, hold the same bytes."""
    seen: dict[bytes, str] = {}
    for one in observed:
        if one.digest and one.digest in seen:
            raise RecordingError(
                f"{one.facts.name}: holds the same as {seen[one.digest]}; its epochs would count double"
            )
        seen[one.digest] = one.facts.name


def doubled_notes(observed: Sequence[Observed], spacing_m: float) -> tuple[str, ...]:
    """A sentence for each two files whose samples lie at the same places at the same time."""
    notes = []
    for later, one in enumerate(observed):
        for other in observed[:later]:
            shared = _shared(one.columns, other.columns, spacing_m)
            if shared:
                notes.append(
                    f"{one.facts.name} and {other.facts.name}: {shared} samples were taken at the same "
                    "places at the same time. If they are of the same drive they count double: leave one out."
                )
    return tuple(notes)


def _shared(one: SourceColumns, other: SourceColumns, spacing_m: float) -> int:
    """Samples of the smaller that the larger has as well; 0 where there are too few to speak of."""
    small, large = sorted((one, other), key=len)
    timed = _near(small, large, spacing_m)
    if timed >= max(FEWEST, LEAST_SHARE * len(small)):
        return timed
    untimed = _same(small, large)
    return untimed if untimed >= max(FEWEST, LEAST_SHARE_UNTIMED * len(small)) else 0


def _near(small: SourceColumns, large: SourceColumns, spacing_m: float) -> int:
    """By place and time, of samples of the same kind."""
    found = 0
    for levels in (False, True):
        a, b = (_points(one, spacing_m, levels=levels) for one in (small, large))
        if not (a.size and b.size) or a[:, 2].min() > b[:, 2].max() + 1 or b[:, 2].min() > a[:, 2].max() + 1:
            continue
        from scipy.spatial import cKDTree

        distance, _ = cKDTree(b).query(a, distance_upper_bound=1.0, workers=1)
        found += int(np.isfinite(distance).sum())
    return found


def _points(one: SourceColumns, spacing_m: float, *, levels: bool) -> NDArray[np.float64]:
    """(n, 3): place and time in the units in which 1 is near."""
    use = _timed(one) & (np.isfinite(one.level_dbm) == levels)
    return np.column_stack((one.x_m[use] / spacing_m, one.y_m[use] / spacing_m, one.utc_s[use] / ALIKE_S))


def _has_time_of_day(one: SourceColumns) -> NDArray[np.bool_]:
    """A list of levels may state the day only: midnight for all."""
    whole_day = np.isfinite(one.level_dbm) & (one.utc_s % 86_400.0 == 0.0)
    return np.asarray(~whole_day)


def _same(small: SourceColumns, large: SourceColumns) -> int:
    """By place, to the millimetre, and what was seen there, where one states no time of day."""
    if bool(_timed(small).all() and _timed(large).all()):
        return 0
    days = dict(zip(_seen(large), _day(large), strict=True))
    pairs = [(day, days[key]) for key, day in zip(_seen(small), _day(small), strict=True) if key in days]
    return sum(np.isnan(a) or np.isnan(b) or a == b for a, b in pairs)


def _timed(one: SourceColumns) -> NDArray[np.bool_]:
    return np.asarray(np.isfinite(one.utc_s) & _has_time_of_day(one))


def _day(one: SourceColumns) -> list[float]:
    days: list[float] = np.floor(one.utc_s / 86_400.0).tolist()
    return days


def _seen(one: SourceColumns) -> list[tuple[float, ...]]:
    level = np.nan_to_num(one.level_dbm, nan=1e3)
    table = np.column_stack((np.round(one.x_m, 3), np.round(one.y_m, 3), level, one.arrived))
    return [tuple(row) for row in table.tolist()]
