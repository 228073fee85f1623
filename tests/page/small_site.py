"""A small invented job on disk, and a browser's way of asking the page's server for it."""

from __future__ import annotations

import json
import struct
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import rasterio
from affine import Affine

from linkplan.page.app import Page
from linkplan.page.jobs import JobFolder
from linkplan.page.serve import bound, server_of

WEST, NORTH, CELL, SIDE = 500_000.0, 4_200_000.0, 20.0, 110
TOKEN = "the-token"

JOB = """\
# all of it is invented
[job]
name = "small invented job"  # a name
crs = "EPSG:32611"
[boundary]
coordinates = [[500300.0, 4198300.0], [501700.0, 4198300.0], [501700.0, 4199700.0], [500300.0, 4199700.0]]
[terrain]
files = ["dem.tif"]
height_datum = "invented"
[control]
file = "control.csv"

[base]
point = "P1"  # the crew's first idea
antenna_height = 3.0

[radio]
frequency_mhz = 450.0
channel_spacing_khz = 12.5
power_w = 0.5
antenna_gain_dbi = 2.0
feeder_loss_db = 1.0
[rover]
antenna_height = 2.0
antenna_gain_dbi = 0.0
sensitivity_dbm = -90.0
[goal]
chance = 0.95
baseline_limit = 5000
[corrections]
[[corrections.messages]]
number = 1074
interval_s = 1
satellites = 10
signals = 2
[framing]
preset = "generic-9600"
[siting]
control_points = true
antenna_heights = [3.0]
"""

CONTROL = """\
name,easting,northing,height,code
P1,500500.0,4199500.0,,
P2,501500.0,4198500.0,,
P3,501000.0,4199000.0,,
"""


def ground(side: int = SIDE, ridge_m: float = 45.0) -> np.ndarray:
    """Rolling ground with a ridge across it that hides one half of the job from the other."""
    rows, columns = np.mgrid[0:side, 0:side]
    ridge = ridge_m * np.exp(-(((rows - columns) / 5.0) ** 2))
    return 400.0 + 5.0 * np.sin(rows / 9.0) * np.cos(columns / 11.0) + ridge


def write_dem(path: Path, height: np.ndarray) -> None:
    """Ground around the job as a GeoTIFF."""
    with rasterio.open(
        path, "w", driver="GTiff", width=height.shape[1], height=height.shape[0], count=1, dtype="float32",
        crs="EPSG:32611", transform=Affine(CELL, 0.0, WEST, 0.0, -CELL, NORTH), nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(height.astype("float32"), 1)


def write_job(folder: Path, text: str = JOB, name: str = "site.toml") -> Path:
    """The job with its files."""
    write_dem(folder / "dem.tif", ground())
    (folder / "control.csv").write_text(CONTROL)
    (folder / name).write_text(text)
    return folder / name


@dataclass
class Browser:
    """One tab, and the server that it talks to over a real socket."""

    page: Page
    port: int
    server: Any
    thread: threading.Thread
    client: httpx.Client
    tab: str = "tab-1"
    serial: int = field(default=0)

    @property
    def origin(self) -> str:
        """The page's own."""
        return f"http://127.0.0.1:{self.port}"

    def close(self) -> None:
        """End the server and all its work."""
        self.client.close()
        self.server.should_exit = True
        self.thread.join(30.0)
        self.page.close()

    def get(self, address: str, **headers: str) -> Any:
        """GET below the token."""
        return self.client.get(f"/{TOKEN}/{address}", headers=headers)

    def post(self, address: str, body: Any, **headers: str) -> Any:
        """POST of JSON below the token, as the page itself sends it."""
        content = body if isinstance(body, bytes) else json.dumps(body).encode()
        sent = {"origin": self.origin, "content-type": "application/json", **headers}
        return self.client.post(f"/{TOKEN}/{address}", content=content, headers=sent)

    def numbered(self, **more: Any) -> dict[str, Any]:
        """A request's body with the tab and its next number."""
        self.serial += 1
        return {"tab": self.tab, "serial": self.serial, **more}

    def cover(self, **more: Any) -> tuple[dict[str, Any], dict[str, bytes]]:
        """Coverage: the JSON and the pictures."""
        return frames(self.post("api/job/site.toml/cover", self.numbered(**more)).content)

    def point(self, **more: Any) -> dict[str, Any]:
        """One place."""
        found: dict[str, Any] = self.post("api/job/site.toml/point", self.numbered(**more)).json()
        return found

    def task(self, **body: Any) -> dict[str, Any]:
        """A task from its start to its end."""
        found: dict[str, Any] = self.post("api/job/site.toml/tasks", {"tab": self.tab, **body}).json()
        while found.get("state") == "running":
            found = self.get(f"api/tasks/{found['task']}?after=0").json()
        return found


def frames(content: bytes) -> tuple[dict[str, Any], dict[str, bytes]]:
    """The JSON of a framed answer, and its pictures by layer."""
    (length,) = struct.unpack(">I", content[:4])
    head = json.loads(content[4 : 4 + length])
    pictures = {}
    for one in head["pictures"]:
        start = 4 + length + one["offset"]
        pictures[one["layer"]] = content[start : start + one["length"]]
    return head, pictures


def browser(folder: Path, opened: str | None = "site.toml") -> Browser:
    """A server for a folder; close it when done."""
    page = Page(JobFolder(folder, opened))
    listening = bound(0)
    port = listening.getsockname()[1]
    server = server_of(page, TOKEN, port)
    started = threading.Event()
    server.on_started = started.set
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    assert started.wait(30.0)
    client = httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False, timeout=120.0)
    return Browser(page, port, server, thread, client)
