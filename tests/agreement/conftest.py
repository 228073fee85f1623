"""A sound pair of sheets that tests change setting by setting."""

from __future__ import annotations

from pathlib import Path

import pytest

from linkplan.agreement.compare import check_agreement
from linkplan.agreement.results import Agreement
from linkplan.plan.sheets import Sheet, read_sheets
from tests.agreement.sheet_styles import KEYS

SOUND = {
    "corrections_frequency": "451.8 MHz",
    "return_frequency": "none",
    "channel_spacing": "25 kHz",
    "protocol": "type A",
    "modulation": "4-level FSK",
    "over_air_rate": "9600 bit/s",
    "error_correction": "on",
    "scrambling_key_id": "K2",
    "repeater": "Ridge",
    "repeater_frequency": "453.1 MHz",
    "time_slot": "1 of 2",
    "format": "RTCM 3",
    "messages": "1006 1074 1084",
    "station_id": "12",
    "id_filter": "12",
    "elevation_mask": "10 deg",
    "satellite_systems": "GPS GLONASS",
    "base_antenna": "choke ring",
    "base_antenna_height": "1.802 m",
    "base_antenna_height_method": "vertical",
    "base_easting": "499303 m",
    "base_northing": "5300358 m",
    "base_height": "296.37 m",
    "base_coordinates_source": "control list",
    "coordinate_system": "EPSG:32628",
    "geoid": "EGM2008",
    "site_transformation": "spring",
    "coordinate_unit": "metre",
}


class Pair:
    """Writes a base's and a rover's sheet, and compares them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def sheet(self, role: str, name: str, changes: dict[str, str | None], extra: str = "") -> Path:
        """A sheet with some of the sound values changed; None takes one away."""
        values = {**SOUND, **changes}
        lines = [f'set = "{name}"']
        lines += [
            f'{KEYS[role].get(key, key)} = "{text}"' for key, text in values.items() if text is not None
        ]
        path = self.folder / f"{name}.toml"
        path.write_text("\n".join(lines) + "\n" + extra)
        return path

    def read(
        self,
        base: dict[str, str | None],
        rover: dict[str, str | None],
        base_extra: str = "",
        rover_extra: str = "",
    ) -> tuple[Sheet, tuple[Sheet, ...]]:
        paths = self.sheet("base", "base", base, base_extra), self.sheet("rover", "R1", rover, rover_extra)
        return read_sheets(paths[0], [paths[1]])

    def check(self, base: dict[str, str | None], rover: dict[str, str | None], **extra: str) -> Agreement:
        one, rovers = self.read(base, rover, **extra)
        return check_agreement(one, rovers)


@pytest.fixture
def pair(tmp_path: Path) -> Pair:
    return Pair(tmp_path)
