# ruff: noqa: E501  -- the expected lines are shown as the user sees them
"""The sections [sky], [accuracy] and [occupation]: what they become in SI units, defaults, and each fault.

Days on which clocks change, by law: in the United States on the second Sunday of March and the first of November
at 2:00 (15 U.S.C. 260a), in the European Union on the last Sundays of March and October at 1:00 UTC (directive
2000/84/EC); Lord Howe Island moves by half an hour, and Samoa left out 30 December 2011 (time zone database).
"""

from __future__ import annotations

import datetime
import zoneinfo

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from linkplan.plan.checking import Section
from linkplan.plan.clock import read_hours, read_zone
from linkplan.plan.reader import read_plan
from linkplan.plan.sky_model import Accuracy
from linkplan.plan.words import Report
from linkplan.tables.constellations import SYSTEMS

SKY = '[sky]\ndate = 2026-12-01\ntime_zone = "America/Denver"\n'


def read(job, text, **changes):
    return read_plan(job.write(job.text(**changes) + text))


def utc(text):
    return datetime.datetime.fromisoformat(text).replace(tzinfo=datetime.UTC)


def test_a_job_without_the_sections_has_usual_accuracy_and_nothing_else(job):
    plan = job.plan()
    assert (plan.sky, plan.occupation) == (None, None)
    assert plan.accuracy == Accuracy()
    assert (plan.accuracy.horizontal_m, plan.accuracy.vertical_m) == (0.008, 0.015)
    assert (plan.accuracy.horizontal_ppm, plan.accuracy.vertical_ppm) == (1.0, 1.0)
    assert plan.accuracy.assumed == ("horizontal_mm", "horizontal_ppm", "vertical_mm", "vertical_ppm")
    assert (plan.accuracy.tolerance_m, plan.accuracy.vertical_tolerance_m) == (None, None)


def test_date_and_zone_alone_ask_for_the_usual_sky(job):
    sky = read(job, SKY).sky
    # 7:00 to 17:00 mountain standard time, seven hours behind UTC
    assert (sky.hours.start_utc, sky.hours.end_utc) == (utc("2026-12-01 14:00"), utc("2026-12-02 00:00"))
    assert sky.hours.local(sky.hours.start_utc).isoformat() == "2026-12-01T07:00:00-07:00"
    assert (sky.step_s, sky.orbit_files, sky.obstructions) == (300.0, (), ())
    assert (sky.systems, sky.letters) == (("GPS", "GLONASS", "Galileo", "BeiDou"), "GREC")
    assert (sky.elevation_mask_deg, sky.rover_elevation_mask_deg) == (10.0, 10.0)
    assert (sky.least_satellites, sky.greatest_pdop) == (5, 4.0)
    assert (sky.least_common, sky.rover_greatest_pdop, sky.workable_share) == (5, 6.0, 0.9)
    assert (sky.base_gnss_height_m, sky.rover_gnss_height_m) == (2.0, 2.0)  # rover.antenna_height = 2
    assert set(sky.assumed) == {
        "least_satellites", "greatest_pdop", "least_common", "rover_greatest_pdop", "workable_share",
        "elevation_mask_deg", "systems",
    }  # fmt: skip


def test_everything_stated_in_other_units(job):
    for name in ("a.alm", "b1.rnx", "b2.rnx"):
        (job.folder / name).touch()
    text = (
        '[settings]\nsatellite_systems = "GPS, GLONASS, SBAS"\nelevation_mask_deg = 15\n'
        + SKY
        + """
        from = 06:30:00
        to = "18:00"
        step_min = 10
        orbits = ["a.alm", "b*.rnx"]
        rover_elevation_mask_deg = 20
        least_satellites = 6
        greatest_pdop = 3
        least_common = 7
        rover_greatest_pdop = 5
        workable_share = 1
        obstructions = [[350, 5], [0, 20.5], [20, 0]]
        rover_gnss_height = 10
        """
    )
    sky = read(job, text, units__height='"foot"', rover__antenna_height="6").sky
    assert [path.name for path in sky.orbit_files] == ["a.alm", "b1.rnx", "b2.rnx"]
    assert (sky.hours.start_utc, sky.hours.end_utc) == (utc("2026-12-01 13:30"), utc("2026-12-02 01:00"))
    assert (sky.systems, sky.letters) == (("GPS", "GLONASS"), "GR")  # SBAS is not computed
    assert (sky.elevation_mask_deg, sky.rover_elevation_mask_deg) == (15.0, 20.0)
    assert (sky.least_satellites, sky.greatest_pdop, sky.least_common) == (6, 3.0, 7)
    assert (sky.rover_greatest_pdop, sky.workable_share) == (5.0, 1.0)
    assert sky.obstructions == ((0.0, 20.5), (20.0, 0.0), (350.0, 5.0))
    assert sky.rover_gnss_height_m == pytest.approx(3.048)
    assert sky.assumed == ()


