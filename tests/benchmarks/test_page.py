"""What a step of a drag costs: the page's answer beside the bare kernel of the same cells, in the same run.

`pytest tests/benchmarks/test_page.py -s` prints the measured ratios. The browser's part is measured where
Debian's chromium is found.
"""

from __future__ import annotations

import json
import os
import shutil
import statistics
import struct
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest

from linkplan.coverage.area import cell_losses
from linkplan.coverage.ground import job_grid
from linkplan.page.serve import TRIM_EVERY_S
from linkplan.plan.model import Plan
from linkplan.plan.reader import read_plan
from linkplan.terrain.grid import TerrainGrid

FULL = os.environ.get("LINKPLAN_BENCHMARK") == "full"
CELL, SIDE, HALF_M = 10.0, 1300, 4550.0
EASTING, NORTHING = 500_000.0, 4_200_000.0

HIGHEST_COST = 2.5
"""Of the whole map, from the request to its pixels, beside the bare kernel of as many cells."""
HIGHEST_COARSE = 0.65
"""Of the coarse map: 100 ms where the kernel takes 155 ms, as it does on two idle cores."""
ROUNDS, MOST_ROUNDS = 5, 20
"""Each beside the kernel just before and after it; the better quarter counts."""
FREE_CORES, MOST_LOAD = 1.85, 2.5
"""Processor time that two idle loops get together, at least, and the load of the last minute, at most (the
benchmark's own is 2), where two cores are free: else nothing is asserted, only printed."""

pytestmark = pytest.mark.benchmark

JOB = f"""\
[job]
name = "a job of a million cells"
crs = "EPSG:32611"
[boundary]
coordinates = [
  [{EASTING - HALF_M}, {NORTHING - HALF_M}], [{EASTING + HALF_M}, {NORTHING - HALF_M}],
  [{EASTING + HALF_M}, {NORTHING + HALF_M}], [{EASTING - HALF_M}, {NORTHING + HALF_M}],
]
[terrain]
files = ["dem.tif"]
height_datum = "invented"
[base]
position = [{EASTING}, {NORTHING}]
antenna_height = 5.0
[radio]
frequency_mhz = 450.0
channel_spacing_khz = 12.5
power_w = 5.0
antenna_gain_dbi = 2.0
feeder_loss_db = 1.0
[rover]
antenna_height = 2.0
antenna_gain_dbi = 0.0
sensitivity_dbm = -110.0
"""


