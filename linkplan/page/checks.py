"""The questions of the command line that need no map of their own: asked here with the same functions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from linkplan.errors import Fault, SheetError
from linkplan.outputs.encode import to_jsonable
from linkplan.page.drops import Dropped, Drops
from linkplan.page.edits import plan_with, values_from
from linkplan.page.forms import form_keys
from linkplan.page.jobs import OpenJob
from linkplan.page.lanes import Tell
from linkplan.page.set_up import set_up_from, with_set_up
from linkplan.page.tasks import Task
from linkplan.page.words import RequestError, number_of, only, text_of, yes_of
from linkplan.plan.model import Plan
from linkplan.plan.sheets import FileReport, Sheet

Question = Callable[[Task, Tell], dict[str, Any]]

AGE_LIMIT_S = 10.0
TOLERANCE_M = 0.05
"""As on the command line [common practice]."""
MOST_SHEETS = 24


def question(kind: str, job: OpenJob, drops: Drops, body: Mapping[str, Any]) -> Question:
    """What to compute for a request of a kind."""
    makers: dict[str, Callable[[OpenJob, Drops, Mapping[str, Any]], Question]] = {
        "airtime": _airtime, "channels": _channels, "safety": _safety, "agree": _agree, "log": _log,
        "capture": _capture,
    }  # fmt: skip
    return makers[kind](job, drops, body)


def result(text: str, answer: Any, good: bool) -> dict[str, Any]:
    """As the terminal shows it, as programs read it, and whether it is a yes."""
    return {"text": text, "answer": to_jsonable(answer), "good": good}


def _plan(job: OpenJob, body: Mapping[str, Any], form: str | None = None) -> Callable[[], Plan]:
    """The job with a request's values and set-up, read when it is asked for."""
    set_up = set_up_from(body.get("set_up", {}))
    values = values_from(body.get("values", {}), form_keys(form) if form is not None else {})

    def read() -> Plan:
        plan = plan_with(job.path, values) if values else job.plan()
        return with_set_up(plan, set_up)

    return read


def _airtime(job: OpenJob, _drops: Drops, body: Mapping[str, Any]) -> Question:
    only(body, "set_up", "values")
    read = _plan(job, body, "airtime")

    def ask(_task: Task, _tell: Tell) -> dict[str, Any]:
        from linkplan.airtime.check import check_air_time
        from linkplan.outputs.air_time_text import air_time_text

        answer = check_air_time(read())
        return result(air_time_text(answer), answer, answer.fits)

    return ask


def _channels(job: OpenJob, _drops: Drops, body: Mapping[str, Any]) -> Question:
    only(body, "set_up", "values", "date")
    read = _plan(job, body, "channels")
    day = date.today()
    if body.get("date") is not None:
        try:
            day = date.fromisoformat(text_of(body["date"], "date", 10))
        except ValueError:
            raise RequestError("date: year-month-day is wanted, as 2027-12-31") from None

    def ask(_task: Task, tell: Tell) -> dict[str, Any]:
        from linkplan.channels.decide import decide_channels
        from linkplan.outputs.channels_text import channels_text

        plan = read()
        answer = decide_channels(plan, day, tell)
        return result(channels_text(plan, answer), answer, answer.accepted)

    return ask


def _safety(job: OpenJob, _drops: Drops, body: Mapping[str, Any]) -> Question:
    only(body, "set_up")
    read = _plan(job, body)

    def ask(_task: Task, tell: Tell) -> dict[str, Any]:
        from linkplan.outputs.safety_text import safety_text
        from linkplan.safety.check import check_safety

        plan = read()
        answer = check_safety(plan, progress=tell)
        return result(safety_text(plan, answer), answer, answer.held)

    return ask