def test_systems_come_in_the_order_of_the_table_and_differ_from_the_sheet_with_a_word(job):
    text = '[settings]\nsatellite_systems = "GPS, GLONASS"\nelevation_mask_deg = 10\n' + SKY
    plan = read(job, text + 'systems = ["QZSS", "GPS"]\nelevation_mask_deg = 12.5')
    assert (plan.sky.systems, plan.sky.letters) == (("GPS", "QZSS"), "GJ")
    assert plan.warnings == (
        "sky.elevation_mask_deg: 12.5 degrees, but [settings] sets base and rovers to 10",
        "sky.systems: QZSS: not among the satellite systems of [settings]",
    )
    only_others = read(job, '[settings]\nsatellite_systems = "SBAS"\n' + SKY).sky
    assert only_others.letters == "GREC"
    every = ", ".join(f'"{system.name}"' for system in SYSTEMS.values())
    assert read(job, SKY + f"systems = [{every}]").sky.letters == "GRECJ"


def test_obstructions_from_a_file(job):
    (job.folder / "seen.csv").write_text("elevation,azimuth\n15,120\n0,120\n3.5,260\n")
    sky = read(job, SKY + 'obstructions_file = "seen.csv"').sky
    assert sky.obstructions == ((120.0, 15.0), (120.0, 0.0), (260.0, 3.5))


def test_the_bases_gnss_antenna_is_as_high_as_any_section_says(job):
    measured = '[occupation]\nmeasured = "arp"\nheight = 1.55\n'
    sheet = "[settings]\nbase_antenna_height = 1.65\n"
    assert read(job, SKY + measured).sky.base_gnss_height_m == 1.55
    assert read(job, SKY + sheet).sky.base_gnss_height_m == 1.65
    (job.folder / "control.csv").write_text("name,easting,northing\nB1,500100,4200100\n")
    siting = '[control]\nfile = "control.csv"\n[siting]\n'
    assert read(job, SKY + siting + "gnss_antenna_height = 1.75").sky.base_gnss_height_m == 1.75
    rules = read(job, SKY + "elevation_mask_deg = 12\n" + measured + siting).siting.rules
    assert (rules.gnss_antenna_height_m, rules.elevation_mask_deg) == (1.55, 12.0)


# Time zones


@pytest.mark.parametrize(
    ("zone", "start"),
    [
        ('"UTC"', "2026-12-01 07:00"),
        ('"+01:00"', "2026-12-01 06:00"),
        ('"-3:30"', "2026-12-01 10:30"),
        ('"Asia/Kathmandu"', "2026-12-01 01:15"),  # 5 h 45 min ahead
        ('"Pacific/Kiritimati"', "2026-11-30 17:00"),  # 14 h ahead: the day before in UTC
        ('"Etc/GMT+7"', "2026-12-01 14:00"),  # the name's sign is the other way round
    ],
)
def test_local_hours_in_and_utc_inside(job, zone, start):
    hours = read(job, SKY.replace('"America/Denver"', zone)).sky.hours
    assert hours.start_utc == utc(start)
    assert hours.end_utc - hours.start_utc == datetime.timedelta(hours=10)
    assert hours.zone_name == zone.strip('"')
    assert (hours.start_utc.tzinfo, hours.local(hours.start_utc).hour) == (datetime.UTC, 7)


def test_a_night_shift_and_a_whole_day(job):
    hours = read(job, SKY + 'from = "22:00"\nto = "06:00"').sky.hours
    assert (hours.start_utc, hours.end_utc) == (utc("2026-12-02 05:00"), utc("2026-12-02 13:00"))
    hours = read(job, SKY + 'from = "00:00"\nto = "24:00"').sky.hours
    assert (hours.start_utc, hours.end_utc) == (utc("2026-12-01 07:00"), utc("2026-12-02 07:00"))
    moments = hours.moments_utc(300.0)
    assert (len(moments), moments[0], moments[-1]) == (289, hours.start_utc, hours.end_utc)
    assert hours.moments_utc(7 * 3600.0)[-1] == utc("2026-12-02 04:00")  # 28 hours would be too late


