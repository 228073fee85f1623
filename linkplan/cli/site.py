"""Where does the base go, how high: every place of the job file compared over the whole job, best first.

Finished places are kept in a file, so that a second run computes only what has changed. Exit code 1 says that
no place serves, or that the best place (or the best set-ups together) does not reach the wanted share.
"""

from __future__ import annotations

import argparse
import difflib
import os
import re
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from linkplan.cli.options import add_job, add_json, add_out_folder, file_slug, print_json
from linkplan.cli.progress import StatusLine
from linkplan.errors import OutputError, PlaceError, WorkError

if TYPE_CHECKING:
    from linkplan.coverage.results import CoverageMap, CoverageSummary
    from linkplan.plan.model import Plan
    from linkplan.siting.results import Candidate, SitingResult
    from linkplan.siting.search import Search


PLACES = "computing places"
"""The stage of a search in which places are computed."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `linkplan site`."""
    add_job(parser)
    add_out_folder(parser, "JOB-site in the current folder")
    parser.add_argument(
        "--processes",
        metavar="N",
        type=_whole,
        help="how many to compute with (default: the number of cores)",
    )
    parser.add_argument(
        "--cluster", metavar="ADDRESS", help="compute on the dask.distributed cluster with this scheduler"
    )
    parser.add_argument(
        "--kept",
        metavar="FILE",
        type=Path,
        help="where finished places are kept (default: JOB-site.kept in the current folder)",
    )
    parser.add_argument(
        "--fresh", action="store_true", help="forget what is kept and compute every place anew"
    )
    parser.add_argument(
        "--write",
        action="store_true",
        help="fill the winner into the job file; the rest of it stays as it is",
    )
    parser.add_argument(
        "--set-up", metavar="K", type=_whole, help="with --write: which of several set-ups is to be the base"
    )
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Search, write and report."""
    from linkplan.outputs.siting_folder import siting_object, write_siting
    from linkplan.outputs.siting_text import siting_text
    from linkplan.outputs.siting_words import reaches
    from linkplan.outputs.staging import staged_folder
    from linkplan.plan.reader import read_plan

    plan = read_plan(options.job)
    _check(plan, options)
    folder = options.out or Path(f"{file_slug(options.job.stem)}-site")
    answered = (folder / "siting.json").is_file()
    with staged_folder(folder) as stage, StatusLine() as status:
        found = _search(plan, options, status)
        shown, drawn = _drawn(found, status)
        status("writing files", 0.0)
        serving = found.combined.serving if found.combined is not None else None
        written = write_siting(shown, found.result, drawn, stage, serving)
    removed = _clear_pictures(folder, {one.path.name for one in written}) if answered else []
    changed, trouble = None, None
    if options.write:
        try:
            changed = _write_base(plan, found.result, options)
        except OutputError as error:
            trouble = error  # after hours of work the answer is shown first
    if options.json:
        files = [one.path.name for one in written]
        more = {} if changed is None else {"changed": changed}
        print_json({**siting_object(found.plan, found.result), "folder": str(folder), "files": files, **more})
    else:
        print(siting_text(found.plan, found.result))
        print(f"\nplaces computed: {found.result.computed}; taken from earlier runs: {found.result.kept}")
        print(f"wrote {len(written)} files to {folder}")
        for one in written:
            print(f"  {one.path.name:<16} {one.what}")
        if removed:
            print(f"removed from there, as they showed an earlier answer: {', '.join(removed)}")
        if changed is not None:
            print("\n".join(_change_lines(options.job, changed)))
        elif options.write and trouble is None:
            print(f"{options.job} is left as it is: there is no place to fill in")
    if trouble is not None:
        raise trouble
    return 0 if reaches(found.result) else 1


def _check(plan: Plan, options: argparse.Namespace) -> None:
    """Say before the work starts that there is nothing to search, or nothing that could be filled in."""
    from linkplan.siting.places import siting_of

    several = siting_of(plan).mode != "one"
    if options.set_up is not None and not (options.write and several):
        raise PlaceError("--set-up: serves with --write only, in a job that asks for several set-ups")
    if options.write and several and options.set_up is None:
        raise PlaceError(
            "--write: the job asks for several set-ups and the job file has one base; say with --set-up K "
            "which of them it is to be"
        )
    if options.write and not os.access(options.job, os.W_OK):
        raise OutputError(f"{options.job}: is write-protected, so --write cannot fill anything in")
    kept = options.kept
    read = (options.job, *plan.terrain.files, *(() if plan.clutter is None else (plan.clutter.file,)))
    if kept is not None and kept.exists() and any(kept.samefile(one) for one in read):
        raise OutputError(f"--kept {kept}: the job is read from this file; name another, or leave it out")


def _search(plan: Plan, options: argparse.Namespace, status: StatusLine) -> Search:
    from linkplan.siting.places import all_places
    from linkplan.siting.search import kept_beside, search
    from linkplan.siting.workload import Effort, cores

    kept = options.kept or kept_beside(options.job)
    if options.fresh:
        _forget(kept)
    watch = _Watch(status)
    watch(PLACES, 0.0)
    effort = Effort(processes=options.processes or cores(), cluster=options.cluster, kept=kept)
    try:
        return search(plan, effort, watch)
    except KeyboardInterrupt:
        raise WorkError(watch.left_off(len(all_places(plan)), kept)) from None


def _forget(kept: Path) -> None:
    """Empty the file of finished places; one that is not ours is refused by opening it."""
    from linkplan.siting.kept import Kept

    with Kept.open(kept) as store:
        notes = list(store.notes)
    for note in notes:
        print(f"linkplan: {note}", file=sys.stderr, flush=True)
    if not notes:
        for ending in ("", "-wal", "-shm", "-journal"):
            kept.with_name(kept.name + ending).unlink(missing_ok=True)


class _Watch:
    """Passes progress on, and remembers how far the places are."""

    def __init__(self, status: StatusLine) -> None:
        self._status = status
        self._done = self._missing = 0
        self._places_done = False

    def __call__(self, stage: str, share: float) -> None:
        if stage != PLACES:
            self._places_done = True
        elif share > 0.0:
            # told after every place: the first time the share is one of those that were missing
            self._missing = self._missing or round(1.0 / share)
            self._done = round(share * self._missing)
        self._status(stage, share)

    def left_off(self, places: int, kept: Path) -> str:
        """What an interrupt leaves behind."""
        if self._places_done:
            done = f"all {places} places are"
        elif self._done:
            done = f"{places - self._missing + self._done} of {places} places are"
        else:
            done = f"none of the {places} places was finished by now; what earlier runs finished is"
        return f"interrupted; {done} kept in {kept}: the same command goes on from there"


def _drawn(found: Search, status: StatusLine) -> tuple[Plan, tuple[CoverageMap, CoverageSummary] | None]:
    """The job as the maps show it, and the coverage of the winner or of all set-ups."""
    from dataclasses import replace

    from linkplan.coverage.summary import summarize
    from linkplan.siting.together import with_candidate
    from linkplan.study import run as run_study

    plan, result = found.plan, found.result
    if found.combined is not None:
        # the set-ups' baseline limits are in the classes already; one circle around one place would mislead
        together = replace(plan, goal=replace(plan.goal, baseline_limit_m=None))
        coverage = found.combined.coverage
        return together, (coverage, summarize(together, coverage))
    if result.winner is None:
        return plan, None
    study = run_study(with_candidate(plan, result.winner), status)
    return study.plan, (study.coverage, study.summary)


def _clear_pictures(folder: Path, written: set[str]) -> list[str]:
    """Take away pictures of an earlier answer beside which there are none now; their names."""
    removed = []
    for name in sorted({"map.html", "map.png", "curve.png"} - written):
        with suppress(OSError):
            (folder / name).unlink()
            removed.append(name)
    return removed


def _write_base(plan: Plan, result: SitingResult, options: argparse.Namespace) -> list[dict[str, str]] | None:
    """Fill the winner, or set-up K, into the job file; the lines that changed, None without a winner."""
    from linkplan.plan.write import base_choice, write_base

    candidate = _chosen(result, options)
    if candidate is None:
        return None
    choice = base_choice(
        plan, candidate.place, candidate.antenna_height_m, candidate.power_dbm, candidate.antenna.name
    )
    before = options.job.read_text(encoding="utf-8-sig").splitlines()
    write_base(options.job, choice, plan.job_hash)
    after = options.job.read_text(encoding="utf-8-sig").splitlines()
    words = {"-": "was", "+": "now"}
    return [{words[line[0]]: line[2:].strip()} for line in difflib.ndiff(before, after) if line[0] in words]


def _chosen(result: SitingResult, options: argparse.Namespace) -> Candidate | None:
    if options.set_up is None:
        return result.winner.candidate if result.winner is not None else None
    set_ups = result.together.set_ups if result.together is not None else ()
    for one in set_ups:
        if one.order == options.set_up:
            if one.role == "repeater":
                raise OutputError(
                    f"--set-up {options.set_up}: {one.candidate.place.name} is a repeater, the base is "
                    f"set-up 1; {options.job} is left as it is"
                )
            return one.candidate
    raise OutputError(
        f"--set-up {options.set_up}: there are set-ups 1 to {len(set_ups)}; {options.job} is left as it is"
        if set_ups
        else f"--set-up {options.set_up}: no set-ups were found; {options.job} is left as it is"
    )


def _change_lines(job: Path, changed: list[dict[str, str]]) -> list[str]:
    if not changed:
        return [f"{job} says so already: nothing was changed"]
    lines = [f"  {word}: {text}" for one in changed for word, text in one.items()]
    return [f"changed in {job}:", *lines]


def _whole(text: str) -> int:
    """A whole number from 1, for argparse."""
    if not re.fullmatch("0*[1-9][0-9]{0,8}", text, re.ASCII):
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 1")
    return int(text)
