"""Kept results come back to the last bit; neither damage nor company nor a full disk falsifies any."""

from __future__ import annotations

import math
import sqlite3
import threading
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS

from linkplan.errors import OutputError
from linkplan.siting import kept as kept_module
from linkplan.siting.kept import Kept, content_key
from linkplan.siting.piece import Result

KEY = content_key(place=1)
NUMBERS = {"third": 1 / 3, "none": None, "names": ["\u00e9", "a\nb"], "huge": 10**30, "endless": math.inf}
ARRAYS = {
    "noise": np.random.default_rng(5).normal(size=(70, 11)).astype(np.float32),
    "flat": np.full((40, 50), np.nan),
    "turned": np.arange(12, dtype=">i2").reshape(3, 4).T,
    "seen": np.array([True, False]),
    "none": np.empty((0, 3), np.uint8),
    "single": np.array(2.5),
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "made" / "places.kept"


def change(path: Path, statement: str, *values: Any) -> None:
    """Do to the file what linkplan would not."""
    database = sqlite3.connect(path)
    with database:
        database.execute(statement, values)
    database.close()


def test_results_come_back_to_the_last_bit(path: Path) -> None:
    with Kept.open(path) as kept:
        kept.put(KEY, ({}, {}))
        kept.put(KEY, (NUMBERS, ARRAYS))
        assert kept.notes == []
    with Kept.open(path) as kept:
        found = kept.get(KEY)
        assert kept.get(content_key(place=2)) is None
    assert found is not None
    assert found[0] == NUMBERS
    assert found[1].keys() == ARRAYS.keys()
    for name, array in ARRAYS.items():
        assert found[1][name].shape == array.shape
        assert found[1][name].tobytes() == array.astype(array.dtype.newbyteorder("<")).tobytes()
    assert path.stat().st_size < 40 * 50 * 8, "what is all the same takes little room"


@pytest.mark.parametrize(
    "result",
    [({}, {"words": np.array(["a"])}), ({}, {"things": np.array([None])}), ({"x": np.float32(1)}, {})],
)
def test_what_cannot_come_back_as_it_was_is_refused(path: Path, result: Result) -> None:
    with Kept.open(path) as kept, pytest.raises(TypeError):
        kept.put(KEY, result)


@settings(max_examples=30, deadline=None)
@given(where=st.floats(0.0, 1.0, exclude_max=True), bit=st.integers(0, 7))
def test_a_row_with_a_bit_changed_counts_as_not_there(
    where: float, bit: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("kept") / "places.kept"
    with Kept.open(path) as kept:
        kept.put(KEY, (NUMBERS, ARRAYS))
        kept.put("other", ({"sound": True}, {}))
    database = sqlite3.connect(path)
    ((content,),) = database.execute("SELECT content FROM results WHERE key = ?", (KEY,)).fetchall()
    database.close()
    damaged = bytearray(content)
    damaged[int(where * len(damaged))] ^= 1 << bit
    change(path, "UPDATE results SET content = ? WHERE key = ?", bytes(damaged), KEY)
    with Kept.open(path) as kept:
        assert kept.get(KEY) is None
        assert kept.get("other") == ({"sound": True}, {})


def test_a_row_under_another_key_counts_as_not_there(path: Path) -> None:
    with Kept.open(path) as kept:
        kept.put(KEY, ({}, {}))
    change(path, "UPDATE results SET key = 'moved'")
    with Kept.open(path) as kept:
        assert kept.get("moved") is None


@pytest.mark.parametrize(
    "content", [b"x", b"[job]\nname = 'mine'\n", b"SQLite format 3\0", b"SQLite format 3\0" * 999]
)
def test_a_file_that_is_not_ours_is_refused_and_left_as_it_is(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(content)
    with pytest.raises(OutputError, match="something else"):
        Kept.open(path)
    assert [file.read_bytes() for file in tmp_path.iterdir()] == [content]


def test_another_programs_database_is_refused_and_left_as_it_is(path: Path) -> None:
    path.parent.mkdir()
    change(path, "CREATE TABLE results (key, content, crc)")
    before = path.read_bytes()
    with pytest.raises(OutputError, match="something else"):
        Kept.open(path)
    assert [file.read_bytes() for file in path.parent.iterdir()] == [before]


def test_an_empty_file_is_begun(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    with Kept.open(path) as kept:
        kept.put(KEY, ({"n": 1}, {}))
        assert kept.get(KEY) == ({"n": 1}, {})
        assert kept.notes == []


def test_a_damaged_file_is_set_aside_and_keeping_goes_on(path: Path) -> None:
    with Kept.open(path) as kept:
        for number in range(50):
            kept.put(f"{number}", ({"n": number}, ARRAYS))
    content = bytearray(path.read_bytes())
    content[200:] = bytes(len(content) - 200)  # the head still says that it is ours
    path.write_bytes(content)
    with Kept.open(path) as kept:
        assert kept.get("7") is None
        kept.put("7", ({"n": 7}, {}))
        assert kept.get("7") == ({"n": 7}, {})
        assert "aside-1" in kept.notes[0]
    with Kept.open(path) as kept:
        assert kept.get("7") == ({"n": 7}, {})
        assert kept.notes == []


def test_results_of_another_version_are_dropped_with_a_word(path: Path) -> None:
    with Kept.open(path) as kept:
        kept.put(KEY, ({}, {}))
    change(path, "PRAGMA user_version = 99")
    with Kept.open(path) as kept:
        assert kept.get(KEY) is None
        assert "another version" in kept.notes[0]
        kept.put(KEY, ({}, {}))
        assert kept.get(KEY) is not None
    with Kept.open(path) as kept:
        assert kept.notes == []


@pytest.mark.parametrize("place", ["file/places.kept", "folder"])
def test_where_nothing_can_be_written_work_goes_on_with_a_note(tmp_path: Path, place: str) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "folder").mkdir()
    with Kept.open(tmp_path / place) as kept:
        kept.put(KEY, ({}, {}))
        assert kept.get(KEY) is None
        assert "not kept" in kept.notes[0]
    assert sorted(one.name for one in tmp_path.iterdir()) == ["file", "folder"]
    with Kept.open(None) as kept:
        kept.put(KEY, ({}, {}))
        assert kept.get(KEY) is None


def test_a_full_disk_is_told_and_costs_nothing_that_was_kept(path: Path) -> None:
    with Kept.open(path) as kept:
        kept.put(KEY, ({}, ARRAYS))
        assert kept._database is not None
        kept._database.execute("PRAGMA max_page_count = 1")  # SQLite then reports a full disk as it does one
        with pytest.raises(OutputError, match=r"places\.kept: .*full.*make room"):
            kept.put("more", ({}, {"much": np.random.default_rng(1).normal(size=100_000)}))
        assert kept.get(KEY) is not None


def test_several_runs_keep_in_one_file_at_once(path: Path) -> None:
    faults: list[BaseException] = []
    start = threading.Barrier(4)

    def keep(run: int) -> None:
        try:
            start.wait()
            with Kept.open(path) as kept:
                assert kept.notes == []
                for number in range(25):
                    kept.put(f"{run} {number}", ({"n": number}, ARRAYS))
        except BaseException as fault:
            faults.append(fault)

    runs = [threading.Thread(target=keep, args=(number,)) for number in range(4)]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert faults == []
    with Kept.open(path) as kept:
        assert all(kept.get(f"{run} {number}") for run in range(4) for number in range(25))


def test_a_file_that_has_grown_too_large_loses_its_oldest_results(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Kept.open(path) as kept:
        for number in (0, 1, 2, 3, 0):
            kept.put(f"{number}", ({}, ARRAYS))
    monkeypatch.setattr(kept_module, "MOST_BYTES", 10_000)
    with Kept.open(path) as kept:
        assert [kept.get(f"{number}") is None for number in range(4)] == [False, True, True, False]


class Kind(Enum):
    A = 1
    B = 2


@dataclass(frozen=True)
class Mast:
    height_m: float
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Pole:
    height_m: float
    names: tuple[str, ...] = ()


def test_equal_content_equal_key(tmp_path: Path) -> None:
    (tmp_path / "a.tif").write_bytes(b"heights")
    (tmp_path / "b.tif").write_bytes(b"heights")
    pairs: list[tuple[Any, Any]] = [
        ([1, 2.5, "x"], (1, 2.5, "x")),
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}),
        ({3, 1, 2}, frozenset((1, 2, 3))),
        (np.float64(0.1), 0.1),
        (np.arange(6.0).reshape(2, 3), np.asfortranarray(np.arange(6.0).reshape(2, 3)).astype(">f8")),
        (tmp_path / "a.tif", tmp_path / "b.tif"),
        (shapely.Point(1, 2), shapely.from_wkt("POINT (1 2)")),
        (CRS.from_epsg(32611), CRS.from_epsg(32611)),
        (Mast(2.0, ("a",)), Mast(2.0, ("a",))),
    ]
    for one, other in pairs:
        assert content_key(part=one) == content_key(part=other)
    assert content_key(a=1, b=2) == content_key(b=2, a=1)


def test_other_content_other_key(tmp_path: Path) -> None:
    (tmp_path / "a.tif").write_bytes(b"heights")
    (tmp_path / "b.tif").write_bytes(b"heighty")
    values: list[Any] = [
        None, False, 0, 0.0, "0", b"0", "", b"", [], {}, (0,), ("0",), (0, 0), ((0,), 0), (0, (0,)), {"0": 0},
        {0: 0}, ("a", "b"), ("ab",), (("a",), ("b",)), {"a": "b"}, Kind.A, Kind.B, Mast(2.0), Pole(2.0),
        Mast(2.0, ("a",)), Mast(math.nextafter(2.0, 3.0)), tmp_path / "a.tif", tmp_path / "b.tif", "a.tif",
        np.zeros(2), np.zeros(2, np.float32), np.zeros((2, 1)), np.zeros((1, 2)), np.zeros(3), set(),
        shapely.Point(1, 2), shapely.Point(1, 3), CRS.from_epsg(32611), CRS.from_epsg(32612), math.nan,
    ]  # fmt: skip
    assert len({content_key(part=value) for value in values}) == len(values)
    assert content_key(a=0) != content_key(b=0)


def test_no_key_is_made_of_what_may_change_unseen() -> None:
    with pytest.raises(TypeError, match=r"plan\.height\[1\]: no key can be made of a object"):
        content_key(plan={"height": [1, object()]})
