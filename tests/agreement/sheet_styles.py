"""Random settings, and the same settings written in ever other styles: units, case, order, TOML or CSV."""

from __future__ import annotations

import json
import random
from decimal import Decimal
from fractions import Fraction
from typing import Any

Values = dict[str, Any]

PROTOCOLS = ("type A", "Type-B mark 2", "trans 4 FSK", "x")
MODULATIONS = ("4-level FSK", "GMSK", "2-level FSK", "16-Level-FSK")
NAMES = ("none", "Ridge 1", "hill-top", "North West")
SYSTEMS = {
    "GPS": ("GPS", "gps", "G"), "GLONASS": ("GLONASS", "glonass", "GLO"),
    "Galileo": ("Galileo", "GAL", "galileo"),
    "BeiDou": ("BeiDou", "BDS", "beidou"), "QZSS": ("QZSS", "qzss"), "SBAS": ("SBAS", "sbas"),
}  # fmt: skip
COORDINATE_SYSTEMS = (
    ("EPSG:32628", "epsg:32628", "EPSG 32628", "WGS 84 / UTM zone 28N", "wgs 84 / utm zone 28n"),
    ("EPSG:2227", "NAD83 / California zone 3 (ftUS)"),
    ("Pit grid 7", "pit grid-7", "PITGRID7"),
)
UNITS = {
    "metre": ("metre", "m", "Metres", "meter"),
    "foot": ("foot", "ft", "FEET"),
    "us-survey-foot": ("us-survey-foot", "ftUS", "US survey feet"),
}
METRES = {
    "m": Fraction(1),
    "ft": Fraction(3048, 10000),
    "ftUS": Fraction(1200, 3937),
    "mm": Fraction(1, 1000),
}
HZ = {"Hz": 1, "kHz": 1000, "MHz": 10**6}


def random_values(rng: random.Random) -> Values:
    """Settings of a base and of rovers that agree, as plain numbers and words."""
    station = rng.randrange(4096)
    hz = 403_000_000 + 6250 * rng.randrange(11_000)
    repeater = rng.choice(NAMES)
    return {
        "corrections_frequency": hz,
        "return_frequency": rng.choice((None, hz + 5_000_000)),
        "channel_spacing": rng.choice((6250, 12_500, 20_000, 25_000)),
        "protocol": rng.choice(PROTOCOLS),
        "modulation": rng.choice(MODULATIONS),
        "over_air_rate": rng.choice((4800, 9600, 19_200, 8000)),
        "error_correction": rng.choice(("on", "off", "rate 3/4")),
        "scrambling_key_id": rng.choice(("off", "K2", "site-a 2026")),
        "repeater": repeater,
        "repeater_frequency": None if repeater == "none" else hz + 1_250_000,
        "time_slot": rng.choice(("none", "1 of 2", "3 of 4")),
        "format": rng.choice(("RTCM 3", "RTCM 3.2")),
        "messages": sorted(rng.sample(range(1001, 1140), rng.randrange(1, 12))),
        "station_id": station,
        "id_filter": rng.choice((station, "any")),
        "elevation_mask": Fraction(rng.randrange(0, 300), 10),
        "satellite_systems": sorted(rng.sample(sorted(SYSTEMS), rng.randrange(1, 6))),
        "base_antenna": rng.choice(("choke ring", "Disc-2 no dome")),
        "base_antenna_height": Fraction(rng.randrange(100, 5000), 1000),
        "base_antenna_height_method": rng.choice(("vertical to ARP", "slant, to the edge")),
        "base_easting": Fraction(rng.randrange(-(10**9), 10**10), 1000),
        "base_northing": Fraction(rng.randrange(0, 10**10), 1000),
        "base_height": Fraction(rng.randrange(-400_000, 8_000_000), 1000),
        "base_coordinates_source": rng.choice(("control list of May", "adjustment 3")),
        "coordinate_system": rng.randrange(len(COORDINATE_SYSTEMS)),
        "geoid": rng.choice(("none", "EGM2008", "National 2020")),
        "site_transformation": rng.choice(("none", "spring calibration", "Pit_East 4")),
        "coordinate_unit": rng.choice(tuple(UNITS)),
    }


KEYS = {
    "base": {"corrections_frequency": "transmit_frequency", "return_frequency": "receive_frequency"},
    "rover": {"corrections_frequency": "receive_frequency", "return_frequency": "transmit_frequency"},
}
FREQUENCIES = ("corrections_frequency", "return_frequency", "repeater_frequency")
LENGTHS = ("base_antenna_height", "base_easting", "base_northing", "base_height")


