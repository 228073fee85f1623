"""What a job wants base and rovers to be set to, beyond what its other sections say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from linkplan.plan.checking import Section
from linkplan.plan.keys_settings import OWN, SETTINGS
from linkplan.plan.sheet_fields import BY_NAME
from linkplan.plan.sheet_values import BadValueError, Stated, read_stated
from linkplan.plan.words import NOTHING, Report

_OTHER_NAMES = {"elevation_mask_deg": "elevation_mask"}


@dataclass(frozen=True)
class Settings:
    """The [settings] section, each value in the form in which sheets are compared."""

    values: Mapping[str, Stated]
    """By the name of the sheet's field."""
    filter_own: bool = False
    """Rovers take only the station ID that the job's base sends."""


def read_settings(section: Section, report: Report) -> Settings:
    """The section as settings; faults are noted."""
    values: dict[str, Stated] = {}
    filter_own = False
    for key in SETTINGS.keys:
        written = section[key.name]
        if written is None:
            continue
        if key.name == "id_filter" and written == OWN:
            filter_own = True
            continue
        field = BY_NAME[_OTHER_NAMES.get(key.name, key.name)]
        text = metres_text(written) if key.kind == "height" else written
        try:
            stated = read_stated(text if isinstance(text, str) else repr(float(text)), field)
        except BadValueError as bad:
            # A value that was refused may be a secret: only its key is named.
            report.fault(f"settings.{key.name}", NOTHING, bad.problem, bad.cure)
            continue
        if stated is not None:
            values[field.name] = stated
    return Settings(values, filter_own)


def metres_text(metres: float) -> str:
    """A length with its unit, to a ten-thousandth of a millimetre: the rest is noise of the arithmetic."""
    return millimetres_shown(f"{metres:.7f}".rstrip("0")) + " m"


def millimetres_shown(number: str) -> str:
    """A decimal number with three decimals or more: a surveyor reads 412.500, not 412.5."""
    whole, _, decimals = number.partition(".")
    return f"{whole}.{decimals:0<3}"
