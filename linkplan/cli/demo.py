"""Run the two invented demo jobs: a valley job over real open terrain and a small site with a pit.

The job files and their data are copied into FOLDER too, to be changed and run again.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from linkplan.cli.progress import StatusLine

DEFAULT_FOLDER = "linkplan-demo"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan demo`."""
    parser.add_argument(
        "folder", metavar="FOLDER", type=Path, nargs="?", default=Path(DEFAULT_FOLDER),
        help=f"where to write (default: {DEFAULT_FOLDER})",
    )  # fmt: skip


def run(options: argparse.Namespace) -> int:
    """Copy the demo's inputs, run each job, report."""
    from linkplan.cli.plan import plan_into, report
    from linkplan.outputs.staging import copy_folder
    from linkplan.plan.demo import demo_inputs

    inputs = options.folder / "inputs"
    copy_folder(demo_inputs(), inputs, but=(".py",))
    for further in ("sheets", "corridor"):
        copy_folder(demo_inputs() / further, inputs / further, but=(".py",))
    for job in sorted(inputs.glob("*.toml")):
        with StatusLine() as status:
            facts = plan_into(job, options.folder / job.stem, status)
        report(facts, options.folder / job.stem, as_json=False)
        print()
    print(f"The jobs are invented; change them in {inputs} and run: linkplan plan {inputs / 'JOB.toml'}")
    print("The other questions, on the same demo:")
    for command in further_commands(inputs):
        print(f"  linkplan {' '.join(command)}")
    return 0


def further_commands(inputs: Path) -> tuple[tuple[str, ...], ...]:
    """What else can be asked of the demo, as arguments of the command line."""
    basin, quarry, sheets = (str(inputs / name) for name in ("basin.toml", "quarry.toml", "sheets"))
    field_logs = tuple(str(inputs / f"basin_field_{name}") for name in ("1.nmea", "2.nmea", "levels.csv"))
    corridor = str(inputs / "corridor" / "corridor.toml")
    return (
        ("sky", quarry, "--out", str(inputs.parent / "quarry-sky")),
        ("site", quarry, "--out", str(inputs.parent / "quarry-site")),
        ("site", corridor, "--out", str(inputs.parent / "corridor-site")),
        ("safety", quarry),
        ("brief", quarry, "--language", "es", "--paper", "a4", "--out", str(inputs.parent / "quarry-brief")),
        ("channels", basin),
        ("airtime", quarry),
        ("sheet", quarry, "--out", str(inputs.parent / "quarry-sheet")),
        ("agree", str(inputs / "sheets" / "base.toml"), sheets, "--job", quarry),
        ("capture", str(inputs / "basin_capture.rtcm3"), basin),
        ("rover", str(inputs / "basin_rover.nmea"), basin),
        ("fieldcheck", basin, *field_logs, "--out", str(inputs.parent / "basin-fieldcheck")),
    )
