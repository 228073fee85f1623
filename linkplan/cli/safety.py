"""Distances from antenna, mast and overhead lines, gaps where somebody relies on corrections, and cautions.

Exit code 1 says that a line is too near, that the antenna's field reaches over the fence, or that a gap
lasts longer than corrections may be old. Exit code 0 says no more than that the job's own rules are kept.
"""

from __future__ import annotations

import argparse

from linkplan.cli.options import add_job, add_json, print_json
from linkplan.cli.progress import StatusLine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan safety`."""
    add_job(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Compute and report."""
    from linkplan.outputs.encode import to_jsonable
    from linkplan.outputs.safety_text import safety_text
    from linkplan.plan.reader import read_plan
    from linkplan.safety.check import check_safety

    plan = read_plan(options.job)
    with StatusLine() as status:
        answer = check_safety(plan, progress=status)
    if options.json:
        print_json(to_jsonable(answer))
    else:
        print(safety_text(plan, answer))
    return 0 if answer.held else 1
