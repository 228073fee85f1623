"""Sentences out of any bytes, and the fields of one epoch, against the library."""

from __future__ import annotations

import datetime
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pynmeagps import NMEAReader
from pynmeagps.nmeahelpers import calc_checksum

from linkplan.gnss import nmea_fixes
from linkplan.gnss.nmea_sentences import LONGEST_BODY, SentenceScanner, checksum
from tests.gnss.recorded import REAL_FRAMES, cut, gga, gns, rmc, sentence


def scan(pieces: list[bytes]) -> tuple[list[bytes], SentenceScanner]:
    scanner = SentenceScanner()
    bodies = [body for piece in pieces for body in scanner.feed(piece)] + scanner.finish()
    return bodies, scanner


printable = st.text(st.characters(min_codepoint=32, max_codepoint=126, exclude_characters="$*"), max_size=90)


@given(printable)
def test_checksum_is_that_of_the_library(text: str) -> None:
    assert f"{checksum(text.encode()):02X}" == calc_checksum(text)


@given(st.lists(printable, max_size=8))
def test_good_sentences_come_out_in_order(texts: list[str]) -> None:
    bodies = [f"GNTXT,{text}".encode() for text in texts]
    found, scanner = scan([b"".join(sentence(body) for body in bodies)])
    assert found == bodies
    assert scanner.counts.total() == len(bodies)


def test_everything_else_is_counted() -> None:
    good = gga(1)
    wrong = good.replace(b"GNGGA", b"GPGGA")
    data = b"".join([
        good, wrong,
        good[:20] + b"\r\n", good[:30],  # broken off by a line end, and by the next one
        good[:-5] + b"\r\n",  # a whole line without its checksum
        b"$GNTXT," + b"x" * (LONGEST_BODY + 50) + b"*00\r\n",  # runs on too long
        b"\x00\xff\xfe", REAL_FRAMES["1005"], b"$PDEMO,1,2*", good,
        sentence("PDEMO,own,sentence"), b"$GNGGA,12*0",
    ])  # fmt: skip
    bodies, scanner = scan([data])
    counts = scanner.counts
    assert len(bodies) == counts.good == 3
    assert bodies[2] == b"PDEMO,own,sentence"
    assert counts.wrong_checksum == 1
    assert counts.without_checksum == 2
    assert counts.unfinished == 4
    assert counts.outside_bytes >= 3 + len(REAL_FRAMES["1005"]) - 2 + 50


def test_very_long_lines_and_no_lines() -> None:
    for junk in (b"$" * 200_000, b"$GNGGA," * 30_000, b"\r" * 200_000, b"," * 200_000, b"!" + b"A" * 200_000):
        bodies, scanner = scan([junk, b"\n", gga(1)])
        assert len(bodies) == 1
        assert scanner.counts.good == 1


@given(
    st.lists(
        st.one_of(
            st.builds(gga, st.integers(0, 86_399)),
            st.binary(max_size=40),
            st.sampled_from([b"$", b"*", b"\r", b"\n", b"$GNGGA,1,2", b"*7F", REAL_FRAMES["1077"]]),
        ),
        max_size=20,
    ),
    st.randoms(use_true_random=False),
)
@settings(max_examples=150, deadline=None)
def test_any_cutting_gives_the_same(parts: list[bytes], chance: random.Random) -> None:
    data = b"".join(parts)
    one, first = scan([data])
    other, second = scan(cut(data, chance))
    assert one == other
    assert first.counts == second.counts


def test_cutting_a_long_log_gives_the_same() -> None:
    chance = random.Random(7)
    data = b"".join(
        gga(n) if chance.random() < 0.8 else chance.randbytes(chance.randrange(2000)) for n in range(4000)
    )
    one, first = scan([data])
    for _ in range(3):
        other, second = scan(cut(data, chance))
        assert one == other
        assert first.counts == second.counts


times = st.integers(0, 86_399_99).map(lambda hundredths: hundredths / 100)
ages = st.one_of(st.just(""), st.integers(0, 9999).map(lambda tenths: f"{tenths / 10:.1f}"))
stations = st.one_of(st.just(""), st.integers(0, 4095).map(lambda number: f"{number:04d}"))


