"""Whole files or none: whatever goes wrong, one clear line and the folder as it was."""

from __future__ import annotations

import os
import resource
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from linkplan.coverage.results import LinkResult
from linkplan.errors import OutputError
from linkplan.outputs.figures import write_map_figure, write_profile
from linkplan.outputs.files import replacing, write_file
from linkplan.outputs.kml import write_kml
from linkplan.outputs.raster import write_geotiff
from linkplan.outputs.shapes import class_areas
from linkplan.outputs.vectors import write_geojson, write_geopackage, write_places_geojson
from linkplan.outputs.webmap import write_webmap

Writer = Callable[[tuple, LinkResult, Path], Path]

WRITERS: dict[str, Writer] = {
    "a.tif": lambda case, _, path: write_geotiff(case[0], case[1], path),
    "a.gpkg": lambda case, _, path: write_geopackage(*case, class_areas(case[1]), path),
    "a.geojson": lambda case, _, path: write_geojson(class_areas(case[1]), case[1], path),
    "p.geojson": lambda case, _, path: write_places_geojson(*case, path),
    "a.kml": lambda case, _, path: write_kml(*case, class_areas(case[1]), path),
    "a.html": lambda case, _, path: write_webmap(*case, class_areas(case[1]), path),
    "a.png": lambda case, _, path: write_map_figure(*case, class_areas(case[1]), path),
    "b.svg": lambda case, link, path: write_profile(case[0], link, path),
}


@contextmanager
def files_no_larger_than(size: int) -> Iterator[None]:
    """A full disk, as far as a program can tell: writing fails beyond `size` bytes of a file."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("name", WRITERS)
def test_full_disk_leaves_the_old_file(
    case: tuple, link: LinkResult, tmp_path: Path, name: str, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / name
    path.write_text("from the last run")
    with pytest.raises(OutputError) as caught, files_no_larger_than(1000):
        WRITERS[name](case, link, path)
    capfd.readouterr()  # the drivers complain on their own
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(f"{path}: cannot be written")
    assert path.read_text() == "from the last run"
    assert [one.name for one in tmp_path.iterdir()] == [name]


def test_geopackage_is_whole_or_refused_at_any_size(
    case: tuple, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    plan, coverage, summary = case
    areas = class_areas(coverage)
    whole = write_geopackage(plan, coverage, summary, areas, tmp_path / "whole.gpkg").read_bytes()
    path = tmp_path / "a.gpkg"
    for size in range(4096, len(whole), 8192):
        with pytest.raises(OutputError), files_no_larger_than(size):
            write_geopackage(plan, coverage, summary, areas, path)
        assert not path.exists()
    capfd.readouterr()


@pytest.mark.parametrize("name", WRITERS)
def test_missing_folder_is_said(case: tuple, link: LinkResult, tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match="the folder does not exist"):
        WRITERS[name](case, link, tmp_path / "nowhere" / name)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_folder_that_is_not_writable_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="the folder is not writable"):
        write_file(tmp_path / "a.txt", "x")
    tmp_path.chmod(0o700)


def test_folder_of_the_file_s_name_is_said(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(OutputError, match="there is a folder of that name"):
        write_file(tmp_path / "a.txt", "x")
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


@pytest.mark.parametrize("fault", [KeyboardInterrupt(), MemoryError(), OutputError("as said below")])
def test_interruption_passes_on_and_leaves_nothing(tmp_path: Path, fault: BaseException) -> None:
    path = tmp_path / "a.txt"

    def begin_and_fail() -> None:
        with replacing(path) as place:
            place.write_text("half")
            raise fault

    with pytest.raises(type(fault)):
        begin_and_fail()
    assert list(tmp_path.iterdir()) == []


def test_text_is_utf_8_with_line_feeds(tmp_path: Path) -> None:
    assert write_file(tmp_path / "a.txt", "Süd\n−1\n").read_bytes() == "Süd\n−1\n".encode()
