"""Compute where corrections arrive: GeoTIFF, polygons (GeoPackage, GeoJSON, KML), offline map, summary.

Exit code 1 says that the job is not covered as wanted. With a [sky] or a tolerance in the job file the wanted
share is asked of the ground where work can go on: corrections, sky and baseline together.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from linkplan.cli.options import add_job, add_json, add_out_folder, file_slug, print_json
from linkplan.cli.progress import StatusLine


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan cover`."""
    add_job(parser)
    add_out_folder(parser, "JOB-coverage in the current folder")
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Compute, write and report."""
    from linkplan.outputs.folder import summary_object, write_coverage
    from linkplan.outputs.staging import staged_folder
    from linkplan.outputs.text import summary_text
    from linkplan.outputs.workable_words import work_of_study
    from linkplan.plan.reader import read_plan
    from linkplan.study import run as run_study

    plan = read_plan(options.job)
    folder = options.out or Path(f"{file_slug(options.job.stem)}-coverage")
    with staged_folder(folder) as stage, StatusLine() as status:
        study = run_study(plan, status)
        status("writing files", 0.0)
        work = work_of_study(study)
        written = write_coverage(plan, study.coverage, study.summary, stage, work)
    if options.json:
        files = [one.path.name for one in written]
        print_json({**summary_object(study.summary, work), "folder": str(folder), "files": files})
    else:
        print(summary_text(plan, study.coverage, study.summary, work))
        print(f"\nwrote {len(written)} files to {folder}")
        for one in written:
            print(f"  {one.path.name:<24} {one.what}")
    return 0 if study.reached else 1
