"""The command `linkplan page`: its address, its end, and what it says where it cannot begin."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import httpx
import pytest

from linkplan.cli.main import main
from tests.page.small_site import browser, write_job

COMMAND = [sys.executable, "-m", "linkplan.cli.main", "page", "--no-browser"]


def started(folder: Path, *more: str) -> tuple[subprocess.Popen[str], str]:
    process = subprocess.Popen(
        [*COMMAND, *more], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2]), "TMPDIR": str(folder)},
    )  # fmt: skip
    assert process.stdout is not None
    found = re.search(r"http://127\.0\.0\.1:(\d+)/([A-Za-z0-9_-]{30,})/", process.stdout.readline())
    assert found is not None
    return process, found[0]


def ended(process: subprocess.Popen[str], sign: signal.Signals) -> tuple[int, str]:
    process.send_signal(sign)
    _, said = process.communicate(timeout=30.0)
    return process.returncode, said


@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_and_ends_cleanly(tmp_path: Path, sign: signal.Signals) -> None:
    write_job(tmp_path)
    process, address = started(tmp_path, "site.toml")
    with httpx.Client(trust_env=False, timeout=60.0) as client:
        assert client.get(f"{address}api/jobs").json()["opened"] == "site.toml"
        # in the middle of a computation too
        origin = "/".join(address.split("/")[:3])
        body = b'{"tab": "t", "kind": "siting"}'
        client.post(f"{address}api/job/site.toml/tasks", content=body, headers={"origin": origin})
    begun = time.monotonic()
    code, said = ended(process, sign)
    assert (code, said) == (0, "")
    assert time.monotonic() - begun < 20.0
    assert not list(tmp_path.glob(".*")), "nothing is left behind"
    assert not list(tmp_path.glob("linkplan-page-*")), "nor among the files of a moment"


def test_a_disk_that_hangs_does_not_keep_the_server_from_ending(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_job(tmp_path)
    site = browser(tmp_path)
    asked, held = threading.Event(), threading.Event()

    def hang() -> list[dict[str, Any]]:
        asked.set()
        held.wait(30.0)
        return []

    def ask() -> None:
        with contextlib.suppress(httpx.HTTPError):  # the server goes away
            site.get("api/jobs")

    monkeypatch.setattr(site.page.folder, "listed", hang)
    asking = threading.Thread(target=ask)
    asking.start()
    assert asked.wait(10.0)
    site.server.should_exit = True
    site.thread.join(10.0)
    over = not site.thread.is_alive()
    held.set()
    asking.join(30.0)
    site.close()
    assert over


def test_it_listens_on_the_loopback_alone_with_a_token_of_its_own(tmp_path: Path) -> None:
    write_job(tmp_path)
    one, first = started(tmp_path)
    other, second = started(tmp_path)
    try:
        assert first.split("/")[3] != second.split("/")[3]
        with httpx.Client(trust_env=False, timeout=60.0) as client:
            assert client.get(f"{first}api/jobs").json()["opened"] is None
        port = int(first.split(":")[2].split("/")[0])
        listening = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
        mine = {
            row[1].split(":")[0] for row in listening if row[1].endswith(f":{port:04X}") and row[3] == "0A"
        }
        assert mine == {"0100007F"}, "127.0.0.1 and nothing else"
    finally:
        ended(one, signal.SIGINT)
        ended(other, signal.SIGINT)


def test_what_stops_it_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["page", str(tmp_path / "none.toml"), "--no-browser"]) == 2
    assert "no such file" in capsys.readouterr().err
    write_job(tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["page", str(tmp_path / "site.toml"), "--no-browser", "--port", str(port)]) == 2
    said = capsys.readouterr().err
    assert f"--port {port}" in said
    assert "Traceback" not in said
    for name in ("SITE.TOML", "dem.tif", "<b>.toml", ".toml"):
        (tmp_path / name).write_text("")
        assert main(["page", str(tmp_path / name), "--no-browser"]) == 2
        assert f"{name}: the page opens job files that end with .toml" in capsys.readouterr().err
    for port in ("x", "-1", "65536", "1e3"):
        with pytest.raises(SystemExit):
            main(["page", "--port", port])