def _agree(job: OpenJob, drops: Drops, body: Mapping[str, Any]) -> Question:
    only(body, "base", "rovers", "with_job", "job_base")
    named = body.get("rovers", [])
    if not isinstance(named, list) or len(named) > MOST_SHEETS:
        raise RequestError(f"rovers: a list of at most {MOST_SHEETS} dropped files is wanted")
    base = None if body.get("base") is None else drops.get(text_of(body["base"], "base"))
    rovers = [drops.get(text_of(one, "rovers")) for one in named]
    with_job = yes_of(body.get("with_job", True), "with_job")
    job_base = None if body.get("job_base") is None else text_of(body["job_base"], "job_base")

    def ask(_task: Task, _tell: Tell) -> dict[str, Any]:
        from linkplan.agreement.compare import check_agreement
        from linkplan.agreement.from_job import job_sheets
        from linkplan.outputs.agreement_text import agreement_text
        from linkplan.plan.sheets import read_sheets

        compared = [one for one in (base, *rovers) if one is not None]
        if len(compared) + with_job < 2:
            name = compared[0].name if compared else job.name
            cure = "drop another sheet, or compare with the job"
            raise SheetError(((name, Fault("", "", "there is nothing to compare it with", cure)),))
        wanted = job_sheets(job.plan(), job_base) if with_job else None
        if base is not None:
            sheets = read_sheets(base.path, [one.path for one in rovers])
            answer = check_agreement(*sheets, wanted)
        else:
            asked = wanted if wanted is not None else job_sheets(job.plan(), job_base)
            answer = check_agreement(asked.base, _rover_sheets(rovers))
        found = result(agreement_text(answer), answer, answer.agrees)
        plain: dict[str, Any] = _without_folders(found, compared)
        return plain

    return ask


def _rover_sheets(rovers: list[Dropped]) -> tuple[Sheet, ...]:
    """Sheets that are held against the job's own base. SheetError with all faults of all files."""
    from linkplan.plan.sheet_files import read_sheet_file

    reports: list[FileReport] = []
    sheets = [sheet for one in rovers for sheet in read_sheet_file(one.path, "rover", reports)]
    faults = [pair for report in reports for pair in report.listed()]
    if faults:
        raise SheetError(tuple(faults))
    return tuple(sheets)


def _log(job: OpenJob, drops: Drops, body: Mapping[str, Any]) -> Question:
    only(body, "file", "age_limit_s")
    file = drops.get(text_of(body.get("file"), "file"))
    age_limit_s = number_of(body.get("age_limit_s", AGE_LIMIT_S), "age_limit_s", 0.1, 3600.0)

    def ask(_task: Task, tell: Tell) -> dict[str, Any]:
        from linkplan.evidence.logged import compare_log
        from linkplan.gnss.rover_log import read_log
        from linkplan.outputs.evidence_text import rover_text

        plan = job.plan()
        report = compare_log(plan, read_log(file.name, _pieces(file.path, tell), age_limit_s))
        return result(rover_text(plan, report), report, report.agrees)

    return ask


def _capture(job: OpenJob, drops: Drops, body: Mapping[str, Any]) -> Question:
    only(body, "file", "tolerance_m")
    file = drops.get(text_of(body.get("file"), "file"))
    tolerance_m = number_of(body.get("tolerance_m", TOLERANCE_M), "tolerance_m", 0.001, 1000.0)

    def ask(_task: Task, tell: Tell) -> dict[str, Any]:
        from linkplan.evidence.captured import compare_capture
        from linkplan.gnss.rtcm_capture import read_capture
        from linkplan.outputs.evidence_text import capture_text

        plan = job.plan()
        report = compare_capture(plan, read_capture(file.name, _pieces(file.path, tell)), tolerance_m)
        return result(capture_text(plan, report), report, report.agrees)

    return ask


def _pieces(path: Path, tell: Tell) -> Any:
    """A recording in pieces, with progress, which is where it can be stopped."""
    from linkplan.gnss.recordings import pieces

    size, done = max(path.stat().st_size, 1), 0
    for piece in pieces(str(path)):
        tell("reading the recording", done / size)
        yield piece
        done += len(piece)


def _without_folders(value: Any, files: list[Dropped]) -> Any:
    """Names of files as the user dropped them, without the folder of a moment."""
    if isinstance(value, str):
        for one in files:
            value = value.replace(f"{one.path.parent}/", "")
        return value
    if isinstance(value, dict):
        return {key: _without_folders(inner, files) for key, inner in value.items()}
    if isinstance(value, list):
        return [_without_folders(inner, files) for inner in value]
    return value
