"""What a rover says of one epoch: quality, age of corrections and station ID; and of the date.

Fields as in NMEA 0183, as implemented by the package pynmeagps, against which tests hold them. A field that
is empty or cannot be read is None, never a guess.
"""

from __future__ import annotations

import datetime
from typing import NamedTuple

QUALITY_NAMES = {
    0: "no position",
    1: "autonomous",
    2: "differential",
    3: "precise service",
    4: "RTK fixed",
    5: "RTK float",
    6: "estimated",
    7: "manual",
    8: "simulated",
}
"""Quality of GGA, field 6."""
CORRECTED = frozenset({2, 4, 5})
FIXED, FLOAT, NO_POSITION = 4, 5, 0
SATELLITE_NAMES = range(100, 200)
"""As station of a differential position: most likely an augmentation satellite [common practice]."""
_MODES = ((b"R", 4), (b"F", 5), (b"P", 3), (b"D", 2), (b"A", 1), (b"E", 6), (b"M", 7), (b"S", 8))
"""GNS has a letter for each satellite system: the best of them counts."""
_LONGEST_NUMBER = 18


class Fix(NamedTuple):
    """One epoch."""

    time_s: float | None
    """Time of day, UTC."""
    quality: int | None
    """A key of QUALITY_NAMES."""
    satellites: int | None
    age_s: float | None
    """Of the corrections used."""
    station: str | None
    """The reference station's ID: a number without leading zeros, or the text that stands there."""
    latitude_deg: float | None
    longitude_deg: float | None

    @property
    def corrected(self) -> bool:
        """The position rests on corrections."""
        return self.quality in CORRECTED


def parse_gga(body: bytes) -> Fix | None:
    """A GGA sentence without "$" and checksum; None where fields are missing."""
    field = body.split(b",")
    if len(field) < 15:
        return None
    quality = field[6][0] - 48 if len(field[6]) == 1 and b"0" <= field[6] <= b"8" else None
    return _fix(field, quality, field[13], field[14])


def parse_gns(body: bytes) -> Fix | None:
    """A GNS sentence without "$" and checksum; None where fields are missing."""
    field = body.split(b",")
    if len(field) < 13:
        return None
    modes = field[6]
    quality = next((value for letter, value in _MODES if letter in modes), None)
    if quality is None and b"N" in modes:
        quality = NO_POSITION
    return _fix(field, quality, field[11], field[12])


def _fix(field: list[bytes], quality: int | None, age: bytes, station: bytes) -> Fix:
    satellites = field[7]
    return Fix(
        time_of_day(field[1]),
        quality,
        int(satellites) if satellites.isdigit() and len(satellites) <= 3 else None,
        number(age),
        _station(station),
        _angle(field[2], field[3], b"N", b"S", 90),
        _angle(field[4], field[5], b"E", b"W", 180),
    )


def number(text: bytes) -> float | None:
    """A plain decimal number, not negative."""
    plain = len(text) <= _LONGEST_NUMBER and text.replace(b".", b"", 1).isdigit()
    return float(text) if plain else None


def time_of_day(text: bytes) -> float | None:
    """hhmmss or hhmmss.sss as seconds; None where it is no time."""
    value = number(text)
    if value is None or not text[:6].isdigit() or len(text) < 6 or text[6:7] not in (b"", b"."):
        return None
    hours, minutes, seconds = int(text[:2]), int(text[2:4]), value % 100.0
    if hours > 23 or minutes > 59 or seconds >= 61.0:
        return None
    return hours * 3600.0 + minutes * 60.0 + round(seconds, 4)


def date_of(body: bytes) -> tuple[datetime.date, float] | None:
    """Date and time of day of an RMC or ZDA sentence; None where it has none."""
    field = body.split(b",")
    kind = field[0][-3:]
    if kind == b"RMC" and len(field) > 9 and len(field[9]) == 6 and field[9].isdigit():
        day, month, year = int(field[9][:2]), int(field[9][2:4]), 2000 + int(field[9][4:])
    elif kind == b"ZDA" and len(field) > 4 and all(one.isdigit() and len(one) <= 4 for one in field[2:5]):
        day, month, year = int(field[2]), int(field[3]), int(field[4])
    else:
        return None
    time_s = time_of_day(field[1])
    try:
        return None if time_s is None else (datetime.date(year, month, day), time_s)
    except ValueError:
        return None


def _station(text: bytes) -> str | None:
    text = text.strip()
    if text.isdigit():
        return text.lstrip(b"0")[:16].decode("ascii") or "0"
    return text[:16].decode("ascii", "replace") or None


def _angle(text: bytes, side: bytes, plus: bytes, minus: bytes, most: int) -> float | None:
    """Degrees and minutes (dddmm.mmm) as degrees, with the side's sign."""
    value = number(text)
    if value is None or side not in (plus, minus):
        return None
    degrees, minutes = divmod(value, 100.0)
    angle = degrees + minutes / 60.0
    if minutes >= 60.0 or angle > most:
        return None
    return angle if side == plus else -angle
