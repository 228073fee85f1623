"""The budget of one link as lines a person can check with a pencil."""

from __future__ import annotations

from linkplan.coverage.results import BudgetLine
from linkplan.coverage.site import SiteConstants
from linkplan.plan.model import Plan
from linkplan.radio import budget
from linkplan.units import watt_from_dbm

_SHOWN_DB = 0.005
"""Smaller remainders are left out of the table; the sums still hold to the digit shown."""


def budget_lines(
    plan: Plan,
    constants: SiteConstants,
    losses_db: tuple[float, float, float],
    antenna_gain_dbi: float,
    class_offset_db: float = 0.0,
) -> tuple[tuple[BudgetLine, ...], float]:
    """The lines from transmitter power to margin, and the received level in dBm.

    `losses_db`: free space, diffraction, and all together. `antenna_gain_dbi` is the base antenna's gain
    towards the rover, `class_offset_db` what logs have taught for the clutter around it. Gains are positive,
    losses negative: every level is the sum of the lines above it.
    """
    free_space_db, diffraction_db, loss_db = losses_db
    transmitter, receiver = plan.transmitter, plan.rover.receiver
    eirp = transmitter.power_dbm - transmitter.feeder.loss_db + antenna_gain_dbi
    learned_db = constants.learned_db + class_offset_db
    received = budget.received_dbm(eirp, loss_db, constants.receive_gain_db) + learned_db
    off_peak = antenna_gain_dbi - transmitter.antenna.gain_dbi
    pattern_note = f"{off_peak:+.1f} dB off the best direction" if abs(off_peak) > _SHOWN_DB else ""
    lines = [
        BudgetLine(
            "transmitter power", transmitter.power_dbm, "dBm", "start",
            f"{watt_from_dbm(transmitter.power_dbm):.3g} W",
        ),
        BudgetLine("base feeder and connectors", -transmitter.feeder.loss_db, "dB", "loss"),
        BudgetLine("base antenna towards the rover", antenna_gain_dbi, "dBi", "gain", pattern_note),
        BudgetLine("radiated (EIRP)", eirp, "dBm", "level"),
        BudgetLine("free space", -free_space_db, "dB", "loss"),
        BudgetLine("diffraction over terrain and clutter", -diffraction_db, "dB", "loss"),
    ]  # fmt: skip
    rest = loss_db - free_space_db - diffraction_db
    if abs(rest) > _SHOWN_DB:
        lines.append(BudgetLine("other mechanisms of P.1812-8", -rest, "dB", "gain" if rest < 0 else "loss"))
    lines += [
        BudgetLine("rover antenna", receiver.antenna.gain_dbi, "dBi", "gain"),
        BudgetLine("rover feeder", -receiver.feeder.loss_db, "dB", "loss"),
        BudgetLine("body and machine near the rover's antenna", -receiver.body_loss_db, "dB", "loss"),
        *_learned(plan, learned_db, class_offset_db),
        BudgetLine("received", received, "dBm", "level"),
        BudgetLine(
            "weakest usable level", constants.weakest.level_dbm, "dBm", "need", need_note(plan, constants)
        ),
        BudgetLine("link margin", received - constants.weakest.level_dbm, "dB", "margin"),
    ]
    return tuple(lines), received


def _learned(plan: Plan, learned_db: float, class_offset_db: float) -> list[BudgetLine]:
    """What field logs have taught, where there are any."""
    learned = plan.calibration
    if learned is None:
        return []
    note = f"{class_offset_db:+.1f} dB of it for the clutter there" if class_offset_db else ""
    kind = "gain" if learned_db > 0.0 else "loss"
    return [BudgetLine("learned from field logs", learned_db, "dB", kind, note)]


def need_note(plan: Plan, constants: SiteConstants) -> str:
    """Where the weakest usable level comes from, in words."""
    weakest, receiver = constants.weakest, plan.rover.receiver
    note = weakest.decided_by
    if weakest.noise_rise_db > _SHOWN_DB and receiver.sensitivity_dbm is not None:
        note += f": {weakest.noise_rise_db:.1f} dB worse than {receiver.sensitivity_dbm:g} dBm for site noise"
    if weakest.decided_by == "noise and modulation":
        note += f": noise {weakest.site_noise_dbm:.1f} dBm, needs {receiver.required_snr_db:g} dB above it"
    return note