@given(times, st.integers(0, 8), ages, stations, st.sampled_from(["GN", "GP", "GA", "BD"]))
@settings(max_examples=150, deadline=None)
def test_gga_fields_are_those_of_the_library(
    time_s: float, quality: int, age: str, station: str, talker: str
) -> None:
    raw = gga(time_s, quality, age, station, talker)
    theirs = NMEAReader.parse(raw)
    mine = nmea_fixes.parse_gga(raw[1:-5])
    assert mine is not None
    assert mine.quality == theirs.quality
    assert mine.satellites == theirs.numSV
    assert mine.age_s == (theirs.diffAge if age else None)
    assert mine.station == (str(int(theirs.diffStation)) if station else None)
    of_day = theirs.time
    seconds = of_day.hour * 3600 + of_day.minute * 60 + of_day.second + of_day.microsecond / 1e6
    assert mine.time_s == pytest.approx(seconds, abs=1e-4)
    assert mine.latitude_deg == pytest.approx(theirs.lat, abs=1e-9)
    assert mine.longitude_deg == pytest.approx(theirs.lon, abs=1e-9)


@given(st.integers(0, 86_399), ages, stations)
@settings(max_examples=60, deadline=None)
def test_gns_fields_are_those_of_the_library(time_s: int, age: str, station: str) -> None:
    raw = gns(time_s, "RF", age, station)
    theirs = NMEAReader.parse(raw)
    mine = nmea_fixes.parse_gns(raw[1:-5])
    assert mine is not None
    assert theirs.posMode == "RF"
    assert mine.quality == nmea_fixes.FIXED
    assert mine.age_s == (theirs.diffAge if age else None)
    assert mine.station == (str(int(theirs.diffStation)) if station else None)
    assert mine.latitude_deg == pytest.approx(theirs.lat, abs=1e-9)


@pytest.mark.parametrize(
    ("modes", "quality"), [("NN", 0), ("AN", 1), ("AD", 2), ("DF", 5), ("FRN", 4), ("", None), ("?", None)]
)
def test_gns_takes_the_best_of_its_systems(modes: str, quality: int | None) -> None:
    assert nmea_fixes.parse_gns(gns(1, modes)[1:-5]).quality == quality


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"12",
        b"240000",
        b"126000",
        b"120061",
        b"12:00:00",
        b"nan",
        b"1e5",
        b"-10000",
        b"12000a",
        b"9" * 400,
    ],
)
def test_no_time_is_made_of_what_is_none(text: bytes) -> None:
    assert nmea_fixes.time_of_day(text) is None


@pytest.mark.parametrize(
    "text", [b"", b"nan", b"inf", b"1e3", b"-1", b"1_0", b".", b"1.2.3", b" 1", b"9" * 400]
)
def test_no_number_is_made_of_what_is_none(text: bytes) -> None:
    assert nmea_fixes.number(text) is None


def test_fields_that_cannot_be_are_none() -> None:
    fix = nmea_fixes.parse_gga(b"GNGGA,x,9960.0,N,18100.0,E,4,1x,,,,,,x,ABC")
    assert fix is not None
    assert (fix.time_s, fix.latitude_deg, fix.longitude_deg, fix.satellites, fix.age_s) == (None,) * 5
    assert fix.station == "ABC"
    assert nmea_fixes.parse_gga(b"GNGGA,1,2") is None


def test_dates() -> None:
    assert nmea_fixes.date_of(rmc(5, "130526")[1:-5]) == (datetime.date(2026, 5, 13), 5.0)
    assert nmea_fixes.date_of(b"GPZDA,120000.00,13,05,2026,00,00") == (datetime.date(2026, 5, 13), 43_200.0)
    for body in (b"GPZDA,120000,31,02,2026,,", b"GPZDA,,1,1,2026", b"GNRMC,1", b"GPZDA,120000,0,0,0,,"):
        assert nmea_fixes.date_of(body) is None
