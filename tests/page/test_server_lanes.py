"""Whose computation comes next: the newest of a tab, tabs in turn, and nothing for those who have gone."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from linkplan.page.lanes import Lane, Lanes, Tell, Work
from linkplan.page.words import StoppedError
from tests.page.small_site import TOKEN, Browser, frames

PATIENCE_S = 20.0


@pytest.fixture
def lane() -> Iterator[Lane]:
    found = Lane("test")
    yield found
    found.close()


class Gate:
    """Work that waits until it is let go, looking every moment whether it is still wanted."""

    def __init__(self) -> None:
        self.entered, self.open = threading.Event(), threading.Event()

    def __call__(self, tell: Tell) -> str:
        self.entered.set()
        while not self.open.wait(0.005):
            tell("waiting", 0.5)
        return "done"


def work(
    tab: str, serial: int, run: Callable[[Tell], Any], *, brief: bool = False, kind: str = "cover"
) -> Work:
    return Work(tab, "job", kind, serial, run, brief=brief)


def test_a_newer_one_ends_the_one_that_runs(lane: Lane) -> None:
    gate = Gate()
    old = lane.submit(work("a", 1, gate))
    assert gate.entered.wait(PATIENCE_S)
    new = lane.submit(work("a", 2, lambda _tell: "new"))
    assert old.answer.result(PATIENCE_S) is None
    assert new.answer.result(PATIENCE_S) == "new"


def test_a_brief_one_that_runs_is_finished(lane: Lane) -> None:
    gate = Gate()
    old = lane.submit(work("a", 1, gate, brief=True))
    assert gate.entered.wait(PATIENCE_S)
    new = lane.submit(work("a", 2, lambda _tell: "new"))
    gate.open.set()
    assert old.answer.result(PATIENCE_S) == "done"
    assert new.answer.result(PATIENCE_S) == "new"


def test_of_those_that_wait_only_the_newest_is_computed(lane: Lane) -> None:
    gate, done = Gate(), []
    lane.submit(work("other", 1, gate))
    assert gate.entered.wait(PATIENCE_S)
    waiting = [lane.submit(work("a", n, lambda _tell, n=n: done.append(n) or n)) for n in range(1, 201)]
    gate.open.set()
    assert waiting[-1].answer.result(PATIENCE_S) == 200
    assert [one.answer.result(PATIENCE_S) for one in waiting[:-1]] == [None] * 199
    assert done == [200]


def test_an_older_number_that_comes_late_is_stale(lane: Lane) -> None:
    assert lane.submit(work("a", 5, lambda _tell: "five")).answer.result(PATIENCE_S) == "five"
    assert lane.submit(work("a", 4, lambda _tell: "four")).answer.result(PATIENCE_S) is None
    assert lane.submit(work("a", 5, lambda _tell: "five")).answer.result(PATIENCE_S) is None
    assert lane.submit(work("b", 4, lambda _tell: "four")).answer.result(PATIENCE_S) == "four"
    assert lane.submit(work("a", 4, lambda _tell: "four", kind="point")).answer.result(PATIENCE_S) == "four"


def test_tabs_take_turns(lane: Lane) -> None:
    """A tab that asks without end does not keep the others waiting."""
    gate, order = Gate(), []
    lane.submit(work("greedy", 0, gate))
    assert gate.entered.wait(PATIENCE_S)
    kinds = ("cover", "compare", "point")
    waiting = [
        lane.submit(work("greedy", n, lambda _tell: order.append("greedy"), kind=kind))
        for n, kind in enumerate(kinds, start=1)
    ]
    waiting += [lane.submit(work(tab, 1, lambda _tell, tab=tab: order.append(tab))) for tab in ("b", "c")]
    gate.open.set()
    for one in waiting:
        one.answer.result(PATIENCE_S)
    assert order == ["b", "c", "greedy", "greedy", "greedy"]


def test_work_that_breaks_off_does_not_stop_the_lane(lane: Lane) -> None:
    def fail(_tell: Tell) -> None:
        raise MemoryError("too large")

    with pytest.raises(MemoryError):
        lane.submit(work("a", 1, fail)).answer.result(PATIENCE_S)
    assert lane.submit(work("a", 2, lambda _tell: "two")).answer.result(PATIENCE_S) == "two"


def test_progress_is_where_stopped_work_ends() -> None:
    one = work("a", 1, lambda _tell: None)
    one.tell("stage", 0.25)
    assert (one.stage, one.share) == ("stage", 0.25)
    one.stopped.set()
    with pytest.raises(StoppedError):
        one.tell("stage", 0.5)


def test_a_newer_one_in_another_lane_ends_it_too() -> None:
    lanes, gate = Lanes(), Gate()
    try:
        old = lanes.submit(lanes.slow, work("a", 1, gate))
        assert gate.entered.wait(PATIENCE_S)
        new = lanes.submit(lanes.quick, work("a", 2, lambda _tell: "new"))
        assert new.answer.result(PATIENCE_S) == "new"
        assert old.answer.result(PATIENCE_S) is None
    finally:
        lanes.close()


def test_a_closed_lane_answers_what_it_had(lane: Lane) -> None:
    gate = Gate()
    running = lane.submit(work("a", 1, gate))
    assert gate.entered.wait(PATIENCE_S)
    waiting = lane.submit(work("b", 1, lambda _tell: "b"))
    lane.close()
    assert running.answer.result(PATIENCE_S) is None
    assert waiting.answer.result(PATIENCE_S) is None


def slow_cover(monkeypatch: pytest.MonkeyPatch) -> Gate:
    """Coverage that takes until it is let go."""
    gate = Gate()
    real = __import__("linkplan.page.cover", fromlist=["compute_coverage"]).compute_coverage

    def waits(plan: Any, grid: Any, *, progress: Callable[[float], None]) -> Any:
        gate(lambda _stage, share: progress(share))
        return real(plan, grid)

    monkeypatch.setattr("linkplan.page.cover.compute_coverage", waits)
    return gate


def wait_until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_a_client_that_goes_away_frees_its_work(site: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    gate = slow_cover(monkeypatch)
    body = b'{"tab": "gone", "serial": 1}'
    head = (
        f"POST /{TOKEN}/api/job/site.toml/cover HTTP/1.1\r\nHost: 127.0.0.1:{site.port}\r\n"
        f"Origin: {site.origin}\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", site.port)) as line:
        line.sendall(head.encode() + body)
        assert gate.entered.wait(PATIENCE_S)
        assert site.get("api/tabs/gone").json()["running"][0]["stage"] == "computing coverage"
    wait_until(lambda: not site.page.lanes.of_tab("gone"))
    gate.open.set()
    assert not site.cover()[0]["stale"], "the lane is free for the next"


def test_a_newer_drag_ends_the_older_one_and_its_answer_says_so(
    site: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = slow_cover(monkeypatch)
    old: list[dict[str, Any]] = []
    first = site.numbered()
    second = site.numbered()

    def ask() -> None:
        old.append(frames(site.post("api/job/site.toml/cover", first).content)[0])

    asking = threading.Thread(target=ask)
    asking.start()
    assert gate.entered.wait(PATIENCE_S)
    gate.entered.clear()
    threading.Thread(target=lambda: (gate.entered.wait(PATIENCE_S), gate.open.set()), daemon=True).start()
    head, pictures = frames(site.post("api/job/site.toml/cover", second).content)
    asking.join(PATIENCE_S)
    assert old == [{"serial": first["serial"], "stale": True, "pictures": []}]
    assert head["serial"] == second["serial"]
    assert pictures


def test_the_loop_answers_while_a_map_is_computed(site: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    gate = slow_cover(monkeypatch)
    asking = threading.Thread(target=site.cover)
    asking.start()
    assert gate.entered.wait(PATIENCE_S)
    assert site.get("api/jobs").status_code == 200
    assert site.get("leaflet/leaflet.js").status_code == 200
    gate.open.set()
    asking.join(PATIENCE_S)


def test_eight_tabs_with_many_drags_each_get_their_last_map(site: Browser) -> None:
    """No answer is another tab's, and each tab's last one is of its last place."""
    last: dict[str, dict[str, Any]] = {}
    troubles: list[str] = []

    def drag(tab: str, number: int) -> None:
        mine = Browser(site.page, site.port, site.server, site.thread, site.client, tab)
        for step in range(6):
            easting = 500_400.0 + 100.0 * number + step
            place = {"easting": easting, "northing": 4_199_400.0}
            body = mine.numbered(set_up={"base": place}, scale="full" if step == 5 else "coarse")
            head, _ = frames(mine.post("api/job/site.toml/cover", body).content)
            if head["serial"] != body["serial"] or (not head["stale"] and head["base"]["easting"] != easting):
                troubles.append(f"{tab} {step}: {head}")
            last[tab] = head

    tabs = [threading.Thread(target=drag, args=(f"tab{n}", n)) for n in range(8)]
    for one in tabs:
        one.start()
    for one in tabs:
        one.join(120.0)
    assert not troubles
    assert [last[f"tab{n}"]["base"]["easting"] for n in range(8)] == [500_405.0 + 100.0 * n for n in range(8)]
