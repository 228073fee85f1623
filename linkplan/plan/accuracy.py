"""Accuracy with distance: what [accuracy] says, and what [siting] says of the same, as one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from linkplan.plan.checking import Section
from linkplan.plan.sky_model import Accuracy
from linkplan.plan.words import Report

_FIGURES = ("horizontal_mm", "horizontal_ppm", "vertical_mm", "vertical_ppm")
_TOLERANCES = {"tolerance_mm": "horizontal_mm", "vertical_tolerance_mm": "vertical_mm"}
"""Wanted accuracies, and the figures below which none can lie."""
_IN_SITING = {
    "horizontal_mm": "accuracy_mm",
    "horizontal_ppm": "accuracy_ppm",
    "tolerance_mm": "tolerance_mm",
}
"""Keys of [accuracy] and those of [siting] that say the same."""


def read_accuracy(sections: Mapping[str, Section | None], report: Report) -> Accuracy | None:
    """Accuracy and tolerances of the whole job; None where anything about them is faulty, which is noted.

    What [siting] alone says of them holds for the whole job; where both say it they say the same.
    """
    before = len(report.faults)
    tables = {name: sections[name] or Section({}) for name in ("accuracy", "siting")}
    own, siting = tables["accuracy"], tables["siting"]
    for name, twin in _IN_SITING.items():
        here, there = own[name], siting[twin]
        if {name} <= own.present and {twin} <= siting.present and None not in (here, there) and here != there:
            problem = f"[accuracy] says {name} = {here:g}"
            report.fault(f"siting.{twin}", siting.raw(twin), problem, "keep one of the two")
    keys = {name: _key(name, tables) for name in (*_FIGURES, *_TOLERANCES)}
    values = {name: tables[table][key] for name, (table, key) in keys.items()}
    for name, figure in _TOLERANCES.items():
        table, key = keys[name]
        raw = tables[table].raw(key)
        _note_if_below(f"{table}.{key}", raw, values[name], values[figure], keys[figure], report)
    for number, zone in enumerate(siting["zones"] or (), start=1):
        key, raw = f"siting.zones[{number}].tolerance_mm", zone.raw("tolerance_mm")
        _note_if_below(key, raw, zone["tolerance_mm"], values["horizontal_mm"], keys["horizontal_mm"], report)
    if len(report.faults) > before or None in (values[name] for name in _FIGURES):
        return None
    return Accuracy(
        horizontal_m=values["horizontal_mm"] / 1000.0,
        horizontal_ppm=values["horizontal_ppm"],
        vertical_m=values["vertical_mm"] / 1000.0,
        vertical_ppm=values["vertical_ppm"],
        assumed=tuple(name for name in _FIGURES if not _stands(keys[name], tables)),
        tolerance_m=_metres(values["tolerance_mm"]),
        vertical_tolerance_m=_metres(values["vertical_tolerance_mm"]),
    )


def _key(name: str, tables: Mapping[str, Section]) -> tuple[str, str]:
    """Table and key where a value stands: in [siting] only where [accuracy] does not say it."""
    there = ("siting", _IN_SITING.get(name, ""))
    return there if name not in tables["accuracy"].present and _stands(there, tables) else ("accuracy", name)


def _stands(place: tuple[str, str], tables: Mapping[str, Section]) -> bool:
    table, key = place
    return key in tables[table].present


def _note_if_below(
    key: str,
    raw: Any,
    wanted_mm: float | None,
    least_mm: float | None,
    least: tuple[str, str],
    report: Report,
) -> None:
    """Note a wanted accuracy that no baseline is short enough for."""
    if wanted_mm is not None and least_mm is not None and wanted_mm <= least_mm:
        table, name = least
        problem = f"not above {table}.{name}, {least_mm:g} mm, which is the least beside the base"
        report.fault(key, raw, problem, f"give more than {least_mm:g}, or the receivers' own {name}")


def _metres(millimetres: float | None) -> float | None:
    return None if millimetres is None else millimetres / 1000.0
