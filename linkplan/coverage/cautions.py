"""What the user must know about an answer: assumptions taken, data missing, doubtful inputs."""

from __future__ import annotations

from linkplan.coverage.results import CoverageMap
from linkplan.coverage.site import site_constants
from linkplan.plan.model import Plan
from linkplan.terrain.dem import base_height_warning


def study_warnings(plan: Plan, coverage: CoverageMap) -> tuple[str, ...]:
    """One sentence each, most important first; empty where there is nothing to say."""
    grid = coverage.grid
    constants = site_constants(plan, grid.cell_size_m)
    receiver = plan.rover.receiver
    found: list[str] = []
    stated_m = plan.base.height_m
    height = base_height_warning(grid, stated_m, plan.height_unit) if stated_m is not None else None
    if height:
        found.append(height)
    found += plan.warnings
    found += grid.notes
    if plan.calibration is None and plan.environment.prediction_sigma_assumed:
        found.append(
            f"The error of the prediction is taken as {plan.environment.prediction_sigma_db:g} dB (common "
            "practice); logs from the field would show it."
        )
    if receiver.noise_figure_assumed:
        found.append(
            f"The rover's noise figure is taken as {receiver.noise_figure_db:g} dB (common practice)."
        )
    if receiver.modulation and receiver.sensitivity_dbm is None:
        found.append(
            f"What {receiver.modulation} needs ({receiver.required_snr_db:g} dB above noise) "
            "is common practice: the data sheet's sensitivity at the over-the-air rate is better."
        )
    if constants.noise.extrapolated:
        found.append(
            f'Man-made noise "{plan.environment.noise}" is extrapolated to '
            f"{plan.transmitter.frequency_mhz:g} MHz beyond the range of P.372."
        )
    return tuple(found)
