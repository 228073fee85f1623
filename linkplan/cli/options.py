"""Arguments and habits that commands share."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from typing import Any


def add_job(parser: argparse.ArgumentParser) -> None:
    """The job file."""
    parser.add_argument("job", metavar="JOB", type=Path, help="the job file (TOML)")


def add_json(parser: argparse.ArgumentParser) -> None:
    """One JSON object in place of text."""
    parser.add_argument("--json", action="store_true", help="print one JSON object in place of text")


def add_out_folder(parser: argparse.ArgumentParser, default: str) -> None:
    """The folder that results go to."""
    parser.add_argument("--out", metavar="FOLDER", type=Path, help=f"where to write (default: {default})")


def file_slug(text: str) -> str:
    """A name that serves as part of a file name on any system."""
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-").lower() or "unnamed"


def print_json(value: dict[str, Any]) -> None:
    """Print one object, the same bytes for the same result."""
    print(json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False))
