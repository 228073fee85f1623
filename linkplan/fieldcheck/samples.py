"""What was observed in the field, thinned and laid on the job's grid.

Two outcomes stand side by side. `outcome` is what the crew lives by: corrections no older than the age limit.
`arrived` is what the map predicts: the level at this place sufficed for the message that was due. With a
limit of 10 s and a message a second a rover is in time as long as one of ten messages comes, and it rides
through short holes: in time comes about more often than the map's chance, and where it fails it fails up to
10 s of driving behind the place to blame. So a calibration takes `arrived`; the crew's table of hits and
misses may take either.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

IN_TIME, NOT_IN_TIME, NOT_OBSERVED = 1, 0, -1
"""Values of `Samples.outcome` and `Samples.arrived`."""

NMEA, CAPTURE, LEVELS = "rover log", "capture", "levels"
"""Kinds of source."""


@dataclass(frozen=True)
class SourceFacts:
    """One file, counted."""

    name: str
    kind: str
    total_bytes: int
    epochs: int
    """Epochs, or rows with a level, that were read."""
    judged: int
    """Of those, the ones that say something about the link at a place on the grid."""
    kept: int
    """Samples after thinning."""
    left_out: dict[str, int]
    """Why epochs, rows, sentences or bytes were not used, in words, with their number."""
    first_utc_s: float | None
    """Seconds since 1970 of the first epoch, where the file states dates."""
    last_utc_s: float | None


@dataclass(frozen=True)
class OtherBaseSpot:
    """A place where a rover used another base than the job's."""

    source: int
    station: str
    row: int
    column: int
    x_m: float
    y_m: float
    epochs: int


@dataclass(frozen=True)
class Samples:
    """Thinned observations; arrays are (n,), in the order of sources and time."""

    x_m: NDArray[np.float64]
    """Local east of the job's grid."""
    y_m: NDArray[np.float64]
    row: NDArray[np.int32]
    column: NDArray[np.int32]
    source: NDArray[np.int32]
    """Index into `sources`."""
    utc_s: NDArray[np.float64]
    """Seconds since 1970; NaN where unknown."""
    outcome: NDArray[np.int8]
    """IN_TIME, NOT_IN_TIME, or NOT_OBSERVED where only a level was measured."""
    level_dbm: NDArray[np.float64]
    """Received level; NaN where none was measured."""
    sources: tuple[SourceFacts, ...]
    other_bases: tuple[OtherBaseSpot, ...]
    arrived: NDArray[np.int8] = field(default_factory=lambda: np.empty(0, dtype=np.int8))
    """IN_TIME where the message last due had arrived, NOT_IN_TIME where it had not, NOT_OBSERVED where
    that cannot be told; all of them NOT_OBSERVED where it is not given."""
    notes: tuple[str, ...] = ()
    """What the user should know about how epochs were judged, one sentence each."""

    def __post_init__(self) -> None:
        if self.arrived.size != self.x_m.size:
            if self.arrived.size:
                raise ValueError("arrived must have an entry for each sample")
            object.__setattr__(self, "arrived", np.full(self.x_m.size, NOT_OBSERVED, dtype=np.int8))

    def __len__(self) -> int:
        return int(self.x_m.size)
