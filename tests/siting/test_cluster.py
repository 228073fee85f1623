"""A cluster gives the same bits as one process, whichever workers die or join; one line where it fails."""

from __future__ import annotations

import json
import os
import pickle
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linkplan.errors import PlaceError, WorkError
from linkplan.siting import cluster as cluster_module
from linkplan.siting.alike import surroundings, version_difference
from linkplan.siting.cluster import run_on_cluster
from linkplan.siting.cluster_worker import Carried
from linkplan.siting.kept import Kept
from linkplan.siting.piece import Failure, Result, Work
from linkplan.siting.work import run_items
from tests.siting.pieces import Notes, bits, compute, prepare, wait_for

ROOT = Path(__file__).parents[2]
QUICK = {
    "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1",
    "DASK_DISTRIBUTED__WORKER__PROFILE__ENABLED": "False",
}


@contextmanager
def program(folder: Path, module: str, *words: str, path: str = "") -> Iterator[subprocess.Popen[bytes]]:
    """One of dask's own commands on loopback, its log in the folder; ended with the block."""
    settings = os.environ | QUICK | {"PYTHONPATH": f"{path}{os.pathsep}{ROOT}".strip(os.pathsep)}
    with (folder / f"{module}.log").open("ab") as log:
        command = [sys.executable, "-m", f"distributed.cli.dask_{module}", *words, "--no-dashboard"]
        process = subprocess.Popen(command, env=settings, stdout=log, stderr=log)
    try:
        yield process
    finally:
        process.terminate()
        process.wait(20.0)


