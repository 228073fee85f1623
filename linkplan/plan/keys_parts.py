"""Keys of the job file that stand in several of its tables."""

from __future__ import annotations

from linkplan.plan.schema import Key, OneWay


def _gain(name: str, unit: str) -> Key:
    return Key(name, "number", "2.0", low=-20.0, high=30.0, unit=unit)


ANTENNA_GAIN = (_gain("antenna_gain_dbi", "dBi"), _gain("antenna_gain_dbd", "dBd"))

GAIN_RULE = OneWay((("antenna_gain_dbi",), ("antenna_gain_dbd",)))
"""A gain is stated over one reference or the other."""


def layer_keys(word: str, file: str, layer: str, *, required: bool = False) -> tuple[Key, ...]:
    """The keys that name one layer of a vector file; `word` stands before each of them, e.g. "points_"."""
    return (
        Key(f"{word}file", "dataset", f'"{file}"', required),
        Key(f"{word}layer", "text", f'"{layer}"'),
        Key(f"{word}crs", "text", '"EPSG:4326"'),
    )
