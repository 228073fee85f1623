"""Compute the whole job into one folder with an index page: map, brief, rasters, polygons, figures, profiles.

Exit code 1 says that the job is not covered as wanted; with a [sky] or a tolerance in the job file, that work
cannot go on in the wanted share of it; or that something else is not as asked, which the brief's first sheet
says too.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from linkplan.cli.brief import not_as_asked, not_as_asked_text, stamp
from linkplan.cli.options import add_job, add_json, add_out_folder, file_slug, print_json
from linkplan.cli.progress import StatusLine

if TYPE_CHECKING:
    from linkplan.study import BriefFacts


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan plan`."""
    add_job(parser)
    add_out_folder(parser, "JOB-plan in the current folder")
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Compute, write and report."""
    folder = options.out or Path(f"{file_slug(options.job.stem)}-plan")
    with StatusLine() as status:
        facts = plan_into(options.job, folder, status)
    return report(facts, folder, as_json=options.json)


def plan_into(job: Path, folder: Path, status: StatusLine) -> BriefFacts:
    """Run the job in the file `job` and write all its results to `folder`."""
    from linkplan import study as stages
    from linkplan.outputs.brief.files import papers_for, write_brief
    from linkplan.outputs.folder import write_all
    from linkplan.outputs.staging import staged_folder
    from linkplan.outputs.workable_words import work_of_study
    from linkplan.plan.reader import read_plan

    plan = read_plan(job)
    computed_at = stamp(plan)
    with staged_folder(folder) as stage:
        study = stages.run(plan, status)
        status("computing paths", 0.0)
        links = stages.telling_links(study)
        status("writing files", 0.0)
        facts = stages.brief_facts(study, computed_at)
        brief = write_brief(facts, stage, papers_for(plan.length_unit))
        write_all(plan, study.coverage, study.summary, links, stage, work_of_study(study), brief)
    return facts


def report(facts: BriefFacts, folder: Path, *, as_json: bool) -> int:
    """Print the answer and where its files are; 1 where something is not as asked."""
    from linkplan.outputs.folder import summary_object
    from linkplan.outputs.text import summary_text
    from linkplan.outputs.workable_words import work_of_study

    study, broken = facts.study, not_as_asked(facts)
    work = work_of_study(study)
    if as_json:
        found = {**summary_object(study.summary, work), "not_as_asked": broken, "folder": str(folder)}
        print_json(found)
    else:
        print(summary_text(study.plan, study.coverage, study.summary, work))
        if broken:
            print(f"\n{not_as_asked_text(broken)}")
        print(f"\nopen {folder / 'index.html'} in a browser; everything is in {folder}")
    return 1 if broken or not study.reached else 0
