"""What field logs have taught about a job's prediction, as it stands in the job file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True)
class Calibration:
    """Learned values, with the data that they rest on."""

    offset_db: float
    """Added to every predicted level; negative where levels were weaker than predicted."""
    sigma_db: float
    """Error of the prediction, without the scatter within a cell; in place of `environment`'s."""
    made: date
    logs: int
    """Files of whatever kind."""
    epochs: int
    """Epochs and measured levels that were judged, before thinning."""
    samples: int
    """What was left of them after thinning."""
    blocks: int
    """Separate blocks of ground that they lie in."""
    class_offsets_db: Mapping[int, float] = field(default_factory=dict)
    """By code of the clutter raster at the rover: added beside `offset_db`."""
