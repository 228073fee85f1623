"""Which rasters describe the ground, as a job file names them. No reading happens here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True)
class TerrainSource:
    """Elevation rasters (later files fill what earlier ones lack) and what is known of their heights."""

    files: tuple[Path, ...]
    height_unit: str | None = None
    """A key of `units.METRES_PER_UNIT`, or None: take the raster's own word, else metres."""
    height_datum: str | None = None
    """Free text from the user, e.g. "EGM2008 geoid"; None: take the raster's own word."""
    cell_size_m: float | None = None
    """Cell of the local grid, m; None: chosen from the rasters and the size of the job."""


@dataclass(frozen=True)
class ClutterSource:
    """A class raster of what stands on the ground, and the height of each class above it, m."""

    file: Path
    heights_m: Mapping[int, float] = field(default_factory=dict)
    names: Mapping[int, str] = field(default_factory=dict)