def on(date, zone, begins, ends="23:00"):
    return f'[sky]\ndate = {date}\ntime_zone = "{zone}"\nfrom = "{begins}"\nto = "{ends}"\n'


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (on("2026-03-08", "America/Denver", "02:30"), 'sky.from = "02:30": 02:30 does not exist in America/Denver on 2026-03-08: the clocks go from 02:00 to 03:00; give a time before or after that'),
        (on("2026-03-08", "America/Denver", "02:00"), 'sky.from = "02:00": 02:00 does not exist in America/Denver on 2026-03-08: the clocks go from 02:00 to 03:00; give a time before or after that'),
        (on("2026-03-29", "Europe/Berlin", "01:00", "02:59"), 'sky.to = "02:59": 02:59 does not exist in Europe/Berlin on 2026-03-29: the clocks go from 02:00 to 03:00; give a time before or after that'),
        (on("2026-10-04", "Australia/Lord_Howe", "02:15"), 'sky.from = "02:15": 02:15 does not exist in Australia/Lord_Howe on 2026-10-04: the clocks go from 02:00 to 02:30; give a time before or after that'),
        (on("2011-12-30", "Pacific/Apia", "07:00"), 'sky.from = "07:00": 07:00 does not exist in Pacific/Apia on 2011-12-30: the clocks go from 2011-12-30 00:00 to 2011-12-31 00:00; give a time before or after that'),
    ],
)  # fmt: skip
def test_a_time_that_the_clocks_leave_out_is_a_fault(job, text, line):
    assert job.faults(job.text() + text)[0] == line


def test_the_hours_around_a_jump_are_sound(job):
    plan = read(job, on("2026-03-08", "America/Denver", "01:59", "03:00"))
    assert (plan.sky.hours.start_utc, plan.sky.hours.end_utc) == (
        utc("2026-03-08 08:59"),
        utc("2026-03-08 09:00"),
    )
    assert plan.warnings == (
        "sky.date: the clocks of America/Denver change: 1.02 hours by the clock are 0.02 hours of work",
    )


def test_a_time_that_comes_twice_is_said_and_the_longer_day_taken(job):
    plan = read(job, on("2026-11-01", "America/Denver", "01:30", "09:30"))
    assert (plan.sky.hours.start_utc, plan.sky.hours.end_utc) == (
        utc("2026-11-01 07:30"),
        utc("2026-11-01 16:30"),
    )
    assert plan.warnings == (
        "sky.from: 01:30 comes twice in America/Denver on 2026-11-01, at 07:30 and 08:30 UTC; the first is taken",
        "sky.date: the clocks of America/Denver change: 8 hours by the clock are 9 hours of work",
    )
    plan = read(job, on("2026-10-24", "Europe/Berlin", "18:00", "02:30"))
    assert plan.sky.hours.end_utc == utc("2026-10-25 01:30")
    assert plan.warnings[0] == (
        "sky.to: 02:30 comes twice in Europe/Berlin on 2026-10-25, at 00:30 and 01:30 UTC; the second is taken"
    )
    assert read(job, on("2026-11-01", "America/Denver", "02:00", "09:00")).warnings == ()


def test_without_a_zone_database_the_cure_is_said(monkeypatch):
    def none(name):
        raise zoneinfo.ZoneInfoNotFoundError(name)

    monkeypatch.setattr(zoneinfo, "ZoneInfo", none)
    monkeypatch.setattr(zoneinfo, "available_timezones", set)
    report = Report()
    assert read_zone("America/Denver", "sky.time_zone", report) is None
    assert [fault.cure for fault in report.faults] == [
        'no zone database is there: install the package tzdata, or write an offset such as "+01:00"'
    ]
    assert read_zone("UTC", "sky.time_zone", report) is datetime.UTC
    assert read_zone("+05:30", "sky.time_zone", report).utcoffset(None) == datetime.timedelta(hours=5.5)


def zone_fault(written, cure, problem="no time zone of this name is known"):
    return f'sky.time_zone = "{written}"', f'sky.time_zone = "{written}": {problem}; {cure}'


