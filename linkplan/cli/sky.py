"""What base and rovers see of the satellites over the working day; when the base holds corrections back.

Exit code 1 says that it does at some time, or that less than the wanted share of the job has sky enough.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from linkplan.cli.options import add_job, add_json, add_out_folder, file_slug, print_json
from linkplan.cli.progress import StatusLine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan sky`."""
    add_job(parser)
    add_out_folder(parser, "JOB-sky in the current folder")
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Compute, write and report."""
    from linkplan.outputs.sky_folder import sky_object, write_sky
    from linkplan.outputs.sky_text import sky_text
    from linkplan.outputs.staging import staged_folder
    from linkplan.plan.reader import read_plan
    from linkplan.study import run_sky

    plan = read_plan(options.job)
    folder = options.out or Path(f"{file_slug(options.job.stem)}-sky")
    with staged_folder(folder) as stage, StatusLine() as status:
        sky = run_sky(plan, status)
        status("writing files", 0.0)
        written = write_sky(sky, stage)
    if options.json:
        files = [one.path.name for one in written]
        print_json({**sky_object(sky), "folder": str(folder), "files": files})
    else:
        print(sky_text(sky))
        print(f"\nwrote {len(written)} files to {folder}")
        for one in written:
            print(f"  {one.path.name:<12} {one.what}")
    return 0 if sky.reached else 1
