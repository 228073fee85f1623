"""What one file comes to."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from linkplan.fieldcheck.observed_ground import FloatArray, IntArray
from linkplan.fieldcheck.samples import NOT_OBSERVED, SourceFacts


@dataclass(frozen=True)
class SourceColumns:
    """A file's samples, as in `Samples`; arrays are (n,)."""

    x_m: FloatArray
    y_m: FloatArray
    row: IntArray
    column: IntArray
    utc_s: FloatArray
    outcome: NDArray[np.int8]
    level_dbm: FloatArray
    arrived: NDArray[np.int8]

    def __len__(self) -> int:
        return int(self.x_m.size)

    @classmethod
    def of_outcomes(
        cls,
        x_m: FloatArray,
        y_m: FloatArray,
        row: IntArray,
        column: IntArray,
        utc_s: FloatArray,
        outcome: NDArray[np.int8],
        arrived: NDArray[np.int8],
    ) -> SourceColumns:
        """Samples without a level."""
        return cls(x_m, y_m, row, column, utc_s, outcome, np.full(x_m.size, np.nan), arrived)

    @classmethod
    def of_levels(
        cls,
        x_m: FloatArray,
        y_m: FloatArray,
        row: IntArray,
        column: IntArray,
        utc_s: FloatArray,
        level_dbm: FloatArray,
    ) -> SourceColumns:
        """Samples with a level only."""
        unknown = np.full(x_m.size, NOT_OBSERVED, dtype=np.int8)
        return cls(x_m, y_m, row, column, utc_s, unknown, level_dbm, unknown)


Spot = tuple[str, int, int, float, float, int]
"""Station, row, column, x, y and epochs of an `OtherBaseSpot`."""


@dataclass(frozen=True)
class Observed:
    """A file's samples and what was left out."""

    facts: SourceFacts
    columns: SourceColumns
    spots: tuple[Spot, ...] = ()
    notes: tuple[str, ...] = field(default=())
    digest: bytes = b""
    """Of all the bytes, unpacked."""
