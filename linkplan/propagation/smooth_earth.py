"""Which smooth surface fits the ground, and how high above it do the antennas stand?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkplan.propagation.profile import PathProfile


@dataclass(frozen=True)
class SmoothSurface:
    """Ends of the straight line fitted to the bare ground, m above sea level."""

    fit_tx_m: float
    """Least-squares fit at the transmitter: hst."""
    fit_rx_m: float
    """Least-squares fit at the receiver: hsr."""
    diffraction_tx_m: float
    """For the diffraction model: lowered by obstructions, never above the ground: hstd."""
    diffraction_rx_m: float
    """As above at the receiver: hsrd."""
    ducting_tx_m: float
    """For ducting: the fit, never above the ground."""
    ducting_rx_m: float


def smooth_surface(profile: PathProfile) -> SmoothSurface:
    """Smooth-earth surface of a path with at least one interior point.

    [P.1812-8, Attachment 1, sections 5.6.1 (fit), 5.6.2 (diffraction), 5.6.3 (ducting)]
    """
    fit_tx, fit_rx = least_squares_ends(profile)
    lowered_tx, lowered_rx = _lowered_by_obstructions(profile, fit_tx, fit_rx)
    ground_tx = float(profile.terrain_height_m[0])
    ground_rx = float(profile.terrain_height_m[-1])
    return SmoothSurface(
        fit_tx_m=fit_tx,
        fit_rx_m=fit_rx,
        diffraction_tx_m=min(lowered_tx, ground_tx),
        diffraction_rx_m=min(lowered_rx, ground_rx),
        ducting_tx_m=min(fit_tx, ground_tx),
        ducting_rx_m=min(fit_rx, ground_rx),
    )


def least_squares_ends(profile: PathProfile) -> tuple[float, float]:
    """Heights of the fitted straight line at the two ends, m.

    Exact for ground that is itself a straight line. [P.1812-8, Attachment 1, section 5.6.1: v1, v2]
    """
    d, h, length = profile.distance_km, profile.terrain_height_m, profile.length_km
    step = np.diff(d)
    v1 = float(np.sum(step * (h[1:] + h[:-1])))
    v2 = float(np.sum(step * (h[1:] * (2.0 * d[1:] + d[:-1]) + h[:-1] * (d[1:] + 2.0 * d[:-1]))))
    return (2.0 * v1 * length - v2) / length**2, (v2 - v1 * length) / length**2


def _lowered_by_obstructions(profile: PathProfile, fit_tx: float, fit_rx: float) -> tuple[float, float]:
    """Fit lowered where ground stands above the line between the antennas, m.

    [P.1812-8, Attachment 1, section 5.6.2: h_obs, alpha_obt, alpha_obr]
    """
    d, length = profile.distance_km[1:-1], profile.length_km
    rest = length - d
    line = (profile.tx_antenna_m * rest + profile.rx_antenna_m * d) / length
    above = profile.terrain_height_m[1:-1] - line
    highest = float(np.max(above))
    if highest <= 0.0:
        return fit_tx, fit_rx
    slope_tx = float(np.max(above / d))
    slope_rx = float(np.max(above / rest))
    share_tx = slope_tx / (slope_tx + slope_rx)
    return fit_tx - highest * share_tx, fit_rx - highest * (1.0 - share_tx)