@dataclass
class Served:
    """A page of a job of a million cells, in a process of its own."""

    plan: Plan
    grid: TerrainGrid
    address: str
    process: subprocess.Popen[str]
    client: httpx.Client
    serial: int = 0

    def cover(self, step: int, scale: str) -> dict[str, Any]:
        """One step of a drag: the answer with its picture received."""
        self.serial += 1
        place = {"easting": EASTING + 7.0 * step, "northing": NORTHING - 3.0 * step}
        body = {"tab": "bench", "serial": self.serial, "scale": scale, "set_up": {"base": place}}
        origin = "/".join(self.address.split("/")[:3])
        answer = self.client.post(
            f"{self.address}api/job/site.toml/cover", content=json.dumps(body), headers={"origin": origin}
        )
        (length,) = struct.unpack(">I", answer.content[:4])
        head: dict[str, Any] = json.loads(answer.content[4 : 4 + length])
        assert not head.get("error"), head
        assert head["pictures"][0]["length"] == len(answer.content) - 4 - length
        return head

    def resident_mb(self) -> float:
        """Memory of the server's process."""
        pages = int(Path(f"/proc/{self.process.pid}/statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    import rasterio
    from affine import Affine

    folder = tmp_path_factory.mktemp("page")
    rows, columns = np.mgrid[0:SIDE, 0:SIDE]
    height_m = (
        300.0 + 30.0 * np.sin(rows / 37.0) * np.cos(columns / 43.0) + 4.0 * np.sin(columns / 5.0 + rows / 9.0)
    )
    corner = Affine(CELL, 0.0, EASTING - SIDE * CELL / 2, 0.0, -CELL, NORTHING + SIDE * CELL / 2)
    with rasterio.open(
        folder / "dem.tif", "w", driver="GTiff", width=SIDE, height=SIDE, count=1, dtype="float32",
        crs="EPSG:32611", transform=corner, tiled=True, compress="deflate",
    ) as raster:  # fmt: skip
        raster.write(height_m.astype("float32"), 1)
    job = folder / "site.toml"
    job.write_text(JOB)
    command = [sys.executable, "-m", "linkplan.cli.main", "page", str(job), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    address = process.stdout.readline().split()[-1]
    plan = read_plan(job)
    client = httpx.Client(trust_env=False, timeout=300.0)
    found = Served(plan, job_grid(plan), address, process, client)
    assert found.grid.height_m.size == pytest.approx(1e6, rel=0.03)
    assert client.get(f"{address}api/job/site.toml").status_code == 200
    cell_losses(plan, found.grid)
    for scale in ("coarse", "full"):
        found.cover(0, scale)
    yield found
    client.close()
    process.terminate()
    process.wait(30.0)
    process.stdout.close()


def beside_kernel(measured: Callable[[int], float], served: Served, limit: float) -> tuple[float, str]:
    """Lower quartile of the ratios of some rounds, and both times of the best of them in words."""

    def kernel() -> float:
        begun = time.perf_counter()
        cell_losses(served.plan, served.grid)
        return time.perf_counter() - begun

    rounds: list[tuple[float, float, float]] = []
    before = kernel()
    for step in range(1, MOST_ROUNDS + 1):
        took = measured(step)
        after = kernel()
        bare, before = (before + after) / 2.0, after
        rounds.append((took / bare, took, bare))
        quartile = sorted(rounds)[(len(rounds) - 1) // 4]
        if step >= ROUNDS and quartile[0] <= limit:
            break
    ratio, took, bare = quartile
    return ratio, f"{1e3 * took:.0f} ms beside {1e3 * bare:.0f} ms of the kernel: {ratio:.2f}"


def cores_to_be_had(seconds: float = 2.0) -> float:
    """Processor time that two idle loops get together, as a share of the time that passes."""
    code = (
        f"import time; end = time.perf_counter() + {seconds}\n"
        "while time.perf_counter() < end: pass\nprint(time.process_time())"
    )
    loops = [
        subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) for _ in range(2)
    ]
    return sum(float(one.communicate()[0]) for one in loops) / seconds


def hold(ratio: float, limit: float) -> None:
    """Assert where two cores are free."""
    busy = os.getloadavg()[0] > MOST_LOAD or cores_to_be_had() < FREE_CORES
    if ratio > limit and busy:
        pytest.skip(f"{ratio:.2f} times the kernel, but others work on this machine")
    assert ratio <= limit


@pytest.mark.parametrize(("scale", "limit"), [("coarse", HIGHEST_COARSE), ("full", HIGHEST_COST)])
def test_an_answer_beside_the_bare_kernel(served: Served, scale: str, limit: float) -> None:
    def answer(step: int) -> float:
        begun = time.perf_counter()
        served.cover(step, scale)
        return time.perf_counter() - begun

    ratio, words = beside_kernel(answer, served, limit)
    print(f"\n{scale} map, from the request to its answer: {words}")
    hold(ratio, limit)


def test_memory_stays_flat(served: Served) -> None:
    """After the memory of maps and grids is full, more of them add nothing."""
    for step in range(60):
        served.cover(step + 100, "full" if step % 4 == 0 else "coarse")
    time.sleep(TRIM_EVERY_S + 1.0)
    before_mb = served.resident_mb()
    count = 1000 if FULL else 40
    for step in range(count):
        served.cover(200 + step % 500, "full" if step % 4 == 0 else "coarse")
    time.sleep(TRIM_EVERY_S + 1.0)
    after_mb = served.resident_mb()
    print(f"\nmemory: {before_mb:.0f} MB, after {count} more recomputations {after_mb:.0f} MB")
    # a map of a million cells with its ground takes some 50 MB
    assert after_mb < before_mb + 50.0


CHROMIUM = shutil.which("chromium")

WATCH = """() => {
  const map = document.querySelector('#pane-a .map');
  window.drawn = [];
  window.addEventListener('pointermove', () => { window.moved = performance.now(); }, { capture: true });
  new MutationObserver(() => requestAnimationFrame(() => requestAnimationFrame(() => {
    window.drawn.push({ at: performance.now(), scale: map.dataset.scale });
  }))).observe(map, { attributes: true, attributeFilter: ['data-drawn'] });
}"""


@pytest.mark.skipif(CHROMIUM is None, reason="Debian's chromium is not installed")
def test_the_end_of_a_drag_step_to_pixels_on_screen(served: Served) -> None:
    """In a real browser: from the last move of the base to the frame after the whole map is drawn."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as tool:
        opened = tool.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = opened.new_page(viewport={"width": 1280, "height": 900})
        page.goto(served.address)
        page.wait_for_selector("#pane-a .map[data-scale=full]", timeout=60_000)
        page.evaluate(WATCH)
        steps: dict[str, list[float]] = {"coarse": [], "full": []}

        def step(number: int) -> float:
            times = drag(page, (4 + 3 * number) * (-1) ** number)  # never to where it has been
            for scale, took in times.items():
                steps[scale].append(took)
            return times["full"]

        ratio, words = beside_kernel(step, served, HIGHEST_COST)
        opened.close()
    medians = {scale: f"{1e3 * statistics.median(took):.0f} ms" for scale, took in steps.items() if took}
    print(f"\nend of a drag step to pixels: {words}; medians {medians} of {len(steps['full'])} steps")
    hold(ratio, HIGHEST_COST)


def drag(page: Any, by_px: int) -> dict[str, float]:
    """One step of dragging the base, and letting go; seconds from the hand's last move to the first frame of
    each scale."""
    box = page.locator("#pane-a .sign.base").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate("() => { window.drawn = []; }")
    page.mouse.move(x + by_px, y)
    page.mouse.up()
    page.wait_for_function("() => window.drawn.some((one) => one.at > window.moved && one.scale === 'full')")
    drawn = page.evaluate("() => window.drawn.map((one) => [one.scale, (one.at - window.moved) / 1000])")
    return {scale: took for scale, took in reversed(drawn) if took > 0.0}
