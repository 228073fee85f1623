"""From transmitter power to margin and chance: the sums of a link budget, on numbers or whole maps."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from linkplan.radio.equipment import Receiver, Transmitter

Level = TypeVar("Level", float, NDArray[np.float64], NDArray[np.float32])


def peak_eirp_dbm(transmitter: Transmitter) -> float:
    """Equivalent isotropically radiated power in the antenna's best direction, dBm."""
    return transmitter.power_dbm - transmitter.feeder.loss_db + transmitter.antenna.gain_dbi


def receive_gain_db(receiver: Receiver) -> float:
    """Antenna gain less feeder and body losses, dB; the rover's antenna counts at its stated gain."""
    return receiver.antenna.gain_dbi - receiver.feeder.loss_db - receiver.body_loss_db


def received_dbm(eirp_dbm: Level, loss_db: Level, receive_gain: float) -> Level:
    """Level at the receiver's input: EIRP - basic transmission loss + receive gain, dBm."""
    return eirp_dbm - loss_db + receive_gain
