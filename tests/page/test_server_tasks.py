"""Questions that may take long: the same answers as the commands, told as they come, ended when unwanted."""

from __future__ import annotations

import base64
import gc
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from linkplan.airtime.check import check_air_time
from linkplan.errors import PlaceError
from linkplan.outputs.air_time_text import air_time_text
from linkplan.page import drops as dropping
from linkplan.page import siting_task
from linkplan.page.app import Page
from linkplan.page.drops import Drops
from linkplan.page.jobs import JobFolder, OpenJob
from linkplan.page.tasks import ABANDONED_AFTER_S, FORGOTTEN_AFTER_S
from linkplan.page.words import RequestError
from linkplan.plan.reader import read_plan
from linkplan.siting.search import search
from tests.page.small_site import Browser

PATIENCE_S = 30.0
SAMPLES = Path(__file__).resolve().parents[2] / "dem_samples"


def plan_of(site: Browser) -> Any:
    return read_plan(site.page.folder.folder / "site.toml")


def drop(site: Browser, name: str, content: bytes, tab: str = "tab-1") -> Any:
    return site.post(f"api/job/site.toml/drop?tab={tab}&name={name}", content)


def test_air_time_is_that_of_the_command(read_only: Browser) -> None:
    found = read_only.task(kind="airtime")
    answer = check_air_time(plan_of(read_only))
    assert found["state"] == "done"
    assert found["result"]["text"] == air_time_text(answer)
    assert found["result"]["good"] == answer.fits


def test_a_forms_values_are_asked_with_and_reach_no_file(read_only: Browser) -> None:
    path = read_only.page.folder.folder / "site.toml"
    before = path.read_bytes()
    messages = [{"number": 1077, "interval_s": 0.2, "satellites": 30, "signals": 4}]
    found = read_only.task(kind="airtime", values={"corrections.messages": messages})
    assert found["state"] == "done"
    assert not found["result"]["good"], "five times a second 30 satellites do not fit 9600 bit/s"
    assert read_only.task(kind="airtime")["result"]["good"]
    assert path.read_bytes() == before


def test_faults_come_back_under_the_fields_keys(read_only: Browser) -> None:
    messages = [{"number": 1074, "interval_s": 1, "satellites": 10, "signals": 2}]
    values = {
        "corrections.messages": [messages[0], {"number": "x"}],
        "framing.preset": "no such", "corrections.station_id": 99_999,
    }  # fmt: skip
    found = read_only.task(kind="airtime", values=values)
    assert found["state"] == "failed"
    keys = {one["key"] for one in found["error"]["faults"]}
    assert {"corrections.messages[2].number", "corrections.messages[2].interval_s", "framing.preset"} <= keys
    assert "corrections.station_id" in keys
    fields = {one["key"] for one in read_only.get("api/job/site.toml/form/airtime").json()["fields"]}
    assert {key.partition("[")[0] for key in keys} <= fields


def test_a_form_shows_what_stands_in_the_file(read_only: Browser) -> None:
    form = read_only.get("api/job/site.toml/form/airtime").json()
    fields = {one["key"]: one for one in form["fields"]}
    assert fields["framing.preset"]["value"] == "generic-9600"
    assert "generic-9600" in fields["framing.preset"]["choices"]
    assert fields["corrections.messages"]["value"][0]["number"] == 1074
    assert [one["name"] for one in fields["corrections.messages"]["inner"]][:2] == ["number", "interval_s"]
    channels = read_only.get("api/job/site.toml/form/channels").json()
    keys = {one["key"] for one in channels["fields"]}
    assert {"radio.power_w", "others", "heard"} <= keys
    assert "radio.antenna_pattern" not in keys, "no path of a file is edited on the page"


@pytest.mark.parametrize(
    "values", [[], {"job.name": "x"}, {"terrain.files": ["/etc/passwd"]}, {"framing": {}}]
)
def test_values_that_no_form_has_are_refused(read_only: Browser, values: Any) -> None:
    body = {"tab": "t", "kind": "airtime", "values": values}
    assert read_only.post("api/job/site.toml/tasks", body).status_code == 400


def test_values_nested_without_end_are_refused(read_only: Browser) -> None:
    deep: Any = 1
    for _ in range(50):
        deep = [deep]
    body = {"tab": "t", "kind": "airtime", "values": {"corrections.messages": deep}}
    assert read_only.post("api/job/site.toml/tasks", body).status_code == 400


