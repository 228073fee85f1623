"""One link from the base to a point: a profile plot (PNG or SVG) and the budget, line by line.

POINT is the name of a control point, or "easting,northing" in the job's coordinates. Exit code 1 says
that the point does not have the wanted chance of corrections.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from linkplan.cli.options import add_job, add_json, file_slug, print_json
from linkplan.cli.progress import StatusLine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan path`."""
    add_job(parser)
    parser.add_argument("--to", metavar="POINT", required=True, help="where the rover stands")
    parser.add_argument(
        "--from", metavar="POINT", dest="start", help="where the base stands, if not as in JOB"
    )
    parser.add_argument(
        "--out", metavar="FILE", type=Path, help="profile plot, .png or .svg (default: JOB-to-POINT.png)"
    )
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Compute, draw and report."""
    from linkplan import study
    from linkplan.outputs.encode import to_jsonable
    from linkplan.outputs.figures import write_profile
    from linkplan.outputs.text import link_text
    from linkplan.plan.reader import read_plan

    plan = read_plan(options.job)
    end = study.terminal_from_text(plan, options.to)
    start = study.terminal_from_text(plan, options.start) if options.start else None
    out = options.out or Path(f"{file_slug(options.job.stem)}-to-{file_slug(end.name)}.png")
    with StatusLine() as status:
        status("computing the path", 0.0)
        link = study.run_link(plan, end, start)
        status("drawing", 0.0)
        write_profile(plan, link, out)
    if options.json:
        print_json({**to_jsonable(link), "figure": str(out)})
    else:
        print(link_text(plan, link))
        print(f"\nwrote {out}")
    return 0 if link.chance >= link.wanted_chance else 1
