"""Work shared out among processes: the same bits as in one, whoever dies, and nothing is left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linkplan.errors import LinkplanError, PlaceError, RangeError, WorkError
from linkplan.propagation.sweep_threads import worker_count
from linkplan.siting.kept import Kept
from linkplan.siting.piece import Result
from linkplan.siting.work import run_items
from tests.siting.pieces import Notes, bits, compute, gone, prepare, wait_for


@pytest.fixture
def notes(tmp_path: Path) -> Notes:
    return Notes(np.linspace(0.1, 77.7, 1000), tmp_path)


def run(notes: Notes, whats: list[str], processes: int, results: dict[int, Result] | None = None) -> Any:
    results = {} if results is None else results
    shares: list[float] = []
    run_items(
        list(enumerate(whats)), notes, prepare=prepare, compute=compute, processes=processes,
        on_result=results.__setitem__, progress=shares.append,
    )  # fmt: skip
    assert shares == [(n + 1) / len(whats) for n in range(len(whats))]
    return bits(results)


def test_same_bits_from_one_process_and_from_several_of_which_one_dies(notes: Notes) -> None:
    whats = ["a", "bb", "dies once c", "d" * 4, "slow", "f" * 6]
    several = run(notes, whats, processes=2)
    assert len(notes.of("dies once c")) == 2
    assert {len(notes.of(what)) for what in whats if "dies" not in what} == {1}, "only its own task is lost"
    assert len(notes.of("prepare")) == len(set(notes.of("prepare"))) >= 2, "once in each process"
    assert several == run(notes, whats, processes=1)
    # np.sin is numpy's own, so this is no more than that the arrays are what compute made
    assert several[0][1]["waves"][2] == (np.sin(notes.numbers * 2.0) / 3.0).tobytes()


def test_processes_share_the_cores(notes: Notes) -> None:
    run(notes, ["a", "bb"], processes=2)
    assert len(notes.of(f"threads {max(1, worker_count() // 2)}")) == len(notes.of("prepare"))


@pytest.mark.parametrize("processes", [1, 2])
def test_nothing_to_do(notes: Notes, processes: int) -> None:
    assert run(notes, [], processes) == {}
    assert notes.of("prepare") == []


@pytest.mark.parametrize("processes", [0, -1, 100_000])
def test_so_many_processes_make_no_sense(notes: Notes, processes: int) -> None:
    with pytest.raises(RangeError, match="processes = "):
        run(notes, ["a"], processes)


def test_a_task_that_always_kills_its_process_is_named(notes: Notes) -> None:
    whats = ["a", "bb", "dies always", "slow"]
    with pytest.raises(WorkError, match=r"^dies always: .*ended 3 times, the last time by SIGKILL"):
        run(notes, whats, processes=2)
    assert len(notes.of("dies always")) == 3


def test_processes_that_never_get_ready_are_told(notes: Notes) -> None:
    with pytest.raises(WorkError, match="3 processes ended before they were ready, the last by SIGKILL"):
        run(replace(notes, trouble="dies"), ["a", "bb"], processes=2)


@pytest.mark.parametrize("processes", [1, 2])
def test_errors_come_out_as_they_are(notes: Notes, processes: int) -> None:
    results: dict[int, Result] = {}
    with pytest.raises(PlaceError, match=r"^no place, 7 km off$"):
        run(notes, ["a", "slow", "no place", "slow"], processes, results)
    assert results.keys() >= {0}, "what was done before is not lost"
    with pytest.raises(LinkplanError, match=r"^job\.toml: base: is missing; add it$"):
        run(notes, ["bad job"] * 2, processes)
    with pytest.raises(ZeroDivisionError, match="by nothing") as caught:
        run(notes, ["wrong"] * 2, processes)
    if processes > 1:
        assert "in compute" in caught.value.__notes__[0], "where in the other process it came from"
    with pytest.raises(PlaceError, match=r"^nothing there$"):
        run(replace(notes, trouble="nothing there"), ["a"] * 2, processes)


def work_and_keep(folder: Path, whats: list[str]) -> None:
    """What a search does: take what is kept, compute the rest, keep it."""
    notes = Notes(np.linspace(0.1, 7.7, 100), folder / "marks")
    with Kept.open(folder / "kept") as kept:
        missing = [(what[-1], what) for what in whats if kept.get(what[-1]) is None]
        run_items(missing, notes, prepare=prepare, compute=compute, processes=2, on_result=kept.put)


@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGINT, 7), (signal.SIGTERM, 143), (signal.SIGKILL, -9)]
)
def test_ended_from_outside_it_keeps_what_is_done_and_leaves_nothing_behind(
    tmp_path: Path, number: signal.Signals, code: int
) -> None:
    for name in ("marks", "scratch"):
        (tmp_path / name).mkdir()
    notes = Notes(np.zeros(0), tmp_path / "marks")
    program = (
        "import sys; from pathlib import Path; from tests.siting.test_work import work_and_keep\n"
        "try: work_and_keep(Path(sys.argv[1]), ['a', 'b', 'endless c', 'endless d', 'e'])\n"
        "except KeyboardInterrupt: sys.exit(7)"
    )
    root = Path(__file__).parents[2]
    surroundings = os.environ | {"TMPDIR": str(tmp_path / "scratch"), "PYTHONPATH": str(root)}
    with subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path)],
        env=surroundings, stderr=subprocess.PIPE, start_new_session=True,
    ) as parent:  # fmt: skip
        wait_for("both processes at work", lambda: notes.of("endless c") and notes.of("endless d"))
        workers = {int(pid) for pid in notes.of("prepare")}
        assert len(workers) == 2
        assert len(list((tmp_path / "scratch").iterdir())) == 1
        time.sleep(0.2)
        began = time.monotonic()
        if number == signal.SIGINT:
            os.killpg(parent.pid, number)  # as a terminal does
        else:
            parent.send_signal(number)
        assert parent.wait(10.0) == code
        wait_for("all processes gone", lambda: all(gone(pid) for pid in workers), 5.0)
        assert time.monotonic() - began < 5.0
        assert parent.stderr is not None
        assert parent.stderr.read() == b""
    assert list((tmp_path / "scratch").iterdir()) == []
    work_and_keep(tmp_path, ["a", "b", "c", "d", "e"])
    assert [len(notes.of(what)) for what in ("a", "b", "c", "d", "e")] == [1] * 5
    with Kept.open(tmp_path / "kept") as kept:
        assert all(kept.get(key) for key in "abcde")
