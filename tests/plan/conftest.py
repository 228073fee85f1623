"""A small sound job, invented, that the tests change key by key."""

from __future__ import annotations

from pathlib import Path

import pytest

from linkplan.errors import JobFileError
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan

SOUND = {
    "job.name": '"East pit"',
    "job.crs": '"EPSG:32611"',
    "boundary.coordinates": "[[500000, 4200000], [501000, 4200000], [501000, 4201000], [500000, 4201000]]",
    "terrain.files": '["dem.tif"]',
    "base.position": "[500200, 4200300]",
    "base.antenna_height": "5.0",
    "radio.frequency_mhz": "450.125",
    "radio.channel_spacing_khz": "12.5",
    "radio.power_w": "10",
    "radio.antenna_gain_dbi": "5.0",
    "radio.feeder_loss_db": "1.5",
    "rover.antenna_height": "2.0",
    "rover.antenna_gain_dbi": "2.15",
    "rover.sensitivity_dbm": "-110",
}


class JobFolder:
    """A folder with a terrain file (empty: only its existence counts here) that takes job files."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "dem.tif").touch()

    def text(self, **changes: str | None) -> str:
        """The sound job as TOML; `table__key="value"` sets a key, None takes it away."""
        lines: dict[str, str | None] = dict(SOUND)
        lines.update({name.replace("__", "."): value for name, value in changes.items()})
        tables: dict[str, list[str]] = {}
        for name, value in lines.items():
            table, _, key = name.rpartition(".")
            tables.setdefault(table, [])
            if value is not None:
                tables[table].append(f"{key} = {value}")
        return "".join(
            f"[{table}]\n" + "".join(f"{line}\n" for line in body) for table, body in tables.items()
        )

    def write(self, text: str | bytes, name: str = "job.toml") -> Path:
        path = self.folder / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    def plan(self, **changes: str | None) -> Plan:
        return read_plan(self.write(self.text(**changes)))

    def faults(self, text: str | bytes | None = None, **changes: str | None) -> list[str]:
        """The lines that the user would see, without the file's name; the folder's path becomes HERE."""
        path = self.write(self.text(**changes) if text is None else text)
        with pytest.raises(JobFileError) as caught:
            read_plan(path)
        lines = str(caught.value).split("\n")
        assert len(lines) == len(caught.value.faults)
        assert all(line.startswith(f"{path}: ") and line.isprintable() for line in lines)
        here = str(self.folder.resolve())
        return [line.removeprefix(f"{path}: ").replace(here, "HERE") for line in lines]


@pytest.fixture
def job(tmp_path: Path) -> JobFolder:
    return JobFolder(tmp_path)
