"""A rover's NMEA 0183 log against the job: whose corrections did it use, and how old were they?

LOG is the log with GGA or GNS sentences, or "-" for standard input. Exit code 1 says that something was
not as it should be: another base, corrections late or absent.
"""

from __future__ import annotations

import argparse

from linkplan.cli.options import add_job, add_json, positive, print_json

_AGE_LIMIT_S = 10.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan rover`."""
    parser.add_argument("log", metavar="LOG", help='the rover\'s log, or "-" for standard input')
    add_job(parser)
    parser.add_argument(
        "--age-limit", metavar="S", type=positive, default=_AGE_LIMIT_S,
        help=f"older corrections are late, s (default: {_AGE_LIMIT_S:g}, common practice)",
    )  # fmt: skip
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Read, compare, report."""
    from linkplan.evidence.logged import compare_log
    from linkplan.gnss.recordings import pieces
    from linkplan.gnss.rover_log import read_log
    from linkplan.outputs.encode import to_jsonable
    from linkplan.outputs.evidence_text import rover_text
    from linkplan.plan.reader import read_plan

    plan = read_plan(options.job)
    log = read_log(options.log, pieces(options.log), options.age_limit)
    report = compare_log(plan, log)
    if options.json:
        print_json(to_jsonable(report))
    else:
        print(rover_text(plan, report))
    return 0 if report.agrees else 1
