"""What field logs have taught about a job's prediction, as it stands in the job file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from linkplan.plan.checking import Section
from linkplan.plan.words import Report

_CODES_SHOWN = 12


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


def read_calibration(section: Section | None, clutter: Section | None, report: Report) -> Calibration | None:
    """The section as an object, None where there is none; faults of its keys are noted already."""
    if section is None:
        return None
    offsets: Mapping[int, float] = section["classes"] or {}
    known = (clutter["classes"] if clutter is not None else None) or {}
    for code, offset_db in offsets.items():
        if code not in known and (clutter is None or known):
            there = ", ".join(str(one) for one in sorted(known)[:_CODES_SHOWN])
            cure = f"[clutter.classes] has {there}" if known else "leave it out"
            problem = "no class of this job's [clutter]" if known else "this job has no [clutter]"
            report.fault(f"calibration.classes.{code}", offset_db, problem, cure)
    needed = ("offset_db", "sigma_db", "made", "logs", "epochs", "samples", "blocks")
    if any(section[name] is None for name in needed):
        return None
    return Calibration(**{name: section[name] for name in needed}, class_offsets_db=offsets)
