"""What is read of almanacs and navigation files, and what a user is told of one that cannot be read."""

from __future__ import annotations

import gzip
import itertools
import math
import zlib
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from linkplan.errors import AlmanacError
from linkplan.gnss import orbit_text, rinex_navigation
from linkplan.gnss.gnss_time import from_week
from linkplan.gnss.kepler import kepler_positions
from linkplan.gnss.orbit_files import orbits_from, read_orbits
from linkplan.gnss.orbit_sets import Orbits
from tests.gnss.orbit_samples import DATA, NEAR_S, sample

YUMA = (DATA / "made.alm").read_text()
SEM = (DATA / "made.al3").read_text()
VERSION_4 = (DATA / "made_version_4.rnx").read_text()
DAY = gzip.decompress((DATA / "broadcast_2018-06-19.rnx.gz").read_bytes()).decode()
HEADER = DAY[: DAY.index("END OF HEADER") + 21]


def read(text: str, near_s: float = NEAR_S) -> Orbits:
    return orbits_from("day.rnx", [text.encode("latin-1")], near_s)


def refusal(text: str) -> str:
    with pytest.raises(AlmanacError) as caught:
        read(text)
    return str(caught.value)


def record(text: str, satellite: str) -> str:
    """The first record of a satellite in a file of version 3."""
    lines = text[text.index(f"\n{satellite} ") + 1 :].split("\n")
    behind = itertools.takewhile(lambda line: line.startswith(" "), lines[1:])
    return "\n".join((lines[0], *behind)) + "\n"


GPS, GLONASS, GALILEO = record(DAY, "G01"), record(DAY, "R01"), record(DAY, "E01")


def test_a_yuma_almanac() -> None:
    orbits = sample("made.alm")
    assert (orbits.kind, orbits.skipped) == ("almanac", ())
    assert orbits.satellites == ("G01", "G03", "G17", "G22")
    assert orbits.unhealthy == ("G22",)
    one = orbits.kepler[0]
    # as they stand in the file
    assert one.reference_s == from_week(982 + 1024, 172_800.0)
    assert (one.eccentricity, one.inclination_rad) == (0.7913668873e-2, 0.9718659911)
    assert (one.root_semi_major_axis, one.perigee_rad) == (5153.671505, 0.642436070)
    # Greenwich's meridian at the almanac's time: OMEGA0 less 172 800 s x 7.2921151467e-5 = 12.6007750 rad
    assert one.node_rad == pytest.approx(-3.123503770 - 12.6007749735, abs=1e-9)


def test_both_almanacs_of_one_sky_are_one() -> None:
    # the SEM almanac is the same in semicircles with more figures; within the YUMA's last figure, 1e-9 rad
    for one, other in zip(sample("made.alm").kepler, sample("made.al3").kepler, strict=True):
        assert (one.satellite, one.reference_s, one.healthy) == (
            other.satellite,
            other.reference_s,
            other.healthy,
        )
        times = one.reference_s + np.array([-86_400.0, 0.0, 86_400.0])
        far = kepler_positions([one], 0, times) - kepler_positions([other], 0, times)
        assert np.linalg.norm(far, axis=-1).max() < 1.0


def test_an_almanac_is_the_broadcast_orbit_to_some_kilometres() -> None:
    # without the harmonic terms of the elements that it was made of
    for one in sample("made.alm").kepler:
        broadcast = next(
            other
            for other in sample("broadcast_2018-06-19.rnx.gz").kepler
            if other.satellite == one.satellite and other.reference_s == one.reference_s
        )
        far = kepler_positions([one, broadcast], [0, 1], NEAR_S + 3600.0)
        assert np.linalg.norm(far[0] - far[1]) < 5000.0


