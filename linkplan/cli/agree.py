"""Compare settings sheets: is every rover set as the base is, and all as the job wants it?

A sheet is a TOML file or a CSV (a row a setting, or a row a set); `linkplan sheet JOB` writes sheets to start
from. Frequencies are compared, never channel numbers; what is not stated never counts as agreement. Exit
code 1 says that something differs or that someone is silent where it matters.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from linkplan.cli.options import add_json, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan agree`."""
    parser.add_argument("base", metavar="BASE", type=Path, help="the base's settings sheet (.toml or .csv)")
    parser.add_argument(
        "rovers", metavar="ROVER", type=Path, nargs="*", help="rovers' sheets, or folders of them"
    )
    parser.add_argument("--job", metavar="JOB", type=Path, help="hold all of them against this job file too")
    parser.add_argument("--job-base", metavar="NAME", help="which base of JOB, if not its first one")
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Read, compare, report."""
    from linkplan.agreement.compare import check_agreement
    from linkplan.errors import Fault, SheetError
    from linkplan.outputs.agreement_text import agreement_text
    from linkplan.outputs.encode import to_jsonable
    from linkplan.plan.sheets import read_sheets

    if not options.rovers and options.job is None:
        cure = "name rovers' sheets after it, or a job with --job"
        raise SheetError(((str(options.base), Fault("", "", "there is nothing to compare it with", cure)),))
    job = None
    if options.job is not None:
        from linkplan.agreement.from_job import job_sheets
        from linkplan.plan.reader import read_plan

        job = job_sheets(read_plan(options.job), options.job_base)
    base, rovers = read_sheets(options.base, options.rovers)
    result = check_agreement(base, rovers, job)
    if options.json:
        print_json(to_jsonable(result))
    else:
        print(agreement_text(result))
    return 0 if result.agrees else 1
