"""One piece of evidence a visit of a place: a stop does not count a thousand times.

What decides whether a message arrives, the ground's shadow, changes over some tens of metres, and
neighbouring epochs share it [common practice: shadowing decorrelates over 10 to 100 m, fading by reflections
over a wavelength or so, 0.7 m]. So a visit begins where a rover has moved `spacing_m` from where the last
one began, and gives one sample: its first epoch. Which epoch that is hangs on positions alone, never on what
was observed, so that the share of good samples is that of good places. (A majority of the visit's epochs
would push shares toward 0 and 1; the best or the worst would push them one way.) One exception is borne:
positions without corrections scatter by metres, so that a stop in a hole now and then counts as a visit more.

A place, a square of `spacing_m`, gives at most `most_visits` samples of one file: going to and fro over a
haul road shows the same shadow again, and memory stays bounded by the ground visited.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

LEAST_SPACING_M = 10.0
"""Nearer than that shadowing is the same [common practice], and autonomous positions scatter as far."""
MOST_VISITS = 4
"""Of one place in one file [our choice: days differ a little, places much]."""
_SQUARES = 1 << 21


def spacing_for(cell_size_m: float) -> float:
    """The map holds one value a cell, so a cell is the least; and at least 10 m."""
    return max(LEAST_SPACING_M, cell_size_m)


class Thinning:
    """Says which of a track's positions begin a visit. Positions come block by block."""

    def __init__(self, spacing_m: float, most_visits: int = MOST_VISITS) -> None:
        self._spacing = spacing_m
        self._most = most_visits
        self._anchor: tuple[float, float] | None = None
        self._visits: dict[int, int] = {}
        self.left_out = 0
        """Visits of places that had given their samples."""

    def visits(self, x_m: FloatArray, y_m: FloatArray) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
        """Where visits begin in the positions (n,), in local metres, and whether each gives a sample."""
        if not x_m.size:
            return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.bool_)
        begins = np.array(self._begins(x_m, y_m), dtype=np.intp)
        column = np.floor(x_m[begins] / self._spacing).astype(np.int64)
        row = np.floor(y_m[begins] / self._spacing).astype(np.int64)
        counts, kept = self._visits, []
        for place in (row * _SQUARES + column).tolist():
            count = counts.get(place, 0)
            kept.append(count < self._most)
            if count < self._most:
                counts[place] = count + 1
        found = np.array(kept, dtype=np.bool_)
        self.left_out += found.size - int(found.sum())
        return begins, found

    def _begins(self, x_m: FloatArray, y_m: FloatArray) -> list[int]:
        limit = self._spacing**2
        begins: list[int] = []
        if self._anchor is None:
            begins.append(0)
            self._anchor = (float(x_m[0]), float(y_m[0]))
        at_x, at_y = self._anchor
        moved = (x_m - at_x) ** 2 + (y_m - at_y) ** 2 >= limit
        first = int(moved.argmax())
        if not moved[first]:
            return begins  # it stands
        for index, (x, y) in enumerate(zip(x_m[first:].tolist(), y_m[first:].tolist(), strict=True), first):
            if (x - at_x) ** 2 + (y - at_y) ** 2 >= limit:
                at_x, at_y = x, y
                begins.append(index)
        self._anchor = (at_x, at_y)
        return begins
