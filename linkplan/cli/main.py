"""The command `linkplan`: finds the command's own file, runs it, and turns errors into one clear line.

Exit codes: 0 done; 1 done, and the answer is no; 2 bad input, or it cannot be computed.
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import importlib
import io
import os
import sys
from collections.abc import Sequence

from linkplan import __version__
from linkplan.cli.options import joined_points, stated_epoch
from linkplan.errors import LinkplanError

COMMANDS = {
    "new": "write a commented job file to start from",
    "cover": "compute where corrections arrive: rasters, polygons, a map and a summary",
    "path": "one link from the base to a point: profile and budget line by line",
    "plan": "compute the whole job into one folder with an index page",
    "site": "compare places for the base, masts and repeaters: where it goes, and why",
    "sky": "satellites of base and rovers over the working day; when the base holds corrections back",
    "safety": "distances from antenna, mast and lines; gaps where somebody relies on corrections; cautions",
    "brief": "the site-safety brief to print: what the crew carries and the site manager signs",
    "airtime": "put the correction messages on the air: do they fit, and what would make them fit",
    "channels": "assign channel, slot, ID and power to every base; what breaks the licence",
    "sheet": "print and write the set-up sheet for base and rovers, with its check code",
    "agree": "compare settings sheets of base and rovers with each other and with the job",
    "capture": "compare a recorded RTCM 3 stream with the job: what the base really sends",
    "rover": "compare a rover's NMEA 0183 log with the job: whose corrections, how old",
    "fieldcheck": "hold field logs against the map: was the prediction true, and what the map may learn",
    "page": "a page in the browser: drag the base, move the mast, see where corrections arrive",
    "demo": "run the two invented demo jobs",
}
"""Command and what it does; each lives in the module of its name."""

BAD_INPUT = 2
"""Exit code; a command itself returns 0 or 1."""
_COLLECT_AFTER_OBJECTS = 100_000


def build_parser() -> argparse.ArgumentParser:
    """The parser of the whole command line; loads nothing that is heavy."""
    parser = argparse.ArgumentParser(
        prog="linkplan",
        description="Plan the UHF correction link between a GNSS base and its rovers over the real terrain, "
        "offline.",
        epilog="Results are predictions: verify on site. Exit code 0: done; 1: done, and the answer is no; "
        "2: bad input, or it cannot be computed.",
    )
    parser.add_argument("--version", action="version", version=f"linkplan {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, what in COMMANDS.items():
        module = importlib.import_module(f"linkplan.cli.{name}")
        one = commands.add_parser(name, help=what, description=module.__doc__)
        module.add_arguments(one)
        one.set_defaults(run=module.run)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    _speak_any_language()
    # libraries load a great many lasting objects: looking for cycles among them costs a tenth of a short run
    gc.set_threshold(_COLLECT_AFTER_OBJECTS)
    try:
        options = build_parser().parse_args(joined_points(sys.argv[1:] if arguments is None else arguments))
        stated_epoch()
        code: int = options.run(options)
        if sys.stdout is not None:
            sys.stdout.flush()
        return code
    except LinkplanError as error:
        _complain(str(error))
    except KeyboardInterrupt:
        _complain("interrupted; nothing half-written is left behind")
    except MemoryError:
        _complain("not enough memory for this job; set terrain.cell_size larger")
    except BrokenPipeError:
        _drop_output()  # whoever read our output has gone: say nothing
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        _complain(f"{where}stopped by the system: {error.strerror or error}")
        _drop_output()
    return BAD_INPUT


def _speak_any_language() -> None:
    """Where the terminal's encoding lacks a letter, its number stands for it."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _drop_output() -> None:
    """Keep Python from complaining at exit of what cannot be written."""
    if sys.stdout is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _complain(text: str) -> None:
    if sys.stderr is None:
        return
    with contextlib.suppress(OSError):  # standard error may be closed or full: the exit code still tells
        for line in text.splitlines() or ["failed without a word"]:
            print(f"linkplan: {line}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