def test_yuma_of_qzss() -> None:
    near_s = from_week(1792, 0.0)
    orbits = read_orbits(str(DATA / "made_qzss.alm"), near_s)
    assert orbits.satellites == ("J01",)
    # health 1 is that of the experimental signal alone
    assert orbits.unhealthy == ()
    assert [(one.what, one.count) for one in orbits.skipped] == [
        ("satellites that are neither GPS (1 to 63) nor QZSS (193 to 202)", 1)
    ]
    theirs = next(one for one in sample("made_version_4.rnx").kepler if one.satellite == "J01")
    assert theirs.reference_s == orbits.kepler[0].reference_s == from_week(1792, 202_512.0)
    far = kepler_positions([theirs, orbits.kepler[0]], [0, 1], theirs.reference_s)
    assert np.linalg.norm(far[0] - far[1]) < 5000.0


@pytest.mark.parametrize("text", [YUMA, SEM], ids=["yuma", "sem"])
def test_weeks_of_almanacs(text: str) -> None:
    for near_week, week in ((982, 982), (2006, 2006), (2006 + 500, 2006), (2006 + 520, 3030)):
        assert read(text, from_week(near_week, 0.0)).kepler[0].reference_s == from_week(week, 172_800.0)
    # a full week is no riddle, whatever the date
    for full, near_week in ((2006, 3030), (1024, 2047)):
        there = text.replace("week:                        982", f"week: {full}").replace(
            " 982 ", f" {full} "
        )
        assert read(there, from_week(near_week, 0.0)).kepler[0].reference_s == from_week(full, 172_800.0)


def test_a_day_of_all_systems() -> None:
    orbits = sample("broadcast_2018-06-19.rnx.gz")
    assert orbits.kind == "navigation"
    assert Counter(one[0] for one in orbits.satellites) == {"G": 9, "R": 9, "E": 9, "C": 9}
    assert [(one.what, one.count) for one in orbits.skipped] == [("SBAS records", 20)]
    assert orbits.unhealthy == ("C14", "C19", "C34", "E14", "G04", "R26")
    geostationary = {one.satellite for one in orbits.kepler if one.tilted}
    assert geostationary == {"C05"}


def test_times_of_a_record_by_hand() -> None:
    # G01: toe 158 400 s of week 2006; GLONASS is in UTC: Monday 18:15 is 18:15:18 GPS time, 86 400 + 65 718
    # seconds of the week. C05: toe 169 200 s of BeiDou's week, 14 s behind GPS: 169 214 s.
    assert read(HEADER + GPS).kepler[0].reference_s == from_week(2006, 158_400.0)
    assert GLONASS.startswith("R01 2018 06 18 18 15 00")
    state = read(HEADER + GLONASS).states[0]
    assert state.reference_s == from_week(2006, 86_400.0 + 65_718.0)
    assert state.position_m == pytest.approx((1_577_503.906_250, 11_010_771.010_77, 22_963_750.0), abs=400.0)
    assert read(HEADER + record(DAY, "C05")).kepler[0].reference_s == from_week(2006, 169_214.0)


@pytest.mark.parametrize(
    ("epoch", "toe_s", "week", "second"),
    [
        # sent two hours before the week's end for its end, and in the new week for the old one's last seconds
        ("2018 06 23 22 00 00", "0.000000000000E+00", 2007, 0.0),
        ("2018 06 24 00 00 00", "6.047840000000E+05", 2006, 604_784.0),
        ("2018 06 24 00 00 00", "0.000000000000E+00", 2007, 0.0),
        # a second of 60, as some receivers round
        ("2018 06 23 23 59 60", "0.000000000000E+00", 2007, 0.0),
    ],
)  # fmt: skip
def test_over_the_weeks_end(epoch: str, toe_s: str, week: int, second: float) -> None:
    text = GPS.replace("2018 06 18 20 00 00", epoch).replace("1.584000000000E+05", toe_s)
    assert text != GPS
    one = read(HEADER + text).kepler[0]
    assert one.reference_s == from_week(week, second)
    assert one.node_rad == pytest.approx(-3.123384954275 - 7.2921151467e-5 * float(toe_s), abs=1e-12)