def test_channels_and_safety_answer(read_only: Browser) -> None:
    channels = read_only.task(kind="channels", date="2027-05-01")
    assert channels["state"] == "done"
    assert not channels["result"]["good"], "without licence data nothing is permitted"
    safety = read_only.task(kind="safety")
    assert safety["state"] == "done"
    assert "safety around the base" in safety["result"]["text"]
    for day in ("yesterday", "2027-13-01", 20270501):
        body = {"tab": "t", "kind": "channels", "date": day}
        assert read_only.post("api/job/site.toml/tasks", body).status_code == 400


def test_a_search_tells_places_as_they_come_and_ranks_as_the_command(
    read_only: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All places are in the store when the search itself begins: none is computed twice."""
    told: list[int] = []
    real = siting_task.search

    def watched(*given: Any) -> Any:
        found = real(*given)
        told.append(found.result.kept)
        return found

    monkeypatch.setattr(siting_task, "search", watched)
    found = read_only.task(kind="siting")
    assert found["state"] == "done", found["error"]
    result = search(plan_of(read_only)).result
    assert told[0] >= 3
    assert [one["place"] for one in found["items"]] == ["P1", "P2", "P3"]
    ranking = found["result"]["ranking"]
    assert [one["number"] for one in ranking] == list(result.ranking)
    for one in ranking:
        judged = result.judged[one["number"] - 1]
        assert one["place"] == judged.candidate.place.name
        assert one["covered_share"] == judged.outcome.covered_share
        item = next(item for item in found["items"] if item["place"] == one["place"])
        assert item["covered_share"] == one["covered_share"]
    head, _ = read_only.cover(set_up=ranking[0]["set_up"])
    assert head["answer"]["covered_share"] == pytest.approx(ranking[0]["covered_share"])


def test_only_the_items_that_are_asked_for_come(read_only: Browser) -> None:
    found = read_only.task(kind="siting")
    later = read_only.get(f"api/tasks/{found['task']}?after=2").json()
    assert [one["place"] for one in later["items"]] == ["P3"]
    assert later["items_from"] == 2


class Stuck:
    """A search of which each place takes until it is let go."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.entered, self.open = threading.Event(), threading.Event()
        real = siting_task.run_tasks

        def waits(*given: Any) -> Any:
            self.entered.set()
            while not self.open.wait(0.005):
                given[3](0.0)
            return real(*given)

        monkeypatch.setattr(siting_task, "run_tasks", waits)


def test_a_search_can_be_cancelled(site: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    stuck = Stuck(monkeypatch)
    begun = site.post("api/job/site.toml/tasks", {"tab": "t", "kind": "siting"}).json()
    assert begun["state"] == "running"
    assert stuck.entered.wait(PATIENCE_S)
    assert site.get("api/tabs/t").json()["tasks"] == [begun["task"]]
    ended = site.post(f"api/tasks/{begun['task']}/cancel", {}).json()
    assert ended["state"] == "cancelled"
    assert site.get("api/tabs/t").json() == {"running": [], "tasks": []}
    assert not site.cover()[0]["stale"]


def test_a_search_does_not_keep_the_map_waiting(site: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    stuck = Stuck(monkeypatch)
    begun = site.post("api/job/site.toml/tasks", {"tab": "t", "kind": "siting"}).json()
    assert stuck.entered.wait(PATIENCE_S)
    assert site.cover()[0]["answer"]
    assert site.task(kind="airtime")["state"] == "done"
    stuck.open.set()
    while begun["state"] == "running":
        begun = site.get(f"api/tasks/{begun['task']}?after=0").json()
    assert begun["state"] == "done"


def test_a_newer_search_of_the_tab_and_a_tab_that_leaves_end_the_older(
    site: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    stuck = Stuck(monkeypatch)
    body = {"tab": "t", "kind": "siting"}
    first = site.post("api/job/site.toml/tasks", body).json()
    assert stuck.entered.wait(PATIENCE_S)
    second = site.post("api/job/site.toml/tasks", body).json()
    assert site.get(f"api/tasks/{first['task']}?after=0").json()["state"] == "cancelled"
    site.post("api/tabs/t/leave", b"")
    end = time.monotonic() + PATIENCE_S
    while site.get(f"api/tasks/{second['task']}?after=0").json()["state"] == "running":
        assert time.monotonic() < end
    assert site.get(f"api/tasks/{second['task']}?after=0").json()["state"] == "cancelled"


def test_a_task_that_nobody_asks_about_ends_and_is_forgotten(
    site: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    stuck = Stuck(monkeypatch)
    begun = site.post("api/job/site.toml/tasks", {"tab": "t", "kind": "siting"}).json()
    assert stuck.entered.wait(PATIENCE_S)
    now = time.monotonic()
    site.page.tasks.look_round(now + ABANDONED_AFTER_S / 2)
    task = site.page.tasks.get(begun["task"])
    assert not task.work.answer.done()
    site.page.tasks.look_round(now + 2 * ABANDONED_AFTER_S)
    assert task.work.answer.result(PATIENCE_S) is None
    site.page.tasks.look_round(now + 2 * FORGOTTEN_AFTER_S)
    with pytest.raises(RequestError):
        site.page.tasks.get(begun["task"])


def test_a_job_without_siting_says_so(site: Browser) -> None:
    path = site.page.folder.folder / "site.toml"
    path.write_text(path.read_text().partition("[siting]")[0])
    assert not site.get("api/job/site.toml").json()["tasks"]["siting"]["available"]
    found = site.task(kind="siting")
    assert found["state"] == "failed"
    assert "there is no [siting]" in found["error"]["line"]


def test_a_task_that_fails_late_is_told_to_the_tab_alone(
    read_only: Browser, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def late(_task: Any, _tell: Any) -> Any:
        time.sleep(0.2)
        raise PlaceError("nowhere")

    monkeypatch.setattr("linkplan.page.app.POST_WAITS_S", 0.01)
    monkeypatch.setattr("linkplan.page.checks._safety", lambda *_: late)
    found = read_only.task(kind="safety")
    assert (found["state"], found["error"]["line"]) == ("failed", "nowhere")
    read_only.page.tasks.look_round(time.monotonic() + FORGOTTEN_AFTER_S + 1.0)
    gc.collect()  # an error that nobody has asked a future for is written to the terminal when it goes
    read_only.get("api/jobs")
    assert not caplog.records


def test_work_that_writes_while_it_ends_leaves_nothing_behind(tmp_path: Path) -> None:
    page, begun = Page(JobFolder(tmp_path)), threading.Event()

    def writes_last(task: Any, tell: Any) -> Any:
        try:
            begun.set()
            while True:
                tell("at work", 0.0)
                time.sleep(0.01)
        finally:
            time.sleep(0.2)
            task.file = page.tasks.scratch() / "kept"
            task.file.write_text("what is finished")

    task = page.tasks.start(OpenJob(tmp_path / "x.toml"), "tab", "siting", writes_last)
    assert begun.wait(10.0)
    page.close()
    assert task.file is not None
    assert not task.file.parent.parent.exists()


def test_a_list_without_end_is_no_value(read_only: Browser) -> None:
    body = {"tab": "t", "kind": "airtime", "values": {"corrections.messages": [1] * 100_000}}
    assert read_only.post("api/job/site.toml/tasks", body).status_code == 400


BASE = b"field,value,unit\nset,base A,\nrole,base,\ntransmit frequency,450.0,MHz\nstation_id,7,\n"
ROVER = b"field,value,unit\nset,rover 7,\nreceive frequency,450.0,MHz\nstation_id,7,\n"


def test_dropped_sheets_are_compared_and_faults_named(read_only: Browser) -> None:
    base = drop(read_only, "base.csv", BASE).json()
    rover = drop(read_only, "rover.csv", ROVER.replace(b"450.0", b"451.0")).json()
    assert (base["kind"], base["name"], base["faults"]) == ("sheet", "base.csv", [])
    assert (rover["set_names"], rover["role"], base["role"]) == (["rover 7"], "rover", "base")
    found = read_only.task(kind="agree", base=base["file"], rovers=[rover["file"]], with_job=False)
    assert found["state"] == "done", found["error"]
    assert not found["result"]["good"]
    assert "450" in found["result"]["text"]
    assert "451" in found["result"]["text"]
    assert "linkplan-page-" not in str(found["result"])
    alone = read_only.task(kind="agree", base=None, rovers=[rover["file"]], with_job=True)
    assert alone["state"] == "done", alone["error"]
    assert not alone["result"]["good"]
    wrong = drop(read_only, "wrong.csv", ROVER.replace(b"450.0,MHz", b"loud,MHz")).json()
    assert wrong["faults"][0]["file"] == "wrong.csv"
    assert wrong["faults"][0]["line"]
    failed = read_only.task(kind="agree", base=base["file"], rovers=[wrong["file"]], with_job=False)
    assert failed["state"] == "failed"
    assert failed["error"]["faults"][0]["file"] == "wrong.csv"
    nothing = read_only.task(kind="agree", base=base["file"], rovers=[], with_job=False)
    assert "nothing to compare" in nothing["error"]["line"]


def test_dropped_recordings_are_judged(read_only: Browser) -> None:
    log = drop(read_only, "rover.nmea", (SAMPLES / "basin_rover.nmea").read_bytes()).json()
    capture = drop(read_only, "base.rtcm3", (SAMPLES / "basin_capture.rtcm3").read_bytes()).json()
    assert (log["kind"], capture["kind"]) == ("log", "capture")
    judged = read_only.task(kind="log", file=log["file"])
    assert judged["state"] == "done", judged["error"]
    assert judged["result"]["answer"]
    heard = read_only.task(kind="capture", file=capture["file"])
    assert heard["state"] == "done", heard["error"]
    assert not heard["result"]["good"], "it is another job's stream"


@pytest.mark.parametrize(
    "content", [b"", b"\0" * 100, b"hello", base64.b64decode("iVBORw0KGgoAAAANSUhEUg==")]
)
def test_what_is_no_sheet_and_no_recording_is_said(read_only: Browser, content: bytes) -> None:
    found = drop(read_only, "x.bin", content).json()
    assert found["kind"] == "unknown"
    assert "neither" in found["line"]


@pytest.mark.parametrize(
    "name",
    ["../../evil.csv", "/etc/evil.csv", "..%5C..%5Cevil.csv", "a%2F..%2F..%2Fevil.csv", "...", "evil.csv"],
)
def test_a_dropped_name_leads_nowhere(site: Browser, name: str) -> None:
    found = drop(site, name, BASE).json()
    kept = site.page.drops.get(found["file"]).path
    assert kept.parent.parent == site.page.drops._folder
    assert "/" not in found["name"]
    assert not list(site.page.folder.folder.rglob("*evil*"))


def test_a_dropped_file_keeps_a_name_of_any_script(read_only: Browser) -> None:
    assert (
        drop(read_only, "%C3%9Cbersicht%20%E6%B8%AC%E9%87%8F.csv", BASE).json()["name"]
        == "Übersicht 測量.csv"
    )
    assert drop(read_only, "%E6%B8%AC" * 150 + ".csv", BASE).json()["name"].endswith("測.csv")


def test_dropped_files_are_bounded(monkeypatch: pytest.MonkeyPatch, site: Browser) -> None:
    monkeypatch.setattr(dropping, "MOST_FILES", 4)
    kept = Drops()
    try:
        files = [kept.take("job", f"{n}.csv", BASE)["file"] for n in range(10)]
        with pytest.raises(RequestError):
            kept.get(files[5])
        assert kept.get(files[6]).path.is_file()
        folder = kept._folder
        assert folder is not None
        assert len(list(folder.iterdir())) == 4
    finally:
        kept.close()
    assert not folder.exists()
    monkeypatch.setattr("linkplan.page.app.MOST_DROPPED", 1000)
    answer = drop(site, "large.csv", b"x" * 2000)
    assert answer.status_code == 413
    assert answer.json()["error"]["line"]


def test_a_file_that_is_gone_or_a_bad_request_is_refused(read_only: Browser) -> None:
    for body in (
        {"kind": "log", "file": "f-999"}, {"kind": "agree", "base": 7}, {"kind": "agree", "rovers": "x"},
        {"kind": "log"}, {"kind": "capture", "file": "f-999", "tolerance_m": "wide"},
        {"kind": "airtime", "x": 1},
    ):  # fmt: skip
        answer = read_only.post("api/job/site.toml/tasks", {"tab": "t", **body})
        assert answer.status_code in {400, 404}, body
    assert drop(read_only, "a.csv", BASE, tab="../x").status_code == 400
    assert read_only.get("api/tasks/none/file").status_code == 404
