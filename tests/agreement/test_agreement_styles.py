"""A thousand random pairs of equal sheets, each written in other styles: no false alarm, one code."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from linkplan.agreement.compare import check_agreement
from linkplan.plan.sheets import Sheet, read_sheets
from tests.agreement.sheet_styles import as_csv, as_toml, random_values, written

PAIRS = 1000


def write(folder: Path, name: str, role: str, values: dict, rng: random.Random) -> Path:
    lines = written(values, role, rng)
    style, suffix = rng.choice(((as_toml, ".toml"), (as_csv, ".csv")))
    path = folder / f"{name}{suffix}"
    path.write_text(style(lines, role, name, rng), encoding="utf-8")
    return path


def random_pair(folder: Path, seed: int, change: str | None = None) -> tuple[Sheet, tuple[Sheet, ...]]:
    rng = random.Random(seed)
    values = random_values(rng)
    base = write(folder, "base", "base", values, rng)
    if change is not None:
        other = values[change]
        while other == values[change]:
            other = random_values(rng)[change]
        values = {**values, change: other}
    return read_sheets(base, [write(folder, "rover", "rover", values, rng)])


def test_no_false_alarm_over_a_thousand_equal_pairs(tmp_path: Path) -> None:
    for seed in range(PAIRS):
        base, rovers = random_pair(tmp_path, seed)
        result = check_agreement(base, rovers)
        assert result.findings == (), (seed, result.findings)
        assert result.agrees, seed
        assert result.base.agreed == result.rovers[0].agreed == 28
        # Lengths written to a thousandth of a millimetre in feet come back to the same millimetre.
        assert result.base.code == result.rovers[0].code, seed


@pytest.mark.parametrize(
    "name", ["corrections_frequency", "protocol", "messages", "base_easting", "geoid", "coordinate_unit"]
)
def test_a_real_difference_is_seen_through_every_style(tmp_path: Path, name: str) -> None:
    for seed in range(40):
        base, rovers = random_pair(tmp_path, seed, change=name)
        result = check_agreement(base, rovers)
        assert {one.field for one in result.findings} == {name}, seed
        assert result.base.code != result.rovers[0].code
