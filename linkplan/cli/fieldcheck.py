"""Hold field logs against the map: was the prediction true, where was it wrong, what may the map learn?

LOG is a rover's NMEA 0183 log, a recorded RTCM 3 stream of a rover's radio, or a CSV file of received levels;
any number of them, "-" for standard input. Exit code 1 says that the prediction does not hold, that the logs
do not tell, or that a rover used another base.
"""

from __future__ import annotations

import argparse
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from linkplan.cli.options import add_job, add_json, add_out_folder, file_slug, positive, print_json
from linkplan.cli.progress import StatusLine
from linkplan.errors import RecordingError

if TYPE_CHECKING:
    from linkplan.fieldcheck.check import FieldAnswer
    from linkplan.fieldcheck.observed import LogFile
    from linkplan.plan.model import Plan

_AGE_LIMIT_S = 10.0
_BLOCK_M = 300.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan fieldcheck`."""
    add_job(parser)
    parser.add_argument("logs", metavar="LOG", nargs="+", help='field logs, or "-" for standard input')
    parser.add_argument(
        "--at", metavar="FILE=PLACE", action="append", default=[],
        help="where FILE, a recorded stream, was recorded: a control point or easting,northing",
    )  # fmt: skip
    parser.add_argument(
        "--age-limit", metavar="S", type=positive, default=_AGE_LIMIT_S,
        help=f"older corrections are late, s (default: {_AGE_LIMIT_S:g}, common practice)",
    )  # fmt: skip
    parser.add_argument(
        "--block", metavar="M", type=positive, default=_BLOCK_M,
        help="side of the smallest blocks of ground that count as separate evidence in the scores, m "
        f"(default: {_BLOCK_M:g}, common practice)",
    )  # fmt: skip
    parser.add_argument(
        "--write", action="store_true",
        help="put what was learned into the job file, where it holds on ground that was kept out",
    )  # fmt: skip
    add_out_folder(parser, "JOB-fieldcheck in the current folder")
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Compare, write and report."""
    from linkplan.fieldcheck.check import FieldOptions, check_field
    from linkplan.outputs.fieldcheck_folder import fieldcheck_object, write_fieldcheck
    from linkplan.outputs.fieldcheck_text import fieldcheck_text
    from linkplan.outputs.staging import staged_folder
    from linkplan.plan.reader import read_plan

    plan = read_plan(options.job)
    files = _files(plan, options.logs, options.at)
    judged_by = FieldOptions(date.today(), options.age_limit, options.block)
    folder = options.out or Path(f"{file_slug(options.job.stem)}-fieldcheck")
    with staged_folder(folder) as stage, StatusLine() as status:
        answer = check_field(plan, files, judged_by, status)
        status("writing files", 0.0)
        written = write_fieldcheck(answer, stage)
        # before the folder is there: where the job file refuses, there is none
        changed, said = _write(answer, options.job) if options.write else (False, _how_to(answer))
    _clear_figures(folder, {one.path.name for one in written})
    if options.json:
        names = [one.path.name for one in written]
        print_json(
            {**fieldcheck_object(answer), "job_file_changed": changed, "folder": str(folder), "files": names}
        )
    else:
        print(fieldcheck_text(answer))
        print(f"\n{said}")
        print(f"\nwrote {len(written)} files to {folder}")
        for one in written:
            print(f"  {one.path.name:<16} {one.what}")
    return 0 if answer.holds else 1


def _clear_figures(folder: Path, written: set[str]) -> None:
    """Take away figures of an earlier answer beside which there are none now."""
    for name in {"reliability.png", "reliability.svg"} - written:
        with suppress(OSError):
            (folder / name).unlink()


def _files(plan: Plan, logs: list[str], places: list[str]) -> list[LogFile]:
    """The logs with the places stated for them."""
    from linkplan.fieldcheck.observed import LogFile
    from linkplan.study import terminal_from_text

    stated: dict[str, tuple[float, float]] = {}
    for text in places:
        name = next((log for log in logs if text.startswith(f"{log}=")), None)
        if name is None:
            raise RecordingError(
                f"--at {text}: names none of the logs given; write FILE=PLACE with FILE as it stands there"
            )
        if name in stated:
            raise RecordingError(f"--at {text}: a place for {name} is given already")
        place = terminal_from_text(plan, text[len(name) + 1 :])
        stated[name] = (place.easting, place.northing)
    return [LogFile(log, stated.get(log)) for log in logs]


def _write(answer: FieldAnswer, job: Path) -> tuple[bool, str]:
    """Put what was learned into the job file; whether it was changed, and what is said of it."""
    from linkplan.plan.write_calibration import write_calibration

    if answer.calibration is None:
        return False, f"{job} is left as it is: {'; '.join(answer.learned.reasons)}"
    changed = write_calibration(job, answer.calibration, answer.plan.job_hash)
    if changed:
        return True, f"{job} has it now, under [calibration]: every command counts with it from here on"
    return False, f"{job} says so already: nothing was changed"


def _how_to(answer: FieldAnswer) -> str:
    if answer.calibration is None:
        return "The job file was not touched."
    return "The job file was not touched; --write puts what was learned into it."
