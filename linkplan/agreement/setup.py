"""The set-up sheet of a job: what to set on base and rovers, and the code that two sheets share."""

from __future__ import annotations

from dataclasses import dataclass

from linkplan.agreement.base_point import BasePointSetUp, base_point
from linkplan.agreement.from_job import job_sheets
from linkplan.agreement.phone import check_code, group_codes, spelled
from linkplan.plan.model import Plan
from linkplan.plan.sheet_fields import FIELDS


@dataclass(frozen=True)
class SetUpRow:
    """One setting."""

    number: int
    group: str
    field: str
    kind: str
    base_key: str
    """Its name on the base's sheet."""
    rover_key: str
    base_title: str
    rover_title: str
    value: str
    """What to set, or "" where the job does not say it."""
    asked_of: tuple[str, ...]
    """Whose sheet must state it."""


@dataclass(frozen=True)
class SetUp:
    """The sheet of one job, for base and rovers."""

    job_name: str
    base_name: str
    code: str
    code_spelled: str
    radio_code: str
    corrections_code: str
    position_code: str
    rows: tuple[SetUpRow, ...]
    missing: tuple[str, ...]
    """Titles of settings that someone must state and the job does not."""
    base_point: BasePointSetUp | None = None
    """How the base point is occupied, where the job says it of this base."""
    warnings: tuple[str, ...] = ()
    """What looks odd in the job file."""


def set_up(plan: Plan, base_name: str | None = None) -> SetUp:
    """The set-up sheet that follows from a job, for its first base or the one named."""
    sheets = job_sheets(plan, base_name)
    values = sheets.base.values
    rows = tuple(
        SetUpRow(
            number, field.group, field.name, field.kind, field.key("base"), field.key("rover"),
            field.heading("base"), field.heading("rover"),
            values[field.name].shown if field.name in values else "", field.asked,
        )
        for number, field in enumerate(FIELDS, start=1)
    )  # fmt: skip
    code = check_code(sheets.base)
    codes = group_codes(sheets.base)
    return SetUp(
        job_name=plan.name,
        base_name=sheets.base.set_name,
        code=code,
        code_spelled=spelled(code),
        radio_code=codes["radio"],
        corrections_code=codes["corrections"],
        position_code=codes["position"],
        rows=rows,
        missing=tuple(row.base_title for row in rows if row.asked_of and not row.value),
        base_point=base_point(plan) if base_name in (None, plan.base.name) else None,
        warnings=plan.warnings,
    )
