"""Print the set-up sheet for base and rovers, and write it as TOML, text and a page to print.

Both sheets carry one check code over all values: two people compare it over the phone. `linkplan agree`
reads the TOML files back.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from linkplan.cli.options import add_job, add_json, add_out_folder, file_slug, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan sheet`."""
    add_job(parser)
    parser.add_argument("--base", metavar="NAME", help="which base, if not the first one of JOB")
    add_out_folder(parser, "JOB-sheets in the current folder")
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Read the job, write its sheets, print them."""
    from linkplan.agreement.setup import set_up
    from linkplan.outputs.encode import to_jsonable
    from linkplan.outputs.sheet import setup_text, setup_toml
    from linkplan.outputs.sheet_page import setup_html
    from linkplan.outputs.staging import staged_folder
    from linkplan.plan.reader import read_plan

    plan = read_plan(options.job)
    which = f"{options.job.stem}-{options.base}" if options.base else options.job.stem
    folder = options.out or Path(f"{file_slug(which)}-sheets")
    sheet = set_up(plan, options.base)
    text = setup_text(sheet)
    contents = {
        "base.toml": setup_toml(sheet, "base"),
        "rover.toml": setup_toml(sheet, "rover"),
        "sheet.txt": text + "\n",
        "sheet.html": setup_html(sheet),
    }
    with staged_folder(folder) as stage:
        for name, content in contents.items():
            (stage / name).write_text(content, encoding="utf-8", newline="\n")
    if options.json:
        print_json({**to_jsonable(sheet), "folder": str(folder)})
    else:
        print(text)
        print(f"\nwrote {', '.join(contents)} to {folder}")
    return 0
