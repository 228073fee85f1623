"""A page in the browser, for this machine only: drag the base, move the mast, see where corrections arrive.

Serves on the loopback address until interrupted (Ctrl-C); without JOB, the jobs (*.toml) of the folder to
choose from. Nothing is written to a job file before you have seen and confirmed what changes.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from linkplan.errors import OutputError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan page`."""
    parser.add_argument("job", metavar="JOB", type=Path, nargs="?", help="the job file (TOML) to open")
    parser.add_argument(
        "--port", metavar="N", type=_port, default=0, help="where to serve (default: any free port)"
    )
    parser.add_argument("--no-browser", action="store_true", help="print the address, open no browser")


def run(options: argparse.Namespace) -> int:
    """Serve until interrupted."""
    from linkplan.page.jobs import JobFolder
    from linkplan.page.serve import serve

    if options.job is None:
        folder = JobFolder(Path.cwd())
    else:
        job = options.job.resolve()
        if not job.is_file():
            raise OutputError(f"{options.job}: no such file; `linkplan new FILE` writes one to start from")
        folder = JobFolder(job.parent, job.name)
        folder.get(job.name)

    def ready(address: str) -> None:
        print(f"linkplan page at {address}")
        print("only this machine can open it; Ctrl-C ends it", flush=True)
        if not options.no_browser:
            _open(address)

    serve(folder, options.port, ready)
    return 0


def _open(address: str) -> None:
    """Open the browser beside the server, which answers it."""
    import threading
    import webbrowser

    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


def _port(text: str) -> int:
    """A port, for argparse."""
    if not (text.isascii() and text.isdecimal() and len(text) < 6 and 0 <= int(text) <= 65_535):
        raise argparse.ArgumentTypeError(f"{text!r} is no port from 1 to 65535 (0: any free one)")
    return int(text)
