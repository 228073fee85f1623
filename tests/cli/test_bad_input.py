"""Bad input: exit code 2, one clear line a fault, nothing written."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import linkplan.study
from tests.cli.conftest import JobFolder, write_dem

COMMANDS = (("cover", "--out", "results"), ("plan", "--out", "results"), ("path", "--to", "501500,4199500"))


def refused(folder: JobFolder, *words: str, commands: tuple[tuple[str, ...], ...] = COMMANDS) -> None:
    """Every command refuses the job in one line that holds all the words, and leaves nothing behind."""
    before = folder.names()
    for command, *rest in commands:
        outcome = folder.run(command, "job.toml", *rest)
        assert outcome.code == 2, outcome
        assert outcome.out == ""
        lines = outcome.err.splitlines()
        assert len(lines) == 1, outcome.err
        for word in words:
            assert word in lines[0], f"{word!r} is not in {lines[0]!r}"
        assert "Traceback" not in outcome.err
        assert folder.names() == before


def test_missing_job_file(folder: JobFolder) -> None:
    folder.job.unlink()
    refused(folder, "job.toml")


def test_broken_toml(folder: JobFolder) -> None:
    folder.change('name = "small', 'name = "small\nmore')
    refused(folder, "job.toml", "line 2")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("power_w = 5.0", 'power_w = "5 W"', ("radio.power_w", "5 W")),
        ("power_w = 5.0", "power_w = 0", ("radio.power_w", "0")),
        ("frequency_mhz = 450.0", "frequency_mhz = 29.9", ("radio.frequency_mhz", "29.9", "30")),
        ("frequency_mhz = 450.0", "frequency_mhz = 6000.5", ("radio.frequency_mhz", "6000")),
        ("antenna_height = 5.0", "antenna_height = -5.0", ("base.antenna_height", "-5")),
        ("antenna_height = 5.0", "antena_height = 5.0", ("antena_height", "did you mean", "antenna_height")),
        ('"dem.tif"', '"demm.tif"', ("terrain.files", "demm.tif")),
        ("[500300.0, 4198300.0], ", "", ("boundary", "three corners")),
        (
            "[501700.0, 4199700.0], [500300.0, 4199700.0]",
            "[500300.0, 4199700.0], [501700.0, 4199700.0]",
            ("boundary.coordinates", "cross"),
        ),
    ],
)  # fmt: skip
def test_faults_of_the_job_file(folder: JobFolder, old: str, new: str, words: tuple[str, ...]) -> None:
    if new == "":  # a corner less leaves a triangle; two less leave no area
        folder.change(old, "")
        old = "[501700.0, 4198300.0], "
    folder.change(old, new)
    for command, *rest in COMMANDS:
        before = folder.names()
        outcome = folder.run(command, "job.toml", *rest)
        assert outcome.code == 2
        assert outcome.out == ""
        assert all(line.startswith("linkplan: job.toml: ") for line in outcome.err.splitlines()), outcome.err
        for word in words:
            assert word in outcome.err
        assert folder.names() == before


def test_all_faults_are_listed_at_once(folder: JobFolder) -> None:
    folder.change("power_w = 5.0", "power_w = 0")
    folder.change("antenna_height = 2.0", "antenna_height = 0")
    folder.change("frequency_mhz = 450.0", "frequency_mhz = 7000")
    outcome = folder.run("cover", "job.toml")
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 3
    for key in ("radio.power_w", "rover.antenna_height", "radio.frequency_mhz"):
        assert key in outcome.err


def test_base_outside_the_dem(folder: JobFolder) -> None:
    folder.change("position = [501000.0, 4199000.0]", "position = [503000.0, 4199000.0]")
    refused(folder, "base", "outside")


def test_base_on_missing_ground(folder: JobFolder) -> None:
    height = np.full((100, 100), 400.0)
    height[45:55, 45:55] = -9999.0
    write_dem(folder.path / "dem.tif", height=height)
    refused(folder, "base", "no data")


def test_job_outside_the_dem(folder: JobFolder) -> None:
    text = folder.job.read_text()
    folder.job.write_text(text.replace("41983", "41923").replace("41997", "41937"))
    refused(folder, "job", "outside", commands=COMMANDS[:2])


def test_dem_without_coordinate_system(folder: JobFolder) -> None:
    write_dem(folder.path / "dem.tif", crs=None)
    refused(folder, "dem.tif", "coordinate")


def test_truncated_dem(folder: JobFolder) -> None:
    dem = folder.path / "dem.tif"
    whole = dem.read_bytes()
    for kept in (0, 100, len(whole) // 2):
        dem.write_bytes(whole[:kept])
        refused(folder, "dem.tif")


def test_dem_that_is_no_raster(folder: JobFolder) -> None:
    (folder.path / "dem.tif").write_text("these are no heights")
    refused(folder, "dem.tif")


def test_boundary_smaller_than_a_cell(folder: JobFolder) -> None:
    text = folder.job.read_text()
    start = text.index("coordinates")
    end = text.index("\n", start)
    tiny = "[[501101.0, 4199101.0], [501102.0, 4199101.0], [501102.0, 4199102.0]]"
    folder.job.write_text(text[:start] + f"coordinates = {tiny}" + text[end:])
    refused(folder, "boundary", "terrain.cell_size", commands=COMMANDS[:2])


def test_no_such_point(folder: JobFolder) -> None:
    outcome = folder.run("path", "job.toml", "--to", "CP9")
    assert outcome.code == 2
    assert '"CP9"' in outcome.err
    assert "easting,northing" in outcome.err


@pytest.mark.parametrize("point", ["500000", "a,b", "1,2,3", "nan,4199000", "inf,1"])
def test_points_that_are_none(folder: JobFolder, point: str) -> None:
    outcome = folder.run("path", "job.toml", "--to", point)
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1


def test_output_folder_is_a_file(folder: JobFolder) -> None:
    (folder.path / "results").write_text("mine")
    refused(folder, "results", "file", commands=COMMANDS[:2])
    assert (folder.path / "results").read_text() == "mine"


def test_output_folder_cannot_be_made(folder: JobFolder) -> None:
    (folder.path / "blocked").write_text("a file where a folder should be")
    for command in ("cover", "plan"):
        outcome = folder.run(command, "job.toml", "--out", "blocked/results")
        assert outcome.code == 2
        assert "blocked/results" in outcome.err
        assert len(outcome.err.splitlines()) == 1


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_output_folder_not_writable(folder: JobFolder) -> None:
    closed = folder.path / "results"
    closed.mkdir(mode=0o500)
    refused(folder, "results", "not writable", commands=COMMANDS[:2])


def test_profile_of_an_unknown_kind(folder: JobFolder) -> None:
    outcome = folder.run("path", "job.toml", "--to", "501500,4199500", "--out", "profile.docx")
    assert outcome.code == 2
    assert "profile.docx" in outcome.err
    assert ".png" in outcome.err


@pytest.mark.parametrize("stage", ["job_grid", "compute_coverage", "summarize"])
def test_interrupted_run_leaves_nothing(
    folder: JobFolder, monkeypatch: pytest.MonkeyPatch, stage: str
) -> None:
    def interrupt(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(linkplan.study, stage, interrupt)
    refused(folder, "interrupted", commands=COMMANDS[:2])


def test_interrupted_while_writing_leaves_old_results_whole(
    folder: JobFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert folder.run("cover", "job.toml", "--out", "results").code in (0, 1)
    old = {file.name: file.read_bytes() for file in (folder.path / "results").iterdir()}
    import linkplan.outputs.vectors as vectors

    name: str = next(name for name in vars(vectors) if name.startswith("write_"))

    def interrupt(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(vectors, name, interrupt)
    patch_users(monkeypatch, name, interrupt)
    outcome = folder.run("cover", "job.toml", "--out", "results")
    assert outcome.code == 2
    assert {file.name: file.read_bytes() for file in (folder.path / "results").iterdir()} == old
    assert not [entry for entry in folder.names() if entry.endswith(".partial")]


def patch_users(monkeypatch: pytest.MonkeyPatch, name: str, function: Callable[..., None]) -> None:
    """Modules that took the function by name have it replaced too."""
    import linkplan.outputs.folder as users

    if hasattr(users, name):
        monkeypatch.setattr(users, name, function)


def test_new_does_not_overwrite(folder: JobFolder) -> None:
    text = folder.job.read_text()
    outcome = folder.run("new", "job.toml")
    assert outcome.code == 2
    assert "job.toml" in outcome.err
    assert folder.job.read_text() == text


def test_new_into_no_folder(folder: JobFolder) -> None:
    outcome = folder.run("new", str(Path("nowhere") / "job.toml"))
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1


def test_unknown_command_and_missing_arguments(folder: JobFolder) -> None:
    for arguments in (("fly",), ("cover",), ("path", "job.toml"), ()):
        with pytest.raises(SystemExit) as stopped:
            folder.run(*arguments)
        assert stopped.value.code == 2
