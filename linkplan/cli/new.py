"""Write a commented job file to start from. An existing file is never overwritten."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan new`."""
    parser.add_argument("file", metavar="FILE", type=Path, help="the job file to write, e.g. job.toml")


def run(options: argparse.Namespace) -> int:
    """Write the starter."""
    from linkplan.plan.starter import write_starter

    write_starter(options.file)
    print(f"wrote {options.file}: fill it in, then run: linkplan plan {options.file}")
    return 0