EXAMPLES = 'write a name such as "America/Denver", an offset such as "+01:00", or "UTC"'
FAULTS = [
    ('sky.time_zone = ""', 'sky.time_zone = "": empty; write, for example, time_zone = "America/Denver"'),
    zone_fault("America/Dever", 'did you mean "America/Denver"?'),
    zone_fault("america/denver", 'did you mean "America/Denver"?'),
    zone_fault("Denver", 'did you mean "America/Denver"?'),
    zone_fault("Salt Lake", EXAMPLES),
    zone_fault("America", EXAMPLES),
    zone_fault("../UTC", EXAMPLES),
    zone_fault("localtime", EXAMPLES),  # another zone on every computer
    zone_fault("right/UTC", EXAMPLES),  # counts leap seconds
    zone_fault("zone.tab", EXAMPLES),
    zone_fault("UTC+1", 'write "+01:00"'),
    zone_fault("-0700", 'write "-07:00"'),
    zone_fault("\N{MINUS SIGN}7", 'write "-07:00"'),
    zone_fault("+15:00", EXAMPLES, "no zone's clocks are so far from UTC"),
    ("sky.time_zone = 1", 'sky.time_zone = 1: text is wanted, not a number; write time_zone = "America/Denver"'),
    ("sky.time_zone", 'sky.time_zone: missing; add, for example, time_zone = "America/Denver"'),
    ("sky.date", "sky.date: missing; add, for example, date = 2026-12-01"),
    ('sky.date = "2026-12-01"', 'sky.date = "2026-12-01": a date is wanted, not text; write year-month-day: date = 2026-12-01 without quotes'),
    ("sky.date = 1979-12-01", "sky.date = 1979-12-01: no satellites are computed for it; give 1981-01-01 to 2199-12-01"),
    ("sky.date = 9999-12-31", "sky.date = 9999-12-31: no satellites are computed for it; give 1981-01-01 to 2199-12-01"),
    ("sky.from = 7", 'sky.from = 7: a time is wanted, not a number; write hours and minutes: from = "07:00"'),
    ('sky.from = "7 am"', 'sky.from = "7 am": not a time of day; write hours and minutes: from = "07:00"'),
    ('sky.from = "07:60"', 'sky.from = "07:60": not a time of day; write hours and minutes: from = "07:00"'),
    ('sky.to = "24:01"', 'sky.to = "24:01": too large; give 00:00 to 24:00'),
    ('sky.to = "07:00"', 'sky.to = "07:00": the same as sky.from: no time to work in; write from = "00:00" and to = "24:00" for a whole day'),
    ("sky.step_min = 0.5", "sky.step_min = 0.5: too small; give 1 to 60 minutes"),
    ('sky.orbits = "a.alm"', 'sky.orbits = "a.alm": a list is wanted, not text; write orbits = ["a.alm"]'),
    ('sky.orbits = ["none*.alm"]', 'sky.orbits = "none*.alm": no file fits this pattern; looked in HERE, the job file\'s folder'),
    ('sky.systems = ["Galilio"]', 'sky.systems[1] = "Galilio": not a word that goes here; did you mean "Galileo"? (there is "GPS", "GLONASS", "Galileo", "BeiDou" or "QZSS")'),
    ("sky.systems = []", 'sky.systems = []: the list is empty; write systems = ["GPS", "Galileo"]'),
    ("sky.elevation_mask_deg = 61", "sky.elevation_mask_deg = 61: too large; give 0 to 60 degrees"),
    ("sky.least_satellites = 3", "sky.least_satellites = 3: too small; give 4 to 60"),
    ("sky.greatest_pdop = 0.5", "sky.greatest_pdop = 0.5: too small; give 1 to 100"),
    ("sky.workable_share = 90", "sky.workable_share = 90: too large; give 0.01 to 1; write 0.9 for 90 %"),
    ("sky.obstructions = []", "sky.obstructions = []: the list is empty; write obstructions = [[100, 0], [120, 15], [150, 0]]"),
    ("sky.obstructions = [[10, 5], [20]]", "sky.obstructions[2] = [20]: not a direction; write [azimuth, elevation] in degrees, such as [120, 15]"),
    ("sky.obstructions = [[-10, 5]]", "sky.obstructions[1] = [-10, 5]: an azimuth runs from 0 (north) to 360 degrees, clockwise"),
    ("sky.obstructions = [[10, 95]]", "sky.obstructions[1] = [10, 95]: an elevation lies within -90 to 90 degrees"),
    ("sky.obstructions = [[10, 1], [50, 1], [40, 1], [60, 1]]", "sky.obstructions[3] = [40, 1]: azimuth 40 comes after 50; go round clockwise: azimuths ascend"),
    ("sky.obstructions = [[350, 1], [10, 1], [5, 1], [20, 1]]", "sky.obstructions[3] = [5, 1]: azimuth 5 comes after 10; go round clockwise: azimuths ascend"),
    ("sky.obstructions = [[60, 1], [50, 1], [40, 1]]", "sky.obstructions[2] = [50, 1]: azimuth 50 comes after 60; go round clockwise: azimuths ascend"),
    ('sky.obstructions_file = "bad.csv"', 'sky.obstructions_file = "bad.csv": row 3: [400.0, 10.0]: an azimuth runs from 0 (north) to 360 degrees, clockwise'),
    ('sky.obstructions_file = "back.csv"', 'sky.obstructions_file = "back.csv": row 4: azimuth 20 comes after 30; go round clockwise: azimuths ascend'),
    ('sky.obstructions_file = "bare.csv"', 'sky.obstructions_file = "bare.csv": holds no direction; give at least one row of azimuth,elevation'),
    ('sky.obstructions = [[1, 1]]\nsky.obstructions_file = "once.csv"', 'sky.obstructions_file = "once.csv": cannot stand beside obstructions; keep either obstructions or obstructions_file'),
    ("sky.mask = 5", "sky.mask = 5: unknown key; the keys here are date, from, to, time_zone, step_min, orbits, systems, elevation_mask_deg, rover_elevation_mask_deg, least_satellites, greatest_pdop, least_common, rover_greatest_pdop, workable_share, obstructions, obstructions_file, rover_gnss_height"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "line"), FAULTS, ids=[one[1][:60] for one in FAULTS])
