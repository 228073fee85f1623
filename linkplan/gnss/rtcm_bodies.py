"""The messages that describe a base, decoded whole by the package pyrtcm: its point, antenna, receiver."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

POINT_MESSAGES = (1005, 1006)
ANTENNA_MESSAGES = (1007, 1008, 1033)


@dataclass(frozen=True)
class ReferencePoint:
    """The antenna reference point as 1005 or 1006 gives it: earth-centred, earth-fixed."""

    number: int
    station_id: int
    x_m: float
    y_m: float
    z_m: float
    antenna_height_m: float | None
    """Of the antenna reference point over the mark; None in 1005, which does not carry it."""


@dataclass(frozen=True)
class AntennaText:
    """Antenna, and receiver where 1033 gives it, as texts."""

    number: int
    station_id: int
    antenna: str
    antenna_serial: str | None
    setup_id: int
    receiver: str | None
    firmware: str | None
    receiver_serial: str | None

    @property
    def texts(self) -> tuple[str, ...]:
        """The texts in the message's order."""
        all_texts = (self.antenna, self.antenna_serial, self.receiver, self.firmware, self.receiver_serial)
        return tuple(text for text in all_texts if text is not None)


def decode(payload: bytes) -> ReferencePoint | AntennaText | None:
    """A payload of POINT_MESSAGES or ANTENNA_MESSAGES; None where it cannot be decoded."""
    from pyrtcm import RTCMMessage
    from pyrtcm.exceptions import ParameterError, RTCMMessageError, RTCMStreamError, RTCMTypeError

    try:
        fields = vars(RTCMMessage(payload=payload))
        number = int(fields["DF002"])
        return _point(number, fields) if number in POINT_MESSAGES else _antenna(number, fields)
    except (ParameterError, RTCMMessageError, RTCMStreamError, RTCMTypeError, KeyError, ValueError):
        return None


def _point(number: int, fields: Mapping[str, object]) -> ReferencePoint:
    # the resolution is 0.1 mm: rounding takes away what the library's scaling adds
    x_m, y_m, z_m = (round(_number(fields[key]), 4) for key in ("DF025", "DF026", "DF027"))
    height = round(_number(fields["DF028"]), 4) if number == 1006 else None
    return ReferencePoint(number, int(_number(fields["DF003"])), x_m, y_m, z_m, height)


def _antenna(number: int, fields: Mapping[str, object]) -> AntennaText:
    with_serial, with_receiver = number in (1008, 1033), number == 1033
    return AntennaText(
        number,
        int(_number(fields["DF003"])),
        _text(fields, "DF029", "DF030"),
        _text(fields, "DF032", "DF033") if with_serial else None,
        int(_number(fields["DF031"])),
        _text(fields, "DF227", "DF228") if with_receiver else None,
        _text(fields, "DF229", "DF230") if with_receiver else None,
        _text(fields, "DF231", "DF232") if with_receiver else None,
    )


def _number(value: object) -> float:
    if not isinstance(value, int | float):
        raise ValueError(f"{value!r} is no number")
    return value


def _text(fields: Mapping[str, object], counter: str, letter: str) -> str:
    """A text that the library gives letter by letter; what does not print becomes a question mark."""
    letters = (str(fields[f"{letter}_{place:02d}"]) for place in range(1, int(_number(fields[counter])) + 1))
    return "".join(one if one.isascii() and one.isprintable() else "?" for one in letters).strip()
