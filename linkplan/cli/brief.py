"""Write the site-safety brief: what the crew carries and the site manager signs, as PDF and as a page.

Exit code 1 says that something is not as asked: a rule of the job or of its licence is broken, messages do
not fit on the air, or the job is not covered as wanted. Exit code 0 says no more than that none of this is
so: local codes, the licence and a qualified person decide.
"""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from linkplan.cli.options import (
    EPOCH_VARIABLE,
    add_job,
    add_json,
    add_out_folder,
    file_slug,
    print_json,
    stated_epoch,
)
from linkplan.cli.progress import StatusLine
from linkplan.errors import LinkplanError
from linkplan.outputs.brief.catalogue import SOURCE_LANGUAGE, languages

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linkplan.outputs.files import Written
    from linkplan.plan.model import Plan
    from linkplan.study import BriefFacts

PAPER_CHOICES = {"a4": ("a4",), "letter": ("letter",), "both": ("a4", "letter")}
FIRST_YEAR, LAST_YEAR = 1970, 9998
"""Of a time that a brief may state: a licence is held against it, and a PDF has no other years."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan brief`."""
    add_job(parser)
    add_out_folder(parser, "JOB-brief in the current folder")
    parser.add_argument(
        "--paper", choices=PAPER_CHOICES, default="both", help="size of paper (default: both)"
    )
    parser.add_argument(
        "--language", choices=languages(), default=SOURCE_LANGUAGE,
        help=f"language of the brief (default: {SOURCE_LANGUAGE})",
    )  # fmt: skip
    parser.add_argument(
        "--time", metavar="STAMP", type=moment,
        help="time to state as that of the computation, as 2026-03-01T07:00+01:00 (default: now)",
    )  # fmt: skip
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Compute, write and report."""
    from linkplan.outputs.brief.files import write_brief
    from linkplan.outputs.staging import staged_folder
    from linkplan.plan.reader import read_plan
    from linkplan.study import brief_facts
    from linkplan.study import run as run_study

    plan = read_plan(options.job)
    computed_at = stamp(plan, options.time)
    folder = options.out or Path(f"{file_slug(options.job.stem)}-brief")
    with staged_folder(folder) as stage, StatusLine() as status:
        facts = brief_facts(run_study(plan, status), computed_at)
        status("writing files", 0.0)
        written = write_brief(facts, stage, PAPER_CHOICES[options.paper], (options.language,))
    return report(facts, folder, written, as_json=options.json)


def report(facts: BriefFacts, folder: Path, written: Sequence[Written], *, as_json: bool) -> int:
    """Print what is not as asked, and where the files are; 1 where there is such."""
    from linkplan.outputs.brief.compose import revision_of
    from linkplan.outputs.brief.compose_act import answer_lines
    from linkplan.outputs.brief.words import Words
    from linkplan.outputs.text import filled

    broken, answer = (
        not_as_asked(facts),
        answer_lines(facts.study, Words.of(facts.study.plan, SOURCE_LANGUAGE)),
    )
    if as_json:
        print_json(
            {
                "job_name": facts.study.plan.name,
                "held": facts.safety.held,
                "reached": facts.study.reached,
                "not_as_asked": broken,
                "revision": revision_of(facts),
                "check_code": facts.set_up.code,
                "computed_at": facts.computed_at.isoformat(),
                "folder": str(folder),
                "files": [one.path.name for one in written],
            }
        )
        return 1 if broken else 0
    print(f"{facts.study.plan.name}: site-safety brief, revision {revision_of(facts)}")
    print("\n".join(filled(line) for line in answer))
    if broken:
        print(f"\n{not_as_asked_text(broken)}")
    print(f"\nwrote {len(written)} files to {folder}")
    for one in written:
        print(f"  {one.path.name:<20} {one.what}")
    return 1 if broken else 0


def not_as_asked(facts: BriefFacts) -> list[str]:
    """What a brief's first sheet says is not as asked, a line each."""
    from linkplan.outputs.brief.compose_act import findings
    from linkplan.outputs.brief.words import Words

    return findings(facts, Words.of(facts.study.plan, SOURCE_LANGUAGE))


def not_as_asked_text(broken: Sequence[str]) -> str:
    """The same as a paragraph for the terminal."""
    from linkplan.outputs.text import filled

    return "\n".join(["NOT AS ASKED:", *(filled(line, "- ", "  ") for line in broken)])


def moment(text: str) -> datetime:
    """A time stamp, for argparse."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no ISO 8601 time: write it as 2026-03-01T07:00 or 2026-03-01T07:00+01:00"
        ) from None


def stamp(plan: Plan, stated: datetime | None = None) -> datetime:
    """The time that a brief states: as stated, by SOURCE_DATE_EPOCH, or now; in the zone of the job, or of
    this machine where the job has none. LinkplanError where that is no time."""
    zone = plan.sky.hours.zone if plan.sky is not None else None
    epoch = stated_epoch()
    try:
        if stated is not None and stated.tzinfo is None and zone is not None:
            found = stated.replace(tzinfo=zone)
        elif stated is not None:
            found = stated if zone is None and stated.tzinfo is not None else stated.astimezone(zone)
        elif epoch is not None:
            found = datetime.fromtimestamp(int(epoch), UTC).astimezone(zone or UTC)
        else:
            found = datetime.now(UTC).astimezone(zone)
        if not FIRST_YEAR <= found.astimezone(UTC).year <= LAST_YEAR:
            raise ValueError
    except (ValueError, OverflowError, OSError):
        where = "--time" if stated is not None else EPOCH_VARIABLE
        value = stated.isoformat() if stated is not None else repr(epoch)
        raise LinkplanError(f"{where}: {value} is no time that can be stated here") from None
    return found.replace(microsecond=0)