def test_a_fault_of_the_sky_names_key_and_cure(job, change, line):
    (job.folder / "bad.csv").write_text("azimuth,elevation\n10,10\n400,10\n")
    (job.folder / "back.csv").write_text("azimuth,elevation\n10,10\n30,10\n20,10\n40,0\n")
    (job.folder / "bare.csv").write_text("azimuth,elevation\n")
    (job.folder / "once.csv").write_text("azimuth,elevation\n10,10\n")
    lines = dict(one.split(" = ", 1) for one in SKY.splitlines()[1:])
    for one in change.replace("sky.", "").split("\n"):
        key, _, value = one.partition(" = ")
        lines[key] = value
    text = "[sky]\n" + "".join(f"{key} = {value}\n" for key, value in lines.items() if value)
    assert job.faults(job.text() + text) == [line]


# Accuracy

CONTROL = '[control]\nfile = "control.csv"\n[siting]\n'
ZONE = '[[siting.zones]]\nname = "road"\ncoordinates = [[500100, 4200100], [500200, 4200100], [500200, 4200200]]\n'


@pytest.fixture
def siting_job(job):
    (job.folder / "control.csv").write_text("name,easting,northing,height\nB1,500100,4200100,410\n")
    return job


def test_accuracy_in_metres_with_what_is_assumed(job):
    accuracy = read(
        job,
        "[accuracy]\nhorizontal_mm = 10\nvertical_ppm = 1.5\ntolerance_mm = 20\nvertical_tolerance_mm = 40",
    ).accuracy
    assert (accuracy.horizontal_m, accuracy.horizontal_ppm) == (0.010, 1.0)
    assert (accuracy.vertical_m, accuracy.vertical_ppm) == (0.015, 1.5)
    assert accuracy.assumed == ("horizontal_ppm", "vertical_mm")
    assert (accuracy.tolerance_m, accuracy.vertical_tolerance_m) == (0.020, 0.040)


def test_siting_and_the_whole_job_have_one_accuracy(siting_job):
    for text in (
        "[accuracy]\nhorizontal_mm = 10\nhorizontal_ppm = 2\ntolerance_mm = 30\n" + CONTROL,
        CONTROL + "accuracy_mm = 10\naccuracy_ppm = 2\ntolerance_mm = 30\n",
        "[accuracy]\nhorizontal_mm = 10.0\n"
        + CONTROL
        + "accuracy_mm = 10\naccuracy_ppm = 2\ntolerance_mm = 30\n",
    ):
        plan = read(siting_job, text)
        rules, accuracy = plan.siting.rules, plan.accuracy
        assert (rules.accuracy_m, rules.accuracy_ppm, rules.tolerance_m) == (0.010, 2.0, 0.030)
        assert (accuracy.horizontal_m, accuracy.horizontal_ppm, accuracy.tolerance_m) == (0.010, 2.0, 0.030)
        assert accuracy.assumed == ("vertical_mm", "vertical_ppm")