def written(values: Values, role: str, rng: random.Random) -> list[tuple[str, str, str]]:
    """(key, value, unit or "") of every setting, in random order and style; a unit stands in one place."""
    lines = [one_written(name, value, role, rng) for name, value in values.items()]
    rng.shuffle(lines)
    return lines


def one_written(name: str, value: Any, role: str, rng: random.Random) -> tuple[str, str, str]:
    key = KEYS[role].get(name, name)
    if name in FREQUENCIES or name == "channel_spacing":
        if value is None:
            return key, rng.choice(("none", "Off", "NO")), ""
        unit = rng.choice(tuple(HZ))
        return key, decimal(Fraction(value, HZ[unit]), rng), unit
    if name == "over_air_rate":
        unit = rng.choice(("bit/s", "bps", "kbit/s", "kbps"))
        return key, decimal(Fraction(value, 1000 if unit[0] == "k" else 1), rng), unit
    if name == "elevation_mask":
        return key, decimal(value, rng), rng.choice(("deg", "degrees"))
    if name in LENGTHS:
        unit = rng.choice(tuple(METRES))
        # To a thousandth of a millimetre: as many digits as a controller shows, and more.
        digits = {"m": 3, "mm": 0}.get(unit, 6)
        return key, f"{float(value / METRES[unit]):.{digits}f}", unit
    if name == "messages":
        numbers = [str(number) for number in value]
        rng.shuffle(numbers)
        return key, rng.choice((", ", " ", ";", "+")).join(numbers), ""
    if name == "satellite_systems":
        names = [rng.choice(SYSTEMS[one]) for one in value]
        rng.shuffle(names)
        return key, rng.choice((", ", " ", " + ", "/")).join(names), ""
    if name == "coordinate_system":
        return key, rng.choice(COORDINATE_SYSTEMS[value]), ""
    if name == "coordinate_unit":
        return key, rng.choice(UNITS[value]), ""
    if name in ("station_id", "id_filter"):
        return key, str(value).upper() if rng.random() < 0.5 else str(value), ""
    return key, free_text(str(value), rng), ""


def decimal(number: Fraction, rng: random.Random) -> str:
    """A number with none to three zeros more than it needs."""
    exact = Decimal(number.numerator) / Decimal(number.denominator)
    text = format(exact, "f")
    if "." in text and rng.random() < 0.7:
        return text + "0" * rng.randrange(3)
    return text if "." in text else rng.choice((text, text + ".0", text + ".000"))


def free_text(text: str, rng: random.Random) -> str:
    """The same text in another case, with other blanks and hyphens."""
    text = rng.choice((text, text.upper(), text.lower(), text.title()))
    return "".join(rng.choice((" ", "-", "_", "  ", "")) if c in " -_" else c for c in text).strip(" -_")


def key_style(key: str, rng: random.Random) -> str:
    """A setting's name in another writing."""
    key = rng.choice((key, key.upper(), key.title()))
    return key.replace("_", rng.choice(("_", " ", "-")))


def as_toml(lines: list[tuple[str, str, str]], role: str, name: str, rng: random.Random) -> str:
    out = [f"set = {json.dumps(name)}", f"role = {json.dumps(role)}"]
    for key, value, unit in lines:
        label = key_style(key, rng)
        if unit and rng.random() < 0.5:
            label += rng.choice((f" ({unit})", f"_{unit}"))
            number = value if rng.random() < 0.5 else json.dumps(value)
        else:
            number = json.dumps(f"{value} {unit}" if unit else value)
        out.append(f"{json.dumps(label)} = {number}")
    return "\n".join(out) + "\n"


def as_csv(lines: list[tuple[str, str, str]], role: str, name: str, rng: random.Random) -> str:
    out = ["field,value,unit", f"set,{name},", f"role,{role},"]
    for key, value, unit in lines:
        if rng.random() < 0.3 and unit:
            out.append(f'{key_style(key, rng)},"{value} {unit}",')
        else:
            out.append(f'{key_style(key, rng)},"{value}",{unit}')
    return "\n".join(out) + "\n"


def as_fleet(sets: list[tuple[str, dict[str, str]]]) -> str:
    """One CSV with a row a set; values have no commas."""
    keys = list(dict.fromkeys(key for _, values in sets for key in values))
    rows = [",".join(["set", *keys])]
    rows += [",".join([name, *(values.get(key, "") for key in keys)]) for name, values in sets]
    return "\n".join(rows) + "\n"
