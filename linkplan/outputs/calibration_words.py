"""What field logs have taught, in words: a prediction says wherever it is shown whether it was calibrated."""

from __future__ import annotations

from linkplan.outputs import formats
from linkplan.plan.calibration import Calibration
from linkplan.plan.model import Plan


def calibrated_from(learned: Calibration) -> str:
    """On what it rests, e.g. "calibrated from 2 logs, 3 412 epochs, 2026-05-13"."""
    return (
        f"calibrated from {formats.counted(learned.logs, 'log')}, "
        f"{formats.counted(learned.epochs, 'epoch')}, {learned.made.isoformat()}"
    )


def calibration_line(plan: Plan) -> str:
    """One sentence, or "" where nothing was learned."""
    learned = plan.calibration
    if learned is None:
        return ""
    classes = "".join(
        f", {formats.decibels(more_db, signed=True)} more at {class_name(plan, code)}"
        for code, more_db in sorted(learned.class_offsets_db.items())
    )
    origin = calibrated_from(learned)
    return (
        f"{origin[0].upper()}{origin[1:]}: {formats.decibels(learned.offset_db, signed=True)} on every level"
        f"{classes}; error of the prediction {formats.decibels(learned.sigma_db)} "
        f"(before: {formats.decibels(plan.environment.prediction_sigma_db)})."
    )


def class_name(plan: Plan, code: int) -> str:
    """A clutter class by its name, else by its number in the raster."""
    name = plan.clutter.names.get(code, "") if plan.clutter is not None else ""
    shown = "".join(sign if sign.isprintable() else " " for sign in name).strip()
    return shown or f"class {code}"
