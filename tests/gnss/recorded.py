"""Pieces of recordings for the tests: real frames, streams, sentences, and ways to cut and harm them."""

from __future__ import annotations

import json
import random
from functools import reduce
from operator import xor
from pathlib import Path

from dem_samples.rtcm_writer import frame, msm, reference_point

DATA = Path(__file__).parent.parent / "data" / "rtcm" / "real_frames.json"
REAL_FRAMES = {
    name: bytes.fromhex(entry["hex"]) for name, entry in json.loads(DATA.read_text())["frames"].items()
}
BASE_ECEF_M = (-2_487_123.4567, -4_420_987.6543, 3_855_111.2222)


def sentence(body: str | bytes) -> bytes:
    """A whole NMEA sentence; the checksum is the plain definition: XOR of all characters."""
    raw = body.encode("ascii") if isinstance(body, str) else body
    return b"$%s*%02X\r\n" % (raw, reduce(xor, raw, 0))


def gga(
    time_s: float, quality: int = 4, age: str = "1.0", station: str = "0031", talker: str = "GN"
) -> bytes:
    """A GGA sentence at a time of day."""
    whole = int(time_s) % 86_400
    clock = f"{whole // 3600:02d}{whole // 60 % 60:02d}{whole % 60:02d}.{round(time_s % 1 * 100):02d}"
    return sentence(
        f"{talker}GGA,{clock},3725.9834890,N,11921.0140091,W,{quality},18,0.7,1860.123,M,-25.9,M,{age},{station}"
    )


def gns(time_s: float, modes: str = "RR", age: str = "1.0", station: str = "0031") -> bytes:
    """A GNS sentence at a time of day."""
    whole = int(time_s) % 86_400
    clock = f"{whole // 3600:02d}{whole // 60 % 60:02d}{whole % 60:02d}.00"
    return sentence(
        f"GNGNS,{clock},3725.9834890,N,11921.0140091,W,{modes},18,0.7,1860.123,-25.9,{age},{station},V"
    )


def rmc(time_s: float, date: str) -> bytes:
    """An RMC sentence at a time of day; date as ddmmyy."""
    whole = int(time_s) % 86_400
    clock = f"{whole // 3600:02d}{whole // 60 % 60:02d}{whole % 60:02d}.00"
    return sentence(f"GNRMC,{clock},A,3725.9834890,N,11921.0140091,W,0.0,0.0,{date},,,R,V")


def stream(seconds: int, station_id: int = 31, start_ms: int = 100_000_000) -> bytes:
    """GPS MSM4 every second, base point every ten."""
    out = []
    for second in range(seconds):
        out.append(frame(msm(1074, station_id, (start_ms + 1000 * second) % 604_800_000, [1, 5, 9], [2, 16])))
        if second % 10 == 0:
            out.append(frame(reference_point(1006, station_id, BASE_ECEF_M, 1.8)))
    return b"".join(out)


def cut(data: bytes, chance: random.Random) -> list[bytes]:
    """The data in pieces of any size, some of them empty."""
    pieces, position = [], 0
    while position < len(data):
        size = chance.choice((0, 1, 2, 3, 7, 50, 400, 5000, 300_000))
        pieces.append(data[position : position + size])
        position += size
    return pieces