def test_version_4() -> None:
    orbits = sample("made_version_4.rnx")
    assert [one.satellite for one in orbits.kepler] == [
        "G01", "G03", "G08", "E01", "E01", "C05", "C11", "C12", "C13", "C14", "J01",
    ]  # fmt: skip
    assert [(one.satellite, one.healthy) for one in orbits.states] == [("R01", True), ("R02", False)]
    # C14 says so in the newer message's place; G03 says it of L5 alone
    assert orbits.unhealthy == ("C14", "R02")
    assert {one.what: one.count for one in orbits.skipped} == {
        "NavIC records": 1,
        "SBAS records": 1,
        "records of time, earth rotation and ionosphere": 3,
    }
    newer = orbits.kepler[1]
    assert (newer.axis_rate_m_s, newer.motion_offset_rate_rad_s2) == (2.5e-3, 3e-14)
    assert [one.satellite for one in orbits.kepler if one.tilted] == ["C05"]
    other = VERSION_4.replace("> EPH R01 FDMA", "> EPH R01 L1OC")
    assert {"orbits of a kind that is not read"} < {one.what for one in read(other).skipped}


def with_health(text: str, line: int, place: int, value: str) -> str:
    lines = text.split("\n")
    start = 4 + 19 * place
    lines[line] = f"{lines[line]:<80}"[:start] + f"{value:>19}" + f"{lines[line]:<80}"[start + 19 :]
    return "\n".join(lines)


@pytest.mark.parametrize(
    ("text", "place", "value", "healthy"),
    [
        (GPS, (6, 1), "0.000000000000E+00", True),
        (GPS, (6, 1), "6.300000000000E+01", False),
        (GPS, (6, 1), "1.000000000000E+00", False),
        (GPS, (6, 1), "", False),
        (GALILEO, (6, 1), "0.000000000000E+00", True),
        (GALILEO, (6, 1), "1.490000000000E+02", False),
        (GALILEO, (6, 0), "-1.000000000000E+00", False),
        (GLONASS, (1, 3), "1.000000000000E+00", False),
        (GPS.replace("G01", "J01"), (6, 1), "1.000000000000E+00", True),
        (GPS.replace("G01", "J01"), (6, 1), "3.200000000000E+01", False),
    ],
)
def test_health(text: str, place: tuple[int, int], value: str, healthy: bool) -> None:
    orbits = read(HEADER + with_health(text, *place, value))
    assert [one.healthy for one in (*orbits.kepler, *orbits.states)] == [healthy]


def test_an_unhealthy_satellite_may_say_nonsense() -> None:
    sick = with_health(GPS, 6, 1, "1.000000000000E+00")
    nonsense = sick.replace("5.153670063019E+03", "0.000000000000E+00")
    orbits = read(HEADER + GLONASS + nonsense)
    assert orbits.satellites == ("R01",)
    assert [(one.what, one.count) for one in orbits.skipped] == [
        ("unhealthy satellites without a possible orbit", 1)
    ]
    assert "sqrt(A) 0 is impossible" in refusal(
        HEADER + GPS.replace("5.153670063019E+03", "0.000000000000E+00")
    )


def test_the_same_set_again_counts_once() -> None:
    assert len(read(HEADER + GPS + GPS + GPS).kepler) == 1


def test_other_ways_of_writing() -> None:
    plain = read(HEADER + GPS).kepler
    assert read((HEADER + GPS).replace("\n", "\r\n")).kepler == plain
    assert read((HEADER + GPS).replace("E+", "D+").replace("E-", "D-")).kepler == plain
    assert read((HEADER + GPS).replace("G01", "G 1")).kepler == plain
    assert read("\ufeff".encode().decode("latin-1") + HEADER + GPS).kepler == plain
    assert read(HEADER + GPS.rstrip("\n")).kepler == plain
    unstarred = "\n".join(line for line in YUMA.split("\n") if not line.startswith("*"))
    assert read(unstarred).kepler == sample("made.alm").kepler
    packed = gzip.compress((HEADER + GPS).encode())
    pieces = [packed[at : at + 7] for at in range(0, len(packed), 7)]
    assert orbits_from("x", pieces, NEAR_S).kepler == plain
    halves = gzip.compress(HEADER.encode()) + gzip.compress(GPS.encode())
    assert orbits_from("x", [halves], NEAR_S).kepler == plain


