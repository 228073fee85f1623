"""The computed quantities as a GeoTIFF of named bands, for any GIS.

In the job's coordinate system where that is projected (each pixel takes the computed cell nearest to
its centre), else in the local plane of true metres around the base.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkplan import __version__
from linkplan.coverage.results import CoverageMap
from linkplan.outputs import style
from linkplan.outputs.calibration_words import calibration_line
from linkplan.outputs.files import replacing
from linkplan.outputs.regrid import Regrid, onto, onto_local
from linkplan.outputs.workable_words import Work
from linkplan.plan.model import Plan
from linkplan.workable import NO_CORRECTIONS, NO_SKY, REASONS, TOO_FAR, UNKNOWN

if TYPE_CHECKING:
    from rasterio.io import DatasetWriter

MISSING = (NO_CORRECTIONS, NO_SKY, TOO_FAR)
BANDS = (
    ("loss_db", "dB", "basic transmission loss"),
    ("received_dbm", "dBm", "level at the rover's receiver"),
    ("margin_db", "dB", "received level over the weakest usable one"),
    ("chance", "1", "chance that corrections arrive, 0 to 1"),
    ("line_of_sight", "1", "1 in line of sight, 0 not"),
    ("fresnel_clearance", "1", "smallest clearance over the first Fresnel zone's radius"),
    ("class", "1", "class of coverage, see the tag CLASSES"),
)
"""Name, unit and meaning of each band, in order."""


WORK_BANDS = (
    ("workable", "1", "0 where work can go on, else the sum of what is missing, see the tag WORKABLE"),
    ("horizontal_accuracy_m", "m", "horizontal accuracy to expect from the distance to the base alone"),
)
"""Added where the job asks for more than corrections."""


def write_geotiff(plan: Plan, coverage: CoverageMap, path: Path, work: Work | None = None) -> Path:
    """Write all bands as float32, NaN where unknown; those of `work` last. Raises OutputError."""
    from rasterio.io import MemoryFile

    placed = placement(coverage)
    bands = BANDS if work is None else BANDS + WORK_BANDS
    rows, columns = placed.shape
    # The driver goes on in silence when a disk is full: let it write to memory, and write that ourselves.
    with replacing(path) as place, MemoryFile() as memory:
        with memory.open(
            driver="GTiff", width=columns, height=rows, count=len(bands), dtype="float32",
            crs=placed.crs.to_wkt(), transform=placed.transform, nodata=float("nan"),
            tiled=True, blockxsize=256, blockysize=256, compress="deflate", predictor=3, zlevel=4,
            interleave="band", num_threads=2, bigtiff="if_safer",
        ) as dataset:  # fmt: skip
            for band, (name, unit, meaning) in enumerate(bands, start=1):
                dataset.write(placed.look_up(_values(coverage, name, work), np.nan), band)
                dataset.set_band_description(band, name)
                dataset.update_tags(band, MEANING=meaning)
                dataset.set_band_unit(band, unit)
            _tag(dataset, plan, coverage)
            if work is not None:
                dataset.update_tags(WORKABLE=_reasons(work))
        place.write_bytes(memory.getbuffer())
    return path


def placement(coverage: CoverageMap) -> Regrid:
    """Where the pixels lie: the job's coordinate system if projected, else the local plane."""
    frame = coverage.grid.frame
    return onto(coverage.grid, frame.job_crs) if frame.job_crs.is_projected else onto_local(coverage.grid)


def _reasons(work: Work) -> str:
    sky = "" if work.found.sky_counted else "; the sky is not counted"
    return "0 workable; " + "; ".join(f"{code} {REASONS[code]}" for code in MISSING) + sky


def _values(coverage: CoverageMap, name: str, work: Work | None) -> NDArray[np.float32]:
    if work is not None and name == "horizontal_accuracy_m":
        return work.found.horizontal_m
    if work is not None and name == "workable":
        reason = work.found.reason.astype(np.float32)
        reason[work.found.reason == UNKNOWN] = np.nan
        return reason
    if name != "class":
        values: NDArray[np.float32] = getattr(coverage, name).astype(np.float32, copy=False)
        return values
    index = coverage.class_index.astype(np.float32)
    index[coverage.class_index == 0] = np.nan
    return index


def _tag(dataset: DatasetWriter, plan: Plan, coverage: CoverageMap) -> None:
    dataset.update_tags(
        JOB=plan.name,
        JOB_SHA256=plan.job_hash,
        SOFTWARE=f"linkplan {__version__}",
        MODEL=style.MODEL,
        CAUTION=style.PREDICTION,
        HEIGHT_DATUM=coverage.grid.height_datum,
        WEAKEST_USABLE_DBM=f"{coverage.weakest_usable_dbm:.2f}",
        SIGMA_DB=f"{coverage.sigma_db:.2f}",
        CALIBRATION=calibration_line(plan) or "none",
        FREQUENCY_MHZ=f"{plan.transmitter.frequency_mhz:g}",
        CLASSES="; ".join(
            f"{one.index} {one.name} (chance {one.chance_low:g} to {one.chance_high:g})"
            for one in coverage.classes
        ),
    )