def test_a_zone_has_a_tolerance_of_its_own(siting_job):
    zones = read(
        siting_job, CONTROL + ZONE + "tolerance_mm = 12\n" + ZONE.replace("road", "yard")
    ).siting.zones
    assert [zone.tolerance_m for zone in zones] == [0.012, None]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[accuracy]\nhorizontal_mm = 10\n" + CONTROL + "accuracy_mm = 8", "siting.accuracy_mm = 8: [accuracy] says horizontal_mm = 10; keep one of the two"),
        ("[accuracy]\nhorizontal_ppm = 2\n" + CONTROL + "accuracy_ppm = 1", "siting.accuracy_ppm = 1: [accuracy] says horizontal_ppm = 2; keep one of the two"),
        ("[accuracy]\ntolerance_mm = 30\n" + CONTROL + "tolerance_mm = 20", "siting.tolerance_mm = 20: [accuracy] says tolerance_mm = 30; keep one of the two"),
        ("[accuracy]\ntolerance_mm = 8", "accuracy.tolerance_mm = 8: not above accuracy.horizontal_mm, 8 mm, which is the least beside the base; give more than 8, or the receivers' own horizontal_mm"),
        ("[accuracy]\nvertical_tolerance_mm = 12", "accuracy.vertical_tolerance_mm = 12: not above accuracy.vertical_mm, 15 mm, which is the least beside the base; give more than 15, or the receivers' own vertical_mm"),
        ("[accuracy]\ntolerance_mm = 9\n" + CONTROL + "accuracy_mm = 9.5", "accuracy.tolerance_mm = 9: not above siting.accuracy_mm, 9.5 mm, which is the least beside the base; give more than 9.5, or the receivers' own accuracy_mm"),
        (CONTROL + ZONE + "tolerance_mm = 5", "siting.zones[1].tolerance_mm = 5: not above accuracy.horizontal_mm, 8 mm, which is the least beside the base; give more than 8, or the receivers' own horizontal_mm"),
        ("[accuracy]\nhorizontal_mm = 0.01", "accuracy.horizontal_mm = 0.01: too small; give 0.1 to 1000 mm"),
    ],
)  # fmt: skip
def test_a_fault_of_accuracy_names_key_and_cure(siting_job, text, line):
    assert siting_job.faults(siting_job.text() + text) == [line]


# Occupation

SLANT = '[occupation]\nmeasured = "slant"\nheight = 1.7\nantenna_radius_mm = 800\nmark_above_arp_mm = 60\n'
"""8-15-17: the mark is 1.5 m high, the reference point 1.44 m."""


def test_an_antenna_height_becomes_that_of_the_reference_point(job):
    occupation = read(job, SLANT + "radio_above_arp = 3.56").occupation
    assert (occupation.origin, occupation.averaging_s, occupation.checks) == (None, None, ())
    assert (occupation.measured.method, occupation.measured.reading_m) == ("slant", 1.7)
    assert (occupation.measured.radius_m, occupation.measured.mark_above_arp_m) == (0.8, 0.06)
    assert occupation.arp_height_m == pytest.approx(1.44, abs=1e-12)
    assert occupation.radio_height_m == pytest.approx(5.0)
    assert occupation.measured.readings_m == pytest.approx({"slant": 1.7, "vertical": 1.5, "arp": 1.44})


def test_heights_of_an_occupation_in_feet_and_the_antennas_own_in_millimetres(job):
    text = '[occupation]\nmeasured = "vertical"\nheight = 6\nmark_above_arp_mm = -30\nradio_above_arp = -1\n'
    occupation = read(job, text, units__height='"foot"', base__antenna_height="5.1").occupation
    assert occupation.arp_height_m == pytest.approx(1.8288 + 0.03)
    assert occupation.radio_height_m == pytest.approx(1.8288 + 0.03 - 0.3048)


def test_a_control_point_is_known_and_other_positions_are_compared(siting_job):
    changes = {"base__position": None, "base__point": '"B1"', "control__file": '"control.csv"'}
    text = """[occupation]
        [[occupation.checks]]
        position = [500101.5, 4200099]
        height = 411
        method = "averaged"
        averaging_s = 600
        [[occupation.checks]]
        name = "list"
        point = "B1"
    """
    occupation = read(siting_job, text, **changes).occupation
    assert occupation.origin == "known"
    one, other = occupation.checks
    assert (one.name, one.easting, one.northing, one.height_m) == ("check 1", 500101.5, 4200099.0, 411.0)
    assert (one.origin, one.averaging_s) == ("averaged", 600.0)
    assert (other.name, other.easting, other.height_m, other.origin) == ("list", 500100.0, 410.0, "known")
    plan = read(siting_job, '[occupation]\nmethod = "averaged"\naveraging_s = 60\n', **changes)
    assert plan.warnings == (
        "occupation.method: averaged, but base.point takes the coordinates that [control] has for B1",
    )


