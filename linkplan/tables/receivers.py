"""What a receiver needs where no data sheet says it: common practice, marked so wherever it is used.

No document was read for these figures. They are round values that agree with what narrow-band data
radios state (for example -110 dBm at 9600 bit/s in 12.5 kHz is some 16 dB above kTB with a noise
figure of 7 dB). A data sheet's sensitivity always goes before them.
"""

from __future__ import annotations

REQUIRED_SNR_DB = {
    "2-level-fsk": 11.0,
    "gmsk": 11.0,
    "4-level-fsk": 16.0,
    "8-level-fsk": 21.0,
    "16-level-fsk": 26.0,
}
"""Signal-to-noise ratio in the channel that a modulation needs, dB [common practice, from memory]."""

DEFAULT_NOISE_FIGURE_DB = 8.0
"""Noise figure of a data receiver of unknown make, dB [common practice, from memory]."""

DEFAULT_PREDICTION_SIGMA_DB = 6.0
"""Standard deviation of prediction error over unfamiliar terrain, dB [common practice, from memory].

Propagation handbooks use some 5.6 to 8 dB; field logs replace it."""

DEFAULT_CHANCE = 0.95
"""Wanted chance that corrections arrive where a job file does not say [common practice]."""
