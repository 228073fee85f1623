"""A recorded RTCM 3 stream against the job: what does the base really send?

FILE is a byte dump of the correction stream (from the base's port, a rover's radio, a network connection),
or "-" for standard input. Exit code 1 says that something is not as the job says.
"""

from __future__ import annotations

import argparse

from linkplan.cli.options import add_job, add_json, positive, print_json

_TOLERANCE_M = 0.05


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan capture`."""
    parser.add_argument("file", metavar="FILE", help='the recorded stream, or "-" for standard input')
    add_job(parser)
    parser.add_argument(
        "--tolerance", metavar="M", type=positive, default=_TOLERANCE_M,
        help=f"how far the base point may be off, m (default: {_TOLERANCE_M:g}, common practice)",
    )  # fmt: skip
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Read, compare, report."""
    from linkplan.evidence.captured import compare_capture
    from linkplan.gnss.recordings import pieces
    from linkplan.gnss.rtcm_capture import read_capture
    from linkplan.outputs.encode import to_jsonable
    from linkplan.outputs.evidence_text import capture_text
    from linkplan.plan.reader import read_plan

    plan = read_plan(options.job)
    capture = read_capture(options.file, pieces(options.file))
    report = compare_capture(plan, capture, options.tolerance)
    if options.json:
        print_json(to_jsonable(report))
    else:
        print(capture_text(plan, report))
    return 0 if report.agrees else 1