@contextmanager
def scheduler(folder: Path) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """A scheduler without workers: its address."""
    about = folder / "scheduler.json"
    words = ("--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(about), "--no-show")
    with program(folder, "scheduler", *words) as process:
        wait_for("scheduler", lambda: about.exists() and about.read_text().endswith("}"))
        yield json.loads(about.read_text())["address"], process


def worker(folder: Path, address: str, path: str = "") -> Any:
    """One worker of one thread with a nanny, which starts it again when it dies."""
    words = ("--host", "127.0.0.1", "--nthreads", "1", "--local-directory", str(folder / "workers"))
    return program(folder, "worker", address, *words, path=path)


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A cluster of two workers."""
    folder = tmp_path_factory.mktemp("cluster")
    with ExitStack() as stack:
        where, _ = stack.enter_context(scheduler(folder))
        for _ in range(2):
            stack.enter_context(worker(folder, where))
        yield where


@pytest.fixture
def notes(tmp_path: Path) -> Notes:
    (tmp_path / "marks").mkdir()
    return Notes(np.linspace(0.1, 77.7, 1000), tmp_path / "marks")


@pytest.fixture(autouse=True)
def _says_nothing(capfd: pytest.CaptureFixture[str]) -> Iterator[None]:
    """The library is noisy; a user sees none of it."""
    yield
    assert capfd.readouterr() == ("", "")


def run(
    address: str,
    notes: Notes,
    whats: list[str],
    keep: Callable[[str, Result], None] | None = None,
    patience_s: float = 20.0,
) -> Any:
    results: dict[str, Result] = {}
    shares: list[float] = []
    run_on_cluster(
        address, [(what, what) for what in whats], notes, prepare=prepare, compute=compute,
        on_result=keep or results.__setitem__, progress=shares.append, patience_s=patience_s,
    )  # fmt: skip
    assert shares == [(n + 1) / len(whats) for n in range(len(whats))]
    return bits(results)


def test_same_bits_as_from_one_process_though_a_worker_dies_midway(address: str, notes: Notes) -> None:
    whats = ["a", "bb", "dies once c", *(f"slow {n}" for n in range(6)), "f" * 6]
    found = run(address, notes, whats)
    assert len(notes.of("dies once c")) == 2
    assert found.keys() == set(whats)
    assert len(notes.of("prepare")) == len(set(notes.of("prepare"))) >= 2, "sent and prepared once a worker"
    assert len(notes.of("threads 1")) == len(notes.of("prepare")), "a core for each worker's thread"
    alone: dict[str, Result] = {}
    run_items(
        [(what, what) for what in whats], notes,
        prepare=prepare, compute=compute, processes=1, on_result=alone.__setitem__,
    )  # fmt: skip
    assert found == bits(alone)


def test_what_is_done_is_kept_when_interrupted(address: str, notes: Notes, tmp_path: Path) -> None:
    def interrupt() -> None:
        wait_for("work under way", lambda: notes.of("slow f"))
        os.kill(os.getpid(), signal.SIGINT)

    whats = ["a", "bb", *(f"slow {n}" for n in "cdefghijkl")]
    other = threading.Thread(target=interrupt)
    with Kept.open(tmp_path / "kept") as kept:
        other.start()
        with pytest.raises(KeyboardInterrupt):
            run(address, notes, whats, kept.put)
        other.join()
        done = [what for what in whats if kept.get(what) is not None]
        assert 0 < len(done) < len(whats)
        run(address, notes, [what for what in whats if what not in done], kept.put)
        assert all(kept.get(what) for what in whats)
    assert {len(notes.of(what)) for what in done} == {1}


def test_errors_come_out_as_they_are(address: str, notes: Notes) -> None:
    with pytest.raises(PlaceError, match=r"^no place, 7 km off$"):
        run(address, notes, ["a", "no place", "slow"])
    with pytest.raises(ZeroDivisionError, match="by nothing"):
        run(address, notes, ["wrong"])
    with pytest.raises(PlaceError, match=r"^nothing there$"):
        run(address, replace(notes, trouble="nothing there"), ["a"])


def test_an_item_that_always_kills_its_worker_is_named(address: str, notes: Notes) -> None:
    with pytest.raises(WorkError, match=r"^dies always: given up, for the workers") as caught:
        run(address, notes, ["dies always"])
    assert "\n" not in str(caught.value)
    assert len(notes.of("dies always")) == 2, "as the scheduler allows"


def test_workers_that_are_missing_unlike_or_late_and_a_scheduler_that_goes(
    notes: Notes, tmp_path: Path
) -> None:
    other = tmp_path / "other" / "numpy-1.0.dist-info"
    other.mkdir(parents=True)
    (other / "METADATA").write_text("Metadata-Version: 2.1\nName: numpy\nVersion: 1.0\n")
    with scheduler(tmp_path) as (address, process):
        with pytest.raises(WorkError, match=r"has had no worker for 0\.5 s; start some"):
            run(address, notes, ["a"], patience_s=0.5)
        words = r"^worker tcp://127\.0\.0\.1:\d+ has numpy 1\.0, here it is .*; install the same there"
        with worker(tmp_path, address, path=str(other.parent)), pytest.raises(WorkError, match=words):
            run(address, notes, ["a"])
        with ExitStack() as stack:
            late = threading.Timer(0.5, lambda: stack.enter_context(worker(tmp_path, address)))
            late.start()
            assert run(address, notes, ["a", "bb"]).keys() == {"a", "bb"}
            late.join()
            # the only worker dies, and with it all that was sent
            assert run(address, notes, ["c", "dies once d", "e"]).keys() == {"c", "dies once d", "e"}
            threading.Timer(0.5, process.kill).start()
            with pytest.raises(WorkError, match=r"the scheduler at 'tcp:.*' was lost .*run again"):
                run(address, notes, [f"slow {number}" for number in range(50)])
            assert notes.of("slow 0")


@pytest.mark.parametrize(
    "address", ["", "crew", "127.0.0.1", "127.0.0.1:port", "http://127.0.0.1:8787", "tls://127.0.0.1:8786"]
)
def test_an_address_that_is_none(notes: Notes, address: str) -> None:
    with pytest.raises(WorkError, match=r"^no scheduler of a cluster .* write host:port"):
        run(address, notes, ["a"])


@pytest.mark.parametrize("listening", [False, True])
def test_an_address_where_no_scheduler_is(
    notes: Notes, listening: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster_module, "CONNECT_S", 0.3)
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        if listening:
            other.listen()
        address = f"127.0.0.1:{other.getsockname()[1]}"
        with pytest.raises(WorkError, match=f"no scheduler of a cluster can be reached at '{address}'"):
            run(address, notes, ["a"])


def test_without_the_library_one_line_says_how_to_get_it(
    notes: Notes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(WorkError, match=r"pip install 'linkplan\[cluster\]'"):
        run("127.0.0.1:8786", notes, ["a"])


def test_a_worker_with_other_sources_refuses_before_it_computes(notes: Notes, tmp_path: Path) -> None:
    work = pickle.dumps(Work(notes, prepare, compute))
    carried = pickle.loads(pickle.dumps(Carried(work, replace(surroundings(), code="other"))))
    said = carried.attempt("a", "tcp://10.0.0.7:40001", tmp_path)
    assert isinstance(said, Failure)
    assert str(said.error).startswith("worker tcp://10.0.0.7:40001 has other sources of linkplan")
    assert notes.of("a") == []
    sound = Carried(work, surroundings())
    assert not isinstance(sound.attempt("a", "tcp://10.0.0.7:40001", tmp_path), Failure)
    assert len(list(tmp_path.glob("linkplan-*"))) == 1
    del sound
    assert list(tmp_path.glob("linkplan-*")) == [], "its files go with it"


def test_what_makes_numbers_differ_is_named() -> None:
    here = {"linkplan": "1", "numpy": "2.0"}
    assert version_difference(here, {"linkplan": "1", "numpy": "2.0", "other": "7"}) == ""
    assert version_difference(here, {"linkplan": "1", "numpy": "2.1"}) == "has numpy 2.1, here it is 2.0"
    assert version_difference(here, {"linkplan": None, "numpy": "2.0"}) == "has no linkplan"
    assert surroundings().versions["numpy"] == np.__version__
