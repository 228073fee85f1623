"""Power and antenna of a table: what it may say in one of two ways, and the antenna's pattern."""

from __future__ import annotations

from linkplan.plan.checking import Section
from linkplan.plan.pattern import read_pattern
from linkplan.plan.words import Report
from linkplan.radio.equipment import Antenna, VerticalPattern
from linkplan.units import dbi_from_dbd, dbm_from_watt


def power_dbm(section: Section) -> float | None:
    """Power at the connector of a table that says it in watts or dBm, or neither."""
    watts, stated_dbm = section["power_w"], section["power_dbm"]
    return stated_dbm if watts is None else float(dbm_from_watt(watts))


def gain_dbi(section: Section) -> float | None:
    """Gain over an isotropic radiator of a table that says it over that or a half-wave dipole, or neither."""
    stated_dbi, gain_dbd = section["antenna_gain_dbi"], section["antenna_gain_dbd"]
    return stated_dbi if gain_dbd is None else dbi_from_dbd(gain_dbd)


def pattern_of(section: Section, table: str, report: Report) -> VerticalPattern | None:
    """The antenna pattern that a table names; None where it names none, or has faults, which are noted."""
    if section["antenna_pattern"] is None:
        return None
    key, raw = f"{table}.antenna_pattern", section.raw("antenna_pattern")
    return read_pattern(section["antenna_pattern"], key, raw, report)


def antenna_of(section: Section, pattern: VerticalPattern | None = None) -> Antenna:
    """The antenna of a table without faults, whose rules ask for a gain."""
    gain = gain_dbi(section)
    assert gain is not None
    return Antenna(gain, pattern)
