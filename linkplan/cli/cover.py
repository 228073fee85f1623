"""Compute where corrections arrive: GeoTIFF, polygons (GeoPackage, GeoJSON, KML), offline map, summary.

Exit code 1 says that the job is not covered as wanted.
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
    from linkplan.outputs.encode import to_jsonable
    from linkplan.outputs.folder import write_coverage
    from linkplan.outputs.staging import staged_folder
    from linkplan.outputs.text import summary_text
    from linkplan.plan.reader import read_plan
    from linkplan.study import run as run_study

    plan = read_plan(options.job)
    folder = options.out or Path(f"{file_slug(options.job.stem)}-coverage")
    with staged_folder(folder) as stage, StatusLine() as status:
        study = run_study(plan, status)
        status("writing files", 0.0)
        written = write_coverage(plan, study.coverage, study.summary, stage)
    if options.json:
        files = [one.path.name for one in written]
        print_json({**to_jsonable(study.summary), "folder": str(folder), "files": files})
    else:
        print(summary_text(plan, study.coverage, study.summary))
        print(f"\nwrote {len(written)} files to {folder}")
        for one in written:
            print(f"  {one.path.name:<24} {one.what}")
    return 0 if study.summary.all_covered else 1
