"""Settings sheets against each other and against the job: `check_agreement`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from linkplan.agreement.phone import check_code, group_codes, is_sound, normal
from linkplan.agreement.results import AGREES, NOT_CONFIRMED, Agreement, Finding, SetVerdict
from linkplan.agreement.rules import Difference, differs
from linkplan.plan.sheet_fields import FIELDS, SEVERITIES, Field, Severity
from linkplan.plan.sheet_values import Stated
from linkplan.plan.sheets import Sheet


@dataclass(frozen=True)
class JobSheets:
    """What a job wants: the sheet of its base and that of its rovers."""

    name: str
    base: Sheet
    rover: Sheet

    def of(self, sheet: Sheet) -> Sheet:
        """The sheet for the role of another one."""
        return self.base if sheet.role == "base" else self.rover


@dataclass(frozen=True)
class _Side:
    """One who says what a set should be."""

    who: str
    sheet: Sheet
    rover_asks: bool
    """A rover, not the base, is held against it."""

    @property
    def is_base(self) -> bool:
        """Whether it is the base, not the job."""
        return self.who == "base"


def check_agreement(base: Sheet, rovers: Sequence[Sheet], job: JobSheets | None = None) -> Agreement:
    """Hold every rover against the base, and all against the job where one is given. Worst comes first."""
    by_set = [(base, _findings_of(base, _sides(base, None, job)))]
    by_set += [(rover, _findings_of(rover, _sides(rover, base, job))) for rover in rovers]
    findings = [finding for _, found in by_set for finding in found]
    verdicts = [_verdict(sheet, found) for sheet, found in by_set]
    return Agreement(
        agrees=not any(finding.matters for finding in findings),
        base=verdicts[0],
        rovers=tuple(sorted(verdicts[1:], key=_verdict_rank)),
        findings=tuple(sorted(findings, key=_finding_rank)),
        job_name=job.name if job else None,
        job_code=check_code(job.base) if job else None,
        warnings=tuple(_warnings([base, *rovers])),
    )


def _sides(sheet: Sheet, base: Sheet | None, job: JobSheets | None) -> tuple[_Side, ...]:
    sides = []
    if base is not None:
        sides.append(_Side("base", base, True))
    if job is not None:
        sides.append(_Side("job", job.of(sheet), sheet.role == "rover"))
    return tuple(sides)


def _findings_of(sheet: Sheet, sides: tuple[_Side, ...]) -> list[Finding]:
    found = (_check_field(field, sheet, sides) for field in FIELDS)
    return [finding for finding in found if finding is not None]


def _check_field(field: Field, sheet: Sheet, sides: tuple[_Side, ...]) -> Finding | None:
    """The one finding of a setting of a set: a difference before a silence; None where all agree."""
    mine = sheet.values.get(field.name)
    if mine is None:
        return _silent(field, sheet, sides)
    differences: list[tuple[_Side, Difference]] = []
    for side in sides:
        theirs = side.sheet.values.get(field.name)
        if theirs is None:
            theirs = _implied(field, side)
        if theirs is not None:
            sender = side.sheet.values if sheet.role == "rover" else None
            difference = differs(field, mine, theirs, sender)
            if difference is not None:
                differences.append((side, difference))
    if differences:
        return _difference(field, sheet, mine, sides, differences)
    silent = [
        side for side in sides if side.sheet.values.get(field.name) is None and not _implied(field, side)
    ]
    return _unheld(field, sheet, mine, sides, silent) if silent else None


def _implied(field: Field, side: _Side) -> Stated | None:
    """Nobody need say what rovers filter: the station ID says it."""
    if field.rule == "admitted" and side.rover_asks:
        return side.sheet.values.get("station_id")
    return None


def _difference(
    field: Field, sheet: Sheet, mine: Stated, sides: tuple[_Side, ...], found: list[tuple[_Side, Difference]]
) -> Finding:
    worst = min((difference for _, difference in found), key=lambda one: SEVERITIES.index(one.severity))
    return Finding(
        severity=worst.severity,
        kind="differs",
        set_name=sheet.set_name,
        role=sheet.role,
        field=field.name,
        title=field.heading(sheet.role),
        stands=_words(mine),
        wanted=tuple((side.who, _said(field, side)) for side in sides),
        detail=worst.detail,
        seen=worst.seen or field.seen,
        cure=_what_to_set(field, sheet, sides, found),
        matters=True,
    )


def _what_to_set(
    field: Field, sheet: Sheet, sides: tuple[_Side, ...], found: list[tuple[_Side, Difference]]
) -> str:
    """The job decides where it speaks, else the base: one base is changed less easily than one rover."""
    wrong = {side.who for side, _ in found}
    base_heading = field.heading("base")
    by_who = {side.who: side for side in sides}
    if "job" not in wrong and "job" in by_who and by_who["job"].sheet.values.get(field.name):
        wanted = by_who["job"].sheet.values[field.name].shown
        on_base = f"on the base set {base_heading} to {wanted}"
        return f"{sheet.set_name} is as the job wants it; {on_base}. {field.cure}"
    side = by_who["job"] if "job" in wrong else by_who["base"]
    theirs = side.sheet.values.get(field.name) or _implied(field, side)
    station = side.sheet.values.get("station_id")
    if field.rule == "admitted" and side.rover_asks and station is not None:
        theirs = station
    shown = theirs.shown if theirs is not None else "what the base says"
    return f"On {sheet.set_name} set {field.heading(sheet.role)} to {shown}. {field.cure}"


def _silent(field: Field, sheet: Sheet, sides: tuple[_Side, ...]) -> Finding | None:
    """The set says nothing: that is never agreement, but it counts only where its role must speak."""
    wanted = tuple((side.who, _said(field, side)) for side in sides)
    matters = sheet.role in field.asked
    if not matters and not any(said for _, said in wanted):
        return None  # nobody speaks of it, and nobody has to
    heading = field.heading(sheet.role)
    should = next((said for _, said in reversed(wanted) if said), "")
    goal = f"; it should be {should}" if should else ""
    return Finding(
        field.severity if matters else "note", "not stated", sheet.set_name, sheet.role, field.name, heading,
        "", wanted, "", field.seen if matters else "",
        f"Look at {sheet.set_name}, and write its {heading} on its sheet{goal}.", matters,
    )  # fmt: skip


def _unheld(
    field: Field, sheet: Sheet, mine: Stated, sides: tuple[_Side, ...], silent: list[_Side]
) -> Finding | None:
    """The set speaks, but one that it is held against does not."""
    matters = any(side.is_base and "base" in field.asked for side in silent)
    cures = {
        "base": f"Look at the base, and write its {field.heading('base')} on its sheet.",
        "job": f"Say in the job file what the {field.title} is to be.",
    }
    return Finding(
        field.severity if matters else "note", "not stated", sheet.set_name, sheet.role, field.name,
        field.heading(sheet.role), _words(mine), tuple((side.who, _said(field, side)) for side in sides), "",
        field.seen if matters else "", " ".join(cures[side.who] for side in silent), matters,
    )  # fmt: skip


def _said(field: Field, side: _Side) -> str:
    stated = side.sheet.values.get(field.name) or _implied(field, side)
    return _words(stated) if stated else ""


def _words(stated: Stated) -> str:
    """A value as the sheet says it, with metres where it is in feet, and with its channel."""
    text = stated.shown
    if stated.unit == "m" and stated.number is not None and not text.endswith(" m"):
        text += f" ({float(stated.number):.3f} m)"
    return f"{text} ({stated.via})" if stated.via else text


def _verdict(sheet: Sheet, findings: list[Finding]) -> SetVerdict:
    counts = dict.fromkeys(SEVERITIES, 0)
    for finding in findings:
        if finding.kind == "differs":
            counts[finding.severity] += 1
    worst: Severity | None = next((severity for severity in SEVERITIES if counts[severity]), None)
    open_ends = any(finding.matters for finding in findings)
    codes = group_codes(sheet)
    touched = {finding.field for finding in findings}
    return SetVerdict(
        set_name=sheet.set_name,
        role=sheet.role,
        file=sheet.file,
        verdict=worst or (NOT_CONFIRMED if open_ends else AGREES),
        no_link=counts["no link"],
        wrong_coordinates=counts["wrong coordinates"],
        weaker=counts["weaker"],
        note=counts["note"],
        not_stated=sum(finding.kind == "not stated" for finding in findings),
        agreed=sum(field.name in sheet.values and field.name not in touched for field in FIELDS),
        code=check_code(sheet),
        radio_code=codes["radio"],
        corrections_code=codes["corrections"],
        position_code=codes["position"],
    )


def _verdict_rank(verdict: SetVerdict) -> tuple[int, int, int, int, int, int, list[int | str]]:
    order = [*SEVERITIES, NOT_CONFIRMED, AGREES]
    return (
        order.index(verdict.verdict), -verdict.no_link, -verdict.wrong_coordinates, -verdict.weaker,
        -verdict.note, -verdict.not_stated, natural(verdict.set_name),
    )  # fmt: skip


_PLACE = {field.name: place for place, field in enumerate(FIELDS)}


def _finding_rank(finding: Finding) -> tuple[bool, int, bool, bool, int, list[int | str]]:
    return (
        not finding.matters, SEVERITIES.index(finding.severity), finding.kind != "differs",
        finding.role != "base", _PLACE[finding.field], natural(finding.set_name),
    )  # fmt: skip


def natural(name: str) -> list[int | str]:
    """A sort key by which Rover 2 comes before Rover 10; text and numbers take turns."""
    parts = re.split(r"([0-9]+)", name.casefold())
    return [int(part) if place % 2 else part for place, part in enumerate(parts)]


def _warnings(sheets: Iterable[Sheet]) -> Iterable[str]:
    for sheet in sheets:
        for remark in sheet.remarks:
            yield f"{sheet.set_name}: {remark}"
        if not sheet.code:
            continue
        now = check_code(sheet)
        if normal(sheet.code) == normal(now):
            continue
        if is_sound(sheet.code):
            changed = "they were changed since it was written"
            yield f"{sheet.set_name}: its values give the code {now}, not {sheet.code}: {changed}"
        else:
            yield f"{sheet.set_name}: the code on its sheet cannot be right; its values give {now}"
