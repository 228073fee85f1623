"""Message number, station ID, epoch, satellites and signals against the library, on real and built frames."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyrtcm import RTCMMessage, RTCMReader
from pyrtcm.rtcmtypes_get import RTCM_PAYLOADS_GET
from pyrtcm.rtcmtypes_get_msm import RTCM_PAYLOADS_GET_MSM

from dem_samples.rtcm_writer import (
    antenna,
    frame,
    glonass_observations,
    gps_observations,
    msm,
    reference_point,
)
from linkplan.gnss import rtcm_headers
from linkplan.gnss.rtcm_bodies import AntennaText, ReferencePoint, decode
from linkplan.tables.rtcm3 import MSM_CONSTELLATIONS
from tests.gnss.recorded import DATA, REAL_FRAMES

MSM_NUMBERS = sorted(int(number) for number in RTCM_PAYLOADS_GET_MSM if number.isdigit())
EPOCH_FIELDS = ("DF004", "DF248", "DF427", "DF428", "DF546")


def test_messages_with_a_station_id_are_those_of_the_library() -> None:
    layouts = {**RTCM_PAYLOADS_GET, **RTCM_PAYLOADS_GET_MSM}
    theirs = {int(key) for key, fields in layouts.items() if key.isdigit() and list(fields)[1:2] == ["DF003"]}
    assert theirs <= rtcm_headers.WITH_STATION_ID
    known = {int(key) for key in layouts if key.isdigit()}
    assert (rtcm_headers.WITH_STATION_ID & known) == theirs


def test_systems_are_those_of_the_layout_table() -> None:
    for number in range(900, 1300):
        system = rtcm_headers.msm_system(number)
        is_msm = number // 10 in MSM_CONSTELLATIONS and 1 <= number % 10 <= 7
        assert system == (MSM_CONSTELLATIONS[number // 10] if is_msm else None)


@pytest.mark.parametrize("name", REAL_FRAMES)
def test_real_frames_say_what_the_library_reads(name: str) -> None:
    raw = REAL_FRAMES[name]
    stated = json.loads(DATA.read_text())["frames"][name]
    parsed = vars(RTCMReader.parse(raw))
    payload = raw[3:-3]
    number = rtcm_headers.message_number(payload)
    assert number == int(parsed["DF002"])
    assert rtcm_headers.station_id(number, payload) == parsed.get("DF003")
    header = rtcm_headers.msm_header(payload) if rtcm_headers.msm_system(number) else None
    if stated["nsat"] is not None:
        assert header is not None
        assert (header.satellites, header.signals, header.cells) == (
            stated["nsat"],
            stated["nsig"],
            stated["ncell"],
        )


def test_real_systems_of_one_receiver_share_their_epoch() -> None:
    # four MSM7 of one receiver and one epoch: the offsets between GPS, GLONASS and BeiDou time come out
    epochs = {
        rtcm_headers.epoch(int(name), REAL_FRAMES[name][3:-3]).time_ms
        for name in ("1077", "1087", "1097", "1127")
    }
    assert len(epochs) == 1


@st.composite
def _msm(draw: st.DrawFn) -> tuple[int, int, int, list[int], list[int], list[bool]]:
    number = draw(st.sampled_from([one for one in MSM_NUMBERS if one % 10 >= 4]))
    satellites = draw(st.lists(st.integers(1, 64), min_size=1, max_size=64, unique=True).map(sorted))
    most = min(64 // len(satellites), 32)
    signals = draw(st.lists(st.integers(1, 32), min_size=1, max_size=most, unique=True).map(sorted))
    size = len(satellites) * len(signals)
    cells = draw(st.lists(st.booleans(), min_size=size, max_size=size))
    epoch = draw(st.integers(0, 604_799_999 if number // 10 != 108 else 86_399_999))
    return number, draw(st.integers(0, 4095)), epoch, satellites, signals, cells


@given(_msm())
@settings(max_examples=200, deadline=None)
def test_built_messages_say_what_was_put_in_and_what_the_library_reads(
    built: tuple[int, int, int, list[int], list[int], list[bool]],
) -> None:
    number, station, epoch, satellites, signals, cells = built
    payload = msm(number, station, epoch, satellites, signals, cells)
    assert RTCMReader.parse(frame(payload)).payload == payload
    theirs = vars(RTCMMessage(payload=payload))
    assert rtcm_headers.message_number(payload) == number
    assert rtcm_headers.station_id(number, payload) == station == theirs["DF003"]
    header = rtcm_headers.msm_header(payload)
    assert header is not None
    assert (header.satellites, header.signals, header.cells) == (
        theirs["NSat"], theirs["NSig"], theirs["NCell"],
    )  # fmt: skip
    used = {
        signal for row in range(len(satellites)) for column, signal in enumerate(signals)
        if cells[row * len(signals) + column]
    }  # fmt: skip
    assert set(rtcm_headers.signal_positions(header.signal_mask, header.used_columns)) == used
    names = {theirs[key] for key in theirs if key.startswith("CELLSIG_")} - {"N/A", "A"}
    known = {
        name for name in rtcm_headers.signal_names(number, sorted(used)) if not name.startswith("signal ")
    }
    assert known == {name for name in names if len(name) == 2}
    mine = rtcm_headers.epoch(number, payload)
    assert mine is not None
    if number // 10 == 108:
        assert theirs["DF034"] == epoch
    elif number // 10 == 112:
        assert mine.time_ms == (epoch + 14_000) % 604_800_000
    else:
        assert mine.time_ms == epoch
        assert epoch in [theirs[key] for key in EPOCH_FIELDS if key in theirs]


@given(st.integers(0, 604_799_999), st.integers(0, 31), st.integers(0, 4095))
@settings(max_examples=50, deadline=None)
def test_older_observation_messages(time_ms: int, satellites: int, station: int) -> None:
    for number in range(1001, 1005):
        payload = gps_observations(number, station, time_ms, satellites)
        theirs = vars(RTCMMessage(payload=payload))
        assert (theirs["DF004"], theirs["DF006"], theirs["DF003"]) == (time_ms, satellites, station)
        assert rtcm_headers.epoch(number, payload).time_ms == time_ms
        assert rtcm_headers.station_id(number, payload) == station
        assert rtcm_headers.older_satellites(number, payload) == satellites
    for number in range(1009, 1013):
        payload = glonass_observations(number, station, time_ms % 86_400_000, satellites)
        theirs = vars(RTCMMessage(payload=payload))
        assert theirs["DF034"] == time_ms % 86_400_000
        assert rtcm_headers.older_satellites(number, payload) == theirs["DF035"] == satellites
        # GLONASS time is UTC + 3 h, GPS time is UTC + 18 s
        expected = (time_ms % 86_400_000 - 3 * 3_600_000 + 18_000) % 86_400_000
        assert rtcm_headers.epoch(number, payload).time_ms == expected


def test_impossible_headers_have_no_answer() -> None:
    payload = msm(1074, 1, 604_800_000, [1], [2])
    assert rtcm_headers.epoch(1074, payload) is None
    assert rtcm_headers.msm_header(payload[:21]) is None
    too_many = msm(1074, 1, 0, list(range(1, 34)), [1, 2], [False] * 66)
    assert rtcm_headers.msm_header(too_many) is None
    assert rtcm_headers.message_number(b"\x43") is None
    assert rtcm_headers.station_id(1074, b"\x43\x20") is None
    assert rtcm_headers.epoch(1074, b"\x43\x20\x00\x00") is None


coordinate = st.integers(-(2**37) + 1, 2**37 - 1).map(lambda tenths: tenths / 10_000)


@given(coordinate, coordinate, coordinate, st.integers(0, 65_535), st.integers(0, 4095))
@settings(max_examples=100, deadline=None)
def test_reference_points_come_back(x: float, y: float, z: float, tenths: int, station: int) -> None:
    height = tenths / 10_000
    payload = reference_point(1006, station, (x, y, z), height)
    assert decode(payload) == ReferencePoint(1006, station, x, y, z, height)
    assert decode(reference_point(1005, station, (x, y, z))) == ReferencePoint(1005, station, x, y, z, None)


text = st.text(st.characters(min_codepoint=33, max_codepoint=126), max_size=31)


@given(text, text, text, text, text, st.integers(0, 255))
@settings(max_examples=60, deadline=None)
def test_antenna_texts_come_back(a: str, b: str, c: str, d: str, e: str, setup: int) -> None:
    assert decode(antenna(1007, 9, [a], setup)) == AntennaText(1007, 9, a, None, setup, None, None, None)
    assert decode(antenna(1008, 9, [a, b], setup)) == AntennaText(1008, 9, a, b, setup, None, None, None)
    assert decode(antenna(1033, 9, [a, b, c, d, e], setup)) == AntennaText(1033, 9, a, b, setup, c, d, e)


def test_broken_bodies_have_no_answer() -> None:
    for payload in (reference_point(1006, 1, (1.0, 2.0, 3.0)), antenna(1033, 1, ["A", "B", "C", "D", "E"])):
        for length in range(2, len(payload)):
            assert decode(payload[:length]) is None or length >= len(payload) - 1
    assert decode(antenna(1007, 1, ["A\x07B\xff"])).antenna == "A?B?"
