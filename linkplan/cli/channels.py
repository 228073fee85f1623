"""Which channel, time slot, station ID and power for which base, and what would break the licence.

Exit code 1 says that a clause of the licence data is broken, that there are no such data, or that unwanted
signals come too near to the wanted one.
"""

from __future__ import annotations

import argparse
from datetime import date

from linkplan.cli.options import add_job, add_json, print_json
from linkplan.cli.progress import StatusLine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan channels`."""
    add_job(parser)
    parser.add_argument(
        "--date",
        metavar="YYYY-MM-DD",
        type=_day,
        help="the day for which the licence is checked (default: today)",
    )
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Decide and report."""
    from linkplan.channels.decide import decide_channels
    from linkplan.outputs.channels_text import channels_text
    from linkplan.outputs.encode import to_jsonable
    from linkplan.plan.reader import read_plan

    plan = read_plan(options.job)
    with StatusLine() as status:
        answer = decide_channels(plan, options.date or date.today(), status)
    if options.json:
        print_json(to_jsonable(answer))
    else:
        print(channels_text(plan, answer))
    return 0 if answer.accepted else 1


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no date; write year-month-day, as 2027-12-31"
        ) from None