def test_the_radio_antennas_height_is_held_against_the_base(job):
    assert read(job, SLANT + "radio_above_arp = 3.52").warnings == ()  # 4.96 m for 5 m
    assert read(job, SLANT + "radio_above_arp = 3.5").warnings == (
        "base.antenna_height: 5.000 m, but [occupation] puts the radio antenna at 4.940 m above ground; "
        "coverage counts with the former",
    )


def sheet(height, method=None):
    return f"[settings]\nbase_antenna_height = {height}\n" + (
        f'base_antenna_height_method = "{method}"\n' if method else ""
    )


@pytest.mark.parametrize(
    ("height", "method"),
    [
        (1.44, "vertical, mark to antenna reference point"), (1.4405, "to ARP"), (1.44, "vertical"), (1.5, "vertical"),
        (1.7, "slant"), (1.7, "along the slope"), (1.7, "by hook"), (1.5, None),
    ],
)  # fmt: skip
def test_a_sheets_antenna_height_that_agrees(job, height, method):
    plan = read(job, sheet(height, method) + SLANT)
    assert plan.warnings == ()
    assert float(plan.settings.values["base_antenna_height"].number) == height


@pytest.mark.parametrize(
    ("height", "method", "said", "hint"),
    [
        (1.7, "vertical, mark to ARP", ', "vertical, mark to ARP",', "; it looks like the one slant to the measuring mark"),
        (1.7, "vertical", ', "vertical",', "; it looks like the one slant to the measuring mark"),
        (1.44, "slant", ', "slant",', "; it looks like the one vertical to the antenna reference point"),
        (1.442, None, "", ""),
    ],
)  # fmt: skip
def test_a_sheets_antenna_height_that_does_not_agree_is_warned_of(job, height, method, said, hint):
    assert read(job, sheet(height, method) + SLANT).warnings == (
        f"settings.base_antenna_height: {height:.3f} m{said} does not agree with [occupation], which gives 1.700 m "
        "slant to the measuring mark, 1.500 m vertical to the measuring mark, 1.440 m vertical to the antenna "
        f"reference point{hint}",
    )


def stated(plan):
    names = ("base_antenna_height", "base_antenna_height_method")
    return [plan.settings.values[name].shown if name in plan.settings.values else None for name in names]


def test_a_silent_sheet_takes_the_height_that_was_measured(job):
    arp = ["1.440 m", "vertical to the antenna reference point"]
    assert stated(read(job, SLANT)) == arp
    assert stated(read(job, "[settings]\nbase_antenna = 'x'\n" + SLANT)) == arp
    method = "[settings]\nbase_antenna_height_method = 'slant to the notch'\n"
    assert stated(read(job, method + SLANT)) == ["1.700 m", "slant to the notch"]
    # where it was measured to cannot be told: left to the crew
    assert stated(read(job, method.replace("slant to the notch", "by hook") + SLANT)) == [None, "by hook"]
    assert read(job, "[occupation]\nmethod = 'known'\n").settings is None