RECORD_LINE = HEADER.count("\n") + 1
WANTED = "a YUMA or SEM almanac or a RINEX 3 or 4 navigation file is needed"
FAULTS = [
    ("", f"day.rnx: is empty: {WANTED}"),
    ("hello\n", f'day.rnx: line 1: is "hello"; {WANTED}'),
    ("PK\x03\x04", "day.rnx: is packed with zip: unpack it first; of packed files only gzip is read"),
    ("\x1f\x9d\x90", "day.rnx: is packed with compress (.Z): unpack it first"),
    (HEADER.replace("3.03", "2.11"), 'line 1: RINEX version is "2.11"; versions 3 and 4 are read'),
    (HEADER.replace("N: GNSS NAV DATA", "OBSERVATION DATA"), 'file type is "OBSERVATION DATA"; a navigation'),
    (HEADER.replace("END OF HEADER", ""), "without an end of the header; "),
    (HEADER, "holds no orbit that is read (no satellite at all)"),
    (HEADER + record(DAY, "S23"), "holds no orbit that is read (SBAS records: 1)"),
    (HEADER + GPS.replace("G01", "X01"), f'line {RECORD_LINE}: is of no known system: "X01 2018 06 "; G, R,'),
    (HEADER + GPS.replace("G01", "G00"), f'line {RECORD_LINE}: begins with "G00 "; a satellite such as'),
    (HEADER + GPS.replace("06 18 20", "13 18 20"), 'epoch "2018 13 18 20 00 00" is no date and time; year'),
    (
        HEADER + GPS.replace("2018 06", "1918 06"),
        'epoch "1918 06 18 20 00 00" is impossible; a year from 1981',
    ),
    (HEADER + GPS.replace("2018 06 18", "2018/06/18"), 'epoch is "2018/06/18 20 00 00"; year, month'),
    (
        HEADER + "\n".join(GPS.split("\n")[:5]),
        f"line {RECORD_LINE}: begins a record of G01 with 4 further lines",
    ),
    (
        HEADER + GPS.replace("7.914532092400E-03", "               nan"),
        f'line {RECORD_LINE + 2}: eccentricity is "nan"; a number from 0 to 0.5 belongs there',
    ),
    (
        HEADER + GPS.replace("7.914532092400E-03", "7.914532092400E+03"),
        f"line {RECORD_LINE + 2}: eccentricity 7914.53 is impossible; a number from 0 to 0.5 belongs there",
    ),
    (HEADER + GPS.replace("1.584000000000E+05", " " * 18), f"line {RECORD_LINE + 3}: Toe is empty; a number"),
    (
        HEADER + GLONASS.replace("2.296375000000E+04", "0.000000000000E+04"),
        f"line {RECORD_LINE + 1}: begins a position 11123 km from the earth's centre; 20000 to 30000 km",
    ),
    (HEADER + with_health(GPS, 6, 1, "-1.0"), f"line {RECORD_LINE + 6}: health -1 is impossible; a whole"),
    (VERSION_4.replace("> STO", "> XXX"), 'line 35: is "> XXX G01 LNAV'),
    (VERSION_4.replace("> EPH G03", "> EPH G05"), "announces G05; the next line should begin with it"),
    (VERSION_4.replace("> EPH G03", "> EPH Q03"), 'is of no known system: "> EPH Q03 CN'),
    (YUMA.replace("Health:   ", "Hearth:   ", 1), 'line 3: is "Hearth:                 ..."; in a YUMA'),
    (YUMA.replace("ID:   ", "week: ", 1), "line 14: gives"),
    (YUMA.replace("week:      ", "*", 1), "line 1: begins a satellite without week; 13 lines belong"),
    (YUMA.replace("Af0(s)", "Mean Anom", 1), 'line 12: gives "Mean Anom" again; each stands once'),
    (YUMA.replace("0.7913668873E-002", "0,0079", 1), 'line 4: eccentricity is "0,0079"; a number from 0'),
    (YUMA.replace("week:                        982", "week: 9999", 1), "line 14: week 9999 is impossible"),
    (SEM[:200], "of satellite 1 of 4"),
    (SEM.replace("4  MADE", "3  MADE"), "comes after the 3 satellites that line 1 announces; the file"),
    (SEM.replace("4  MADE", "5  MADE"), "is the last; satellite number of satellite 5 of 5 of a SEM"),
    (SEM.replace(" 982 172800", " 982"), "line 2: has 1 values; week and time of applicability belong there"),
    (SEM.replace("\n63\n", "\n63 1\n", 1), "line 5: has 2 values; of satellite 1 of 4 serial number belong"),
]


