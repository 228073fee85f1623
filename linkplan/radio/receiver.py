"""The weakest level a receiver can use, from its data sheet and from the noise of the place."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linkplan.errors import RangeError
from linkplan.radio.equipment import Receiver
from linkplan.units import BOLTZMANN_J_K, REFERENCE_TEMPERATURE_K, level_db, power_ratio


@dataclass(frozen=True)
class WeakestLevel:
    """The weakest usable level at the receiver's input, and where it comes from."""

    level_dbm: float
    thermal_noise_dbm: float
    """k T0 B of the receiver's bandwidth."""
    site_noise_dbm: float
    """Thermal, man-made and the receiver's own noise together."""
    noise_rise_db: float
    """What the place takes off the data sheet's sensitivity, at least 0."""
    decided_by: str
    """"data sheet", "data sheet and site noise" or "noise and modulation"."""


def thermal_noise_dbm(bandwidth_khz: float) -> float:
    """k T0 B, dBm, for a bandwidth in kHz (above 0) at 290 K [P.372, section 2]."""
    return level_db(BOLTZMANN_J_K * REFERENCE_TEMPERATURE_K * bandwidth_khz * 1e3) + 30.0


def weakest_usable(receiver: Receiver, external_noise_figure_db: float) -> WeakestLevel:
    """The weakest usable level of a receiver where noise from outside has the given figure Fa.

    System noise factor f = fa + fr - 1 with loss-free antenna circuits [P.372, section 2, equation
    for the operating noise factor]. A data sheet's sensitivity holds for fa = 1 (a generator at T0),
    so a noisier place raises it by f/fr and a quieter one is never credited. Where the required
    signal-to-noise ratio is given too, the worse of the two decides.
    """
    outside = power_ratio(external_noise_figure_db)
    own = power_ratio(receiver.noise_figure_db)
    thermal = thermal_noise_dbm(receiver.noise_bandwidth_khz)
    rise = max(level_db((outside + own - 1.0) / own), 0.0)
    site_noise = thermal + receiver.noise_figure_db + rise
    candidates: list[tuple[float, str]] = []
    if receiver.sensitivity_dbm is not None:
        how = "data sheet and site noise" if rise > 0.0 else "data sheet"
        candidates.append((receiver.sensitivity_dbm + rise, how))
    if receiver.required_snr_db is not None:
        candidates.append((site_noise + receiver.required_snr_db, "noise and modulation"))
    if not candidates:
        raise RangeError("a receiver needs a sensitivity or a required signal-to-noise ratio")
    level, decided_by = max(candidates, key=lambda candidate: candidate[0])
    if not math.isfinite(level):
        raise RangeError(f"weakest usable level = {level} dBm is not a number")
    return WeakestLevel(level, thermal, site_noise, rise, decided_by)
