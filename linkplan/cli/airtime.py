"""Does the correction stream fit the radio: bytes, air time, worst epoch, duty cycle, battery, and advice.

Exit code 1 says that it does not fit.
"""

from __future__ import annotations

import argparse

from linkplan.cli.options import add_job, add_json, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan airtime`."""
    add_job(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Compute and report."""
    from linkplan.airtime.check import check_air_time
    from linkplan.outputs.air_time_text import air_time_text
    from linkplan.outputs.encode import to_jsonable
    from linkplan.plan.reader import read_plan

    answer = check_air_time(read_plan(options.job))
    if options.json:
        print_json(to_jsonable(answer))
    else:
        print(air_time_text(answer))
    return 0 if answer.fits else 1