@pytest.mark.parametrize(("text", "told"), FAULTS, ids=range(len(FAULTS)))
def test_each_fault_is_one_clear_line(text: str, told: str) -> None:
    message = refusal(text)
    assert told in message
    assert message.startswith("day.rnx: ")
    assert "\n" not in message


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(AlmanacError, match=r"none\.alm: the file cannot be read: no such file"):
        read_orbits(str(tmp_path / "none.alm"), NEAR_S)
    with pytest.raises(AlmanacError, match="the file cannot be read"):
        read_orbits(str(tmp_path), NEAR_S)
    with pytest.raises(AlmanacError, match="the file cannot be read"):
        read_orbits("a\0b", NEAR_S)


def test_damaged_gzip() -> None:
    packed = gzip.compress((HEADER + GPS).encode())
    for data, told in (
        (packed[:-9], "ends too early"),
        (packed[:40] + b"\xff" * 40, "damaged"),
        (packed[:3], "early"),
    ):
        with pytest.raises(AlmanacError, match=told):
            orbits_from("x.gz", [data], NEAR_S)


def test_hostile_sizes(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "line 1: is longer than 400 characters" in refusal("*" * 10_000_000)
    # a bomb: a gigabyte of one letter in a megabyte
    squeezer = zlib.compressobj(9, wbits=31)
    bomb = [squeezer.compress(b"x" * 1_000_000) for _ in range(20)] + [squeezer.flush()]
    with pytest.raises(AlmanacError, match="longer than 400"):
        orbits_from("bomb", bomb, NEAR_S)
    monkeypatch.setattr(orbit_text, "MOST_LINES", 1000)
    assert "line 1001: is past 1000 lines" in refusal(HEADER + GPS * 200)
    assert "ends or goes on without an end of the header" in refusal(
        HEADER.split("\n")[0] + "\n" + "COMMENT\n" * 900
    )
    monkeypatch.setattr(rinex_navigation, "MOST_SETS", 5)
    many = "".join(GPS.replace("G01", f"G{number:02d}") for number in range(1, 9))
    assert "begins set 6" in refusal(HEADER + many)


def test_angles_of_either_convention() -> None:
    # 0 to 2 pi instead of -pi to pi
    turned = f"{-3.123384954275 + 2 * math.pi:.12E}"
    one, other = (
        read(HEADER + text).kepler[0] for text in (GPS, GPS.replace("-3.123384954275E+00", f" {turned}"))
    )
    assert other.node_rad != one.node_rad
    far = kepler_positions([one, other], [0, 1], one.reference_s)
    assert np.linalg.norm(far[0] - far[1]) < 0.01