OCCUPATION_FAULTS = [
    ('[[occupation.checks]]\nposition = [500200, 4200300]\nmethod = "known"', 'occupation.method: missing: nothing says how the base\'s own coordinates were come by; add method = "known", or method = "averaged" with averaging_s'),
    ('measured = "slant"\nheight = 0.7\nantenna_radius_mm = 800\nmark_above_arp_mm = 60', "occupation.height = 0.7: a slant of 0.7 m is not longer than the antenna's radius, 0.8 m: impossible; measure again, and check the antenna's data (in millimetres)"),
    ('measured = "vertical"\nheight = 0.05\nmark_above_arp_mm = 60', "occupation.height = 0.05: vertical 0.05 m to a mark 0.06 m above the antenna's reference point puts that point below the ground: impossible; measure again, and check the antenna's data (in millimetres)"),
    ('measured = "slant"\nheight = 1.7\nmark_above_arp_mm = 60', 'occupation.antenna_radius_mm: missing: measured = "slant" needs it; add how far the measuring mark is from the antenna\'s axis'),
    ('measured = "vertical"\nheight = 1.7', 'occupation.mark_above_arp_mm: missing: measured = "vertical" needs it; add how far the measuring mark is above the antenna reference point, 0 where it is that point'),
    ('measured = "arp"', "occupation.height: missing; it goes with measured; add, for example, height = 1.874"),
    ("height = 1.7", 'occupation.measured: missing; it goes with height; add, for example, measured = "slant"'),
    ("radio_above_arp = 3", "occupation.radio_above_arp = 3: goes with measured and height; add them, or leave it out"),
    ('measured = "arp"\nheight = 1.7\nradio_above_arp = -2', "occupation.radio_above_arp = -2: 2 m below what stands 1.7 m high lies below the ground: impossible; check it, and height"),
    ('measured = "arp"\nheight = 51', "occupation.height = 51: too large; give 0 to 50 m"),
    ('measured = "slope"\nheight = 1', 'occupation.measured = "slope": not a word that goes here; write "vertical", "slant" or "arp"'),
    ('measured = "slant"\nheight = 1.7\nantenna_radius_mm = 0.173\nmark_above_arp_mm = 1001', "occupation.mark_above_arp_mm = 1001: too large; give -1000 to 1000 mm"),
    ('method = "averaged"', 'occupation.averaging_s: missing: method = "averaged" needs it; add for how many seconds, such as averaging_s = 600'),
    ('method = "known"\naveraging_s = 60', 'occupation.averaging_s = 60: goes with method = "averaged"; add method = "averaged", or leave it out'),
    ('method = "guessed"', 'occupation.method = "guessed": not a word that goes here; write "known" or "averaged"'),
    ('method = "known"\n[[occupation.checks]]\nposition = [500200, 4200300]', "occupation.checks[1].method: missing: nothing says how these coordinates were come by; add method = \"averaged\" with averaging_s, or method = \"known\""),
    ('method = "known"\n[[occupation.checks]]\nname = "x"', "occupation.checks[1].position: missing; add either position or point, for example position = [500200, 4200300]"),
    ('method = "known"\n[[occupation.checks]]\npoint = "B1"', 'occupation.checks[1].point = "B1": there is no [control] to find this point in; add [control] with file = "control.csv", or give occupation.checks[1].position'),
    ('method = "known"\n[[occupation.checks]]\nposition = [12, 42]\nmethod = "known"', "occupation.checks[1].position = [12, 42]: looks like degrees, but the job's coordinates are in metres (WGS 84 / UTM zone 11N); give easting and northing of job.crs"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "line"), OCCUPATION_FAULTS, ids=[one[1][:60] for one in OCCUPATION_FAULTS])
def test_a_fault_of_the_occupation_names_key_and_cure(job, text, line):
    assert job.faults(job.text() + "[occupation]\n" + text) == [line]


def test_the_sections_stay_silent_where_the_rest_of_the_job_is_faulty(job):
    lines = job.faults(
        job.text(job__crs='"EPSG:0"', units__height='"yard"', rover__antenna_height=None) + SKY + SLANT
    )
    assert [line.split(" = ")[0].split(":")[0] for line in lines] == [
        "job.crs",
        "rover.antenna_height",
        "units.height",
    ]


def test_numbers_that_are_none_in_directions(job):
    for text in ("nan", "inf", "true", '"1"'):
        lines = job.faults(job.text() + SKY + f"obstructions = [[{text}, 1]]")
        assert len(lines) == 1
        assert "not a direction" in lines[0]


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(
        ["America/Denver", "Europe/Berlin", "Australia/Lord_Howe", "Africa/Casablanca", "Asia/Gaza"]
    ),
    st.dates(datetime.date(2024, 1, 1), datetime.date(2027, 12, 31)),
    st.integers(0, 24 * 60 - 1),
    st.integers(0, 24 * 60),
)
def test_every_start_and_end_shows_on_local_clocks_or_is_a_fault(zone, date, begins, ends):
    assume(begins != ends)
    start, end = (datetime.timedelta(minutes=minutes) for minutes in (begins, ends))
    values = {"date": date, "time_zone": zone, "from": start, "to": end}
    report = Report()
    hours = read_hours(Section(values, frozenset(values)), report)
    midnight = datetime.datetime.combine(date, datetime.time())
    wanted = midnight + start, midnight + end + datetime.timedelta(days=ends < begins)
    # by the standard library's own arithmetic: a local time exists where the way there and back returns it
    there = zoneinfo.ZoneInfo(zone)
    exists = [
        one.replace(tzinfo=there).astimezone(datetime.UTC).astimezone(there).replace(tzinfo=None) == one
        for one in wanted
    ]
    assert [fault.key for fault in report.faults] == [
        key for key, sound in zip(("sky.from", "sky.to"), exists, strict=True) if not sound
    ]
    if hours is not None:
        shown = [hours.local(one).replace(tzinfo=None) for one in (hours.start_utc, hours.end_utc)]
        assert shown == list(wanted)
        assert hours.start_utc < hours.end_utc
        assert (hours.start_utc.tzinfo, hours.end_utc.tzinfo) == (datetime.UTC, datetime.UTC)
    else:
        assert report.faults
