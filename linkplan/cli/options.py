"""Arguments and habits that commands share."""

from __future__ import annotations

import argparse
import json
import math
import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from linkplan.errors import LinkplanError

EPOCH_VARIABLE = "SOURCE_DATE_EPOCH"
"""Seconds since 1970 that stand for now, so that two runs write the same bytes."""
POINT_OPTIONS = ("--to", "--from")
"""Options whose value is a place, so that it may begin with a minus sign."""


def add_job(parser: argparse.ArgumentParser) -> None:
    """The job file."""
    parser.add_argument("job", metavar="JOB", type=Path, help="the job file (TOML)")


def add_json(parser: argparse.ArgumentParser) -> None:
    """One JSON object in place of text."""
    parser.add_argument("--json", action="store_true", help="print one JSON object in place of text")


def add_out_folder(parser: argparse.ArgumentParser, default: str) -> None:
    """The folder that results go to."""
    parser.add_argument("--out", metavar="FOLDER", type=Path, help=f"where to write (default: {default})")


def joined_points(arguments: Sequence[str]) -> list[str]:
    """Arguments in which a point that begins with a minus sign is tied to its option.

    The parser takes "-117.2,35.9" for an option; "--to=-117.2,35.9" it takes for what it is.
    """
    joined: list[str] = []
    for argument in arguments:
        if joined and joined[-1] in POINT_OPTIONS and re.match(r"-\.?\d", argument):
            joined[-1] += f"={argument}"
        else:
            joined.append(argument)
    return joined


def file_slug(text: str) -> str:
    """A name that serves as part of a file name on any system."""
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-").lower() or "unnamed"


def positive(text: str) -> float:
    """A number above 0, for argparse."""
    value = float(text)
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(text)
    return value


def print_json(value: dict[str, Any]) -> None:
    """Print one object, the same bytes for the same result."""
    ascii_only = sys.stdout is None or not (sys.stdout.encoding or "").lower().startswith("utf")
    print(json.dumps(value, indent=2, ensure_ascii=ascii_only, allow_nan=False))


def stated_epoch() -> str | None:
    """SOURCE_DATE_EPOCH, by which libraries go too, or None. LinkplanError where it is no such time."""
    epoch = os.environ.get(EPOCH_VARIABLE)
    if epoch is not None and not re.fullmatch("[0-9]{1,12}", epoch):
        raise LinkplanError(f"{EPOCH_VARIABLE}: {epoch!r} is no time that can be stated here")
    return epoch
