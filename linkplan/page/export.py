"""Everything that `linkplan plan` makes, for the set-up on the page: as one archive, or beside the job."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from linkplan.outputs.files import Written
from linkplan.page.jobs import OpenJob
from linkplan.page.lanes import Tell
from linkplan.page.set_up import set_up_from, with_set_up
from linkplan.page.tasks import Task, TaskBook
from linkplan.page.words import RequestError, choice_of, only, text_of, yes_of
from linkplan.plan.model import Plan

Question = Callable[[Task, Tell], dict[str, Any]]


def export_question(book: TaskBook, job: OpenJob, body: Mapping[str, Any]) -> Question:
    """What to do for a request; RequestError, to ask the user, where the folder is there already."""
    only(body, "set_up", "to", "folder", "overwrite")
    set_up = set_up_from(body.get("set_up", {}))
    to = choice_of(body.get("to", "zip"), "to", ("zip", "folder"))
    target: Path | None = None
    if to == "folder":
        name = text_of(body.get("folder", f"{job.path.stem}-plan"), "folder", 100)
        target = _inside(job.path.parent, name)
        if target.exists() and not yes_of(body.get("overwrite", False), "overwrite"):
            raise RequestError(
                f"{name}: is there already; files of the same names in it would be replaced", 200, "exists"
            )

    def ask(task: Task, tell: Tell) -> dict[str, Any]:
        from linkplan.outputs.staging import staged_folder

        plan = with_set_up(job.plan(), set_up)
        if target is not None:
            with staged_folder(target) as stage:
                written = write_plan(plan, stage, tell)
            return {"folder": target.name, "files": _listed(written)}
        folder = book.scratch()
        inner = folder / "files"
        inner.mkdir()
        written = write_plan(plan, inner, tell)
        tell("packing", 0.0)
        archive = folder / f"{job.path.stem}-plan.zip"
        _pack(inner, archive, job.path.stem)
        task.file = archive
        return {"file": f"api/tasks/{task.name}/file", "name": archive.name, "files": _listed(written)}

    return ask


def write_plan(plan: Plan, folder: Path, tell: Tell) -> list[Written]:
    """The whole job into a folder, as the command does."""
    from linkplan import study as stages
    from linkplan.outputs.folder import write_all
    from linkplan.outputs.workable_words import work_of_study

    study = stages.run(plan, tell)
    tell("computing paths", 0.0)
    links = stages.telling_links(study)
    tell("writing files", 0.0)
    return write_all(plan, study.coverage, study.summary, links, folder, work_of_study(study))


def _inside(folder: Path, name: str) -> Path:
    """A folder's path beside the job; RequestError for any other."""
    if not name or name.startswith(".") or set(name) & set('/\\:*?"<>|') or name.strip() != name:
        raise RequestError("folder: one plain name is wanted; it is made beside the job file")
    path = folder.resolve() / name
    if path.resolve() != path:
        raise RequestError("folder: a link that leads elsewhere is not followed")
    return path


def _pack(folder: Path, archive: Path, stem: str) -> None:
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                packed.write(path, f"{stem}-plan/{path.relative_to(folder).as_posix()}")


def _listed(written: list[Written]) -> list[dict[str, str]]:
    return [{"name": one.path.name, "what": one.what} for one in written]
