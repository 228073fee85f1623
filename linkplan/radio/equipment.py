"""Radio equipment as numbers: what a transmitter radiates and what a receiver needs."""

from __future__ import annotations

from dataclasses import dataclass

POLARIZATIONS = ("vertical", "horizontal")


@dataclass(frozen=True)
class VerticalPattern:
    """Relative gain of an antenna against elevation angle; linear in between, flat beyond the ends."""

    elevation_deg: tuple[float, ...]
    """Ascending, -90 to 90, 0 at the horizon."""
    relative_gain_db: tuple[float, ...]
    """At most 0: relative to the antenna's stated gain."""


@dataclass(frozen=True)
class Feeder:
    """Cable and connectors between radio and antenna."""

    loss_db: float
    """The whole of it, at the working frequency; at least 0."""


@dataclass(frozen=True)
class Antenna:
    """An antenna that radiates alike all around."""

    gain_dbi: float
    pattern: VerticalPattern | None = None


@dataclass(frozen=True)
class Transmitter:
    """The base's radio up to and including its antenna."""

    power_dbm: float
    frequency_mhz: float
    channel_spacing_khz: float
    feeder: Feeder
    antenna: Antenna
    polarization: str = "vertical"
    occupied_bandwidth_khz: float | None = None
    """What the emission fills; None: the table's figure for the channel spacing."""


@dataclass(frozen=True)
class Receiver:
    """The rover's radio with its antenna.

    Either `sensitivity_dbm` (the data sheet's, at the over-the-air rate) or `required_snr_db` is
    given, or both; then the worse decides.
    """

    antenna: Antenna
    feeder: Feeder
    noise_bandwidth_khz: float
    noise_figure_db: float
    noise_figure_assumed: bool
    """True when the job file does not state it and the default of the tables was taken."""
    sensitivity_dbm: float | None = None
    required_snr_db: float | None = None
    body_loss_db: float = 0.0
    modulation: str = ""
    """Name of the modulation that `required_snr_db` was looked up for, or ""."""
