# ruff: noqa: E501  -- the expected lines are shown as the user sees them
"""Every fault of a single value: one line with key, value, what is wrong and what would be right."""

from __future__ import annotations

import pytest

# key -> value in the file -> the whole line after the file's name.
ONE_FAULT = [
    ("base__heigth", "5", "base.heigth = 5: unknown key; did you mean height?"),
    (
        "base__antena_height",
        "5",
        "base.antena_height = 5: unknown key; antenna_height stands here already, so leave this out",
    ),
    (
        "base__colour",
        '"red"',
        'base.colour = "red": unknown key; the keys here are position, point, height, antenna_height, serves, slot',
    ),
    (
        "base__position",
        "5",
        "base.position = 5: not a pair of possible coordinates; write [easting, northing]",
    ),
    (
        "base__position",
        "[500200.0, 4200300, 412]",
        "base.position = [500200.0, 4200300, 412]: not a pair of possible coordinates; "
        "write [easting, northing], and a height in a key of its own",
    ),
    (
        "base__position",
        "[500200, inf]",
        "base.position = [500200, inf]: not a pair of possible coordinates; write [easting, northing]",
    ),
    (
        "base__position",
        "[-117.5, 46.25]",
        "base.position = [-117.5, 46.25]: looks like degrees, but the job's coordinates are in metres "
        "(WGS 84 / UTM zone 11N); give easting and northing of job.crs",
    ),
    ("base__antenna_height", "0", "base.antenna_height = 0: too small; give 0.1 to 300 m"),
    (
        "base__antenna_height",
        "-2.50",
        "base.antenna_height = -2.50: too small; give 0.1 to 300 m; did you mean 2.5?",
    ),
    ("base__antenna_height", "400", "base.antenna_height = 400: too large; give 0.1 to 300 m"),
    (
        "base__antenna_height",
        '"5 m"',
        'base.antenna_height = "5 m": a number is wanted, not text; '
        "write a bare number in metres (units.height), such as antenna_height = 5",
    ),
    (
        "base__antenna_height",
        "true",
        "base.antenna_height = true: a number is wanted, not true or false; "
        "write a bare number in metres (units.height), such as antenna_height = 5",
    ),
    (
        "base__antenna_height",
        "nan",
        "base.antenna_height = nan: a number is wanted, not one that is infinite or undefined; "
        "write a bare number in metres (units.height), such as antenna_height = 5",
    ),
    (
        "base__antenna_height",
        "[5]",
        "base.antenna_height = [5]: a number is wanted, not a list; "
        "write a bare number in metres (units.height), such as antenna_height = 5",
    ),
    (
        "base__antenna_height",
        "2026-05-01",
        "base.antenna_height = 2026-05-01: a number is wanted, not a date or time; "
        "write a bare number in metres (units.height), such as antenna_height = 5",
    ),
    (
        "base__antenna_height",
        "{ value = 5 }",
        "base.antenna_height = {value = 5}: a number is wanted, not a table; "
        "write a bare number in metres (units.height), such as antenna_height = 5",
    ),
    ("base__height", "12000", "base.height = 12000: too large; give -500 to 9000 m"),
    (
        "base__point",
        '"CP1"',
        'base.point = "CP1": cannot stand beside position; keep either position or point',
    ),
    ("radio__frequency_mhz", "29.9", "radio.frequency_mhz = 29.9: too small; give 30 to 6000 MHz"),
    ("radio__frequency_mhz", "6000.1", "radio.frequency_mhz = 6000.1: too large; give 30 to 6000 MHz"),
    (
        "radio__frequency_mhz",
        None,
        "radio.frequency_mhz: missing; add, for example, frequency_mhz = 450.0",
    ),
    (
        "radio__channel_spacing_khz",
        "12500",
        "radio.channel_spacing_khz = 12500: too large; give 1 to 1000 kHz (12.5 and 25 are usual)",
    ),
    ("radio__power_w", "0", "radio.power_w = 0: too small; give 0.001 to 1000 W"),
    ("radio__power_w", "5000", "radio.power_w = 5000: too large; give 0.001 to 1000 W"),
    (
        "radio__power_w",
        None,
        "radio.power_w: missing; add either power_w or power_dbm, for example power_w = 10",
    ),
    (
        "radio__power_dbm",
        "40",
        "radio.power_dbm = 40: cannot stand beside power_w; keep either power_w or power_dbm",
    ),
    (
        "radio__polarization",
        '"horizontal"',
        'radio.polarization = "horizontal": not a word that goes here; '
        'write "vertical" (maps are computed for it alone)',
    ),
    ("radio__antenna_gain_dbi", "50", "radio.antenna_gain_dbi = 50: too large; give -20 to 30 dBi"),
    (
        "radio__antenna_gain_dbd",
        "3",
        "radio.antenna_gain_dbd = 3: cannot stand beside antenna_gain_dbi; "
        "keep either antenna_gain_dbi or antenna_gain_dbd",
    ),
    (
        "radio__antenna_gain_dbi",
        None,
        "radio.antenna_gain_dbi: missing; "
        "add either antenna_gain_dbi or antenna_gain_dbd, for example antenna_gain_dbi = 2.0",
    ),
    (
        "radio__antenna_pattern",
        '"whip.csv"',
        'radio.antenna_pattern = "whip.csv": no such file; looked in HERE, the job file\'s folder',
    ),
    (
        "radio__feeder_loss_db",
        "-1.5",
        "radio.feeder_loss_db = -1.5: too small; give 0 to 60 dB (a loss is positive); did you mean 1.5?",
    ),
    (
        "radio__feeder_length",
        "10",
        "radio.feeder_length = 10: cannot stand beside feeder_loss_db; "
        "keep either feeder_loss_db or feeder_length with feeder_loss_db_per_100m",
    ),
    (
        "radio__feeder_loss_db",
        None,
        "radio.feeder_loss_db: missing; add either feeder_loss_db or "
        "feeder_length with feeder_loss_db_per_100m, for example feeder_loss_db = 1.0",
    ),
    (
        "rover__sensitivity_dbm",
        "110",
        "rover.sensitivity_dbm = 110: too large; give -150 to -30 dBm; did you mean -110?",
    ),
    (
        "rover__sensitivity_dbm",
        None,
        "rover.sensitivity_dbm: missing; add at least one of sensitivity_dbm, required_snr_db, modulation",
    ),
    (
        "rover__modulation",
        '"gfsk"',
        'rover.modulation = "gfsk": not a word that goes here; did you mean "gmsk"? '
        '(there is "2-level-fsk", "gmsk", "4-level-fsk", "8-level-fsk" or "16-level-fsk")',
    ),
    ("rover__body_loss", "3", "rover.body_loss = 3: unknown key; did you mean body_loss_db?"),
    (
        "rover__noise_figure_db",
        "-1",
        "rover.noise_figure_db = -1: too small; give 0 to 30 dB; did you mean 1?",
    ),
    (
        "environment__noise",
        '"urban"',
        'environment.noise = "urban": not a word that goes here; '
        'write "city", "residential", "rural" or "quiet-rural"',
    ),
    (
        "environment__refractivity_gradient_n_units_per_km",
        "-45",
        "environment.refractivity_gradient_n_units_per_km = -45: too small; give 0 to 150 N-units/km "
        "(the fall with height, written positive); did you mean 45?",
    ),
    ("goal__chance", "95", "goal.chance = 95: too large; give 0.5 to 0.999; write 0.95 for 95 %"),
    ("goal__chance", "1.0", "goal.chance = 1.0: too large; give 0.5 to 0.999"),
    ("goal__share", "98", "goal.share = 98: too large; give 0.01 to 1; write 0.98 for 98 %"),
    ("goal__baseline_limit", "0", "goal.baseline_limit = 0: too small; give 1 to 200000 m"),
    ("job__name", "5", 'job.name = 5: text is wanted, not a number; write name = "East pit"'),
    ("job__name", '" "', 'job.name = " ": empty; write, for example, name = "East pit"'),
    (
        "job__name",
        r'"East\npit"',
        r'job.name = "East\npit": has a line break or an unprintable character; write it in one line',
    ),
    (
        "job__crs",
        '"EPSG:999999"',
        'job.crs = "EPSG:999999": no coordinate system of this name is known; '
        'write an EPSG code such as "EPSG:32611" (UTM zone 11 north)',
    ),
    (
        "job__crs",
        '"EPSG:4978"',
        'job.crs = "EPSG:4978": Geocentric CRS is no system of easting and northing or of longitude and '
        'latitude; write an EPSG code such as "EPSG:32611" (UTM zone 11 north)',
    ),
    ("job__crs", None, 'job.crs: missing; add, for example, crs = "EPSG:32611"'),
    (
        "units__height",
        '"feet"',
        'units.height = "feet": not a word that goes here; write "metre", "foot" or "us-survey-foot"',
    ),
    (
        "terrain__files",
        '"dem.tif"',
        'terrain.files = "dem.tif": a list is wanted, not text; write files = ["dem.tif"]',
    ),
    ("terrain__files", "[]", 'terrain.files = []: the list is empty; write files = ["terrain/*.tif"]'),
    (
        "terrain__files",
        '["den.tif"]',
        'terrain.files = "den.tif": no such file; looked in HERE, the job file\'s folder; '
        'did you mean "dem.tif"?',
    ),
    (
        "terrain__files",
        '["dem.tif", 7]',
        'terrain.files = 7: a file name is wanted in the list, not a number; write files = ["terrain/*.tif"]',
    ),
    (
        "terrain__files",
        '["tiles/*.tif"]',
        'terrain.files = "tiles/*.tif": no file fits this pattern; looked in HERE, the job file\'s folder',
    ),
    (
        "terrain__files",
        '["tiles/a.tif"]',
        'terrain.files = "tiles/a.tif": no such file; looked in HERE, the job file\'s folder; '
        'there is no folder "HERE/tiles" either',
    ),
    (
        "terrain__files",
        '["."]',
        'terrain.files = ".": this is a folder, not a file; name the file in it',
    ),
    (
        "terrain__files",
        r'["a\u0000.tif"]',
        r'terrain.files = "a\u0000.tif": not a file name; write a path such as "terrain/site.tif"',
    ),
    (
        "terrain__cell_size",
        "0.05",
        "terrain.cell_size = 0.05: too small; give 0.2 to 1000 m",
    ),
    (
        "clutter__file",
        '"dem.tif"',
        'clutter.classes: missing; add, for example, classes = { 1 = { name = "trees", height = 12 } }',
    ),
    (
        "control__layer",
        '"points"',
        'control.file: missing; add, for example, file = "control.csv"',
    ),
    (
        "boundary__coordinates",
        "[[500000, 4200000], [501000, 4201000], [501000, 4200000], [500000, 4201000]]",
        "boundary.coordinates = [[500000, 4200000], [501000, 4201000], [501000, 4200000], [500000, ...: "
        "crosses itself at 500500, 4200500; list the corners in order around the job",
    ),
    (
        "boundary__coordinates",
        "[[500000, 4200000], [501000, 4201000]]",
        "boundary.coordinates = [[500000, 4200000], [501000, 4201000]]: 2 different points make no area; "
        "give at least three corners",
    ),
    (
        "boundary__coordinates",
        "[]",
        "boundary.coordinates = []: 0 different points make no area; give at least three corners",
    ),
    (
        "boundary__coordinates",
        '[[500000, 4200000], ["501000", 4201000], [501000, 4200000]]',
        'boundary.coordinates = ["501000", 4201000]: point 2: not a pair of possible coordinates; '
        "write [easting, northing]",
    ),
    (
        "boundary__coordinates",
        '"around the pit"',
        'boundary.coordinates = "around the pit": a list of points is wanted, not text; '
        "write [[easting, northing], [easting, northing], [easting, northing]]",
    ),
    (
        "boundary__coordinates",
        "[[-117, 46], [-117.1, 46], [-117.1, 46.1]]",
        "boundary.coordinates = [[-117, 46], [-117.1, 46], [-117.1, 46.1]]: looks like degrees, but the "
        "job's coordinates are in metres (WGS 84 / UTM zone 11N); give easting and northing of job.crs",
    ),
    (
        "boundary__layer",
        '"limit"',
        'boundary.layer = "limit": goes with boundary.file only; leave it out',
    ),
    (
        "boundary__coordinates",
        None,
        'boundary.file: missing; add either file or coordinates, for example file = "boundary.gpkg"',
    ),
]


@pytest.mark.parametrize(("key", "value", "line"), ONE_FAULT, ids=[f"{k}={v}"[:60] for k, v, _ in ONE_FAULT])
def test_one_fault_is_one_line(job, key, value, line):
    assert job.faults(**{key: value}) == [line]


def test_a_misspelt_key_is_not_called_missing_as_well(job):
    assert job.faults(base__antenna_height=None, base__antena_height="5") == [
        "base.antena_height = 5: unknown key; did you mean antenna_height?"
    ]
    assert job.faults(radio__power_w=None, radio__power_watt="5") == [
        "radio.power_watt = 5: unknown key; did you mean power_w?"
    ]


def test_straight_line_of_corners_has_no_area(job):
    corners = "[[500000, 4200000], [500500, 4200500], [501000, 4201000]]"
    assert job.faults(boundary__coordinates=corners) == [
        f"boundary.coordinates = {corners}: has no area: its corners lie on one line; "
        "list the corners in order around the job"
    ]


def test_all_faults_come_at_once_in_the_order_of_the_file(job):
    lines = job.faults(
        text="""
        power = 3
        [rover]
        antenna_height = -2
        sensitivity_dbm = 110
        [radio]
        power_w = 0
        frequency_mhz = 45000
        bandwith = 5
        [site]
        [base]
        antena_height = 5
        position = [500000, 4200000]
        [job]
        name = ""
        """
    )
    assert [line.split(" = ")[0].split(":")[0] for line in lines] == [
        "power",
        "rover.antenna_height",
        "rover.sensitivity_dbm",
        "rover.antenna_gain_dbi",
        "radio.power_w",
        "radio.frequency_mhz",
        "radio.bandwith",
        "radio.channel_spacing_khz",
        "radio.antenna_gain_dbi",
        "radio.feeder_loss_db",
        "site",
        "base.antena_height",
        "job.name",
        "job.crs",
        "boundary",
        "terrain",
    ]
    assert "boundary: this table is missing; add [boundary] with file, or coordinates" in lines


def test_limits_are_shown_in_the_jobs_own_unit(job):
    assert job.faults(units__height='"foot"', base__antenna_height="0") == [
        "base.antenna_height = 0: too small; give 0.3281 to 984.3 ft (0.1 to 300 m)"
    ]
    assert job.faults(units__length='"us-survey-foot"', goal__baseline_limit='"3 miles"') == [
        'goal.baseline_limit = "3 miles": a number is wanted, not text; '
        "write a bare number in US survey feet (units.length), such as baseline_limit = 3"
    ]


def test_an_unknown_unit_still_lets_impossible_signs_be_found(job):
    lines = job.faults(units__height='"yard"', base__antenna_height="-5", rover__antenna_height="2")
    assert [line.split(" = ")[0] for line in lines] == ["base.antenna_height", "units.height"]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[raido]\n", "raido: unknown table; did you mean [radio]?"),
        ("[unit]\n[units]\n", "unit: unknown table; [units] stands in the file already; move the keys there"),
        ("radio = 5\n", "radio = 5: a table is wanted here; write [radio] on a line of its own"),
        ("[[radio]]\n", "radio: one table is wanted here, not a list; write [radio] on a line of its own"),
        ("antenna_pattern = 5\n", "antenna_pattern = 5: unknown key; it belongs in the table [radio]"),
        ('"a\\nb" = 1\n', '"a\\nb" = 1: unknown key; the tables are [job], [units], [boundary], [terrain], '
         "[clutter], [control], [base], [radio], [rover], [environment], [calibration], [goal], [settings], [corrections], "
         "[framing], [supply], [licence], [[bases]], [[others]], [[heard]], [interference], [sky], [accuracy], [occupation], [siting], [safety]"),
    ],
)  # fmt: skip
def test_tables_by_wrong_names_or_kinds(job, text, line):
    lines = job.faults(text=text)
    assert line in lines
    # A table meant by a misspelt name is not called missing as well.
    if line.startswith("ra"):
        assert not any(one.startswith("radio: this table is missing") for one in lines)


@pytest.mark.parametrize(
    ("classes", "line"),
    [
        ("5", "clutter.classes = 5: a table of classes is wanted, not a number; write [clutter.classes] and "
         'below it a line a class: 1 = { name = "trees", height = 12 }'),
        ("{}", "clutter.classes = {}: no class is given; write [clutter.classes] and "
         'below it a line a class: 1 = { name = "trees", height = 12 }'),
        ('{ trees = { name = "trees", height = 12 } }',
         'clutter.classes.trees = {name = "trees", height = 12}: a class goes by its whole number in the '
         'raster; write 1 = { name = "trees", height = 12 }'),
        ('{ 07 = { name = "trees", height = 12 } }',
         'clutter.classes.07 = {name = "trees", height = 12}: a class goes by its whole number in the '
         'raster; write 1 = { name = "trees", height = 12 }'),
        ("{ 7 = 12 }", "clutter.classes.7 = 12: a name and a height are wanted, not a number; "
         'write 1 = { name = "trees", height = 12 }'),
        ('{ 7 = { name = "trees", height = -1 } }', "clutter.classes.7.height = -1: too small; give 0 to 300 m; "
         "did you mean 1?"),
        ('{ 7 = { name = "trees", hight = 1 } }', "clutter.classes.7.hight = 1: unknown key; did you mean height?"),
        ("{ 7 = { height = 1 } }", 'clutter.classes.7.name: missing; add, for example, name = "trees"'),
    ],
)  # fmt: skip
def test_clutter_classes(job, classes, line):
    assert job.faults(clutter__file='"dem.tif"', clutter__classes=classes) == [line]


@pytest.mark.parametrize(
    ("crs", "position", "problem"),
    [
        ('"EPSG:4326"', "[500200, 4200300]", "not degrees, but the job's coordinates are in degrees (WGS 84); "
         "give longitude and latitude, or set job.crs to the system meant"),
        ('"EPSG:4326"', "[46.5, -117.0]", "latitude beyond 90 degrees; write longitude first, then latitude"),
        ('"EPSG:4326"', "[243.0, 37.9]", "longitude beyond 180 degrees; "
         "write longitudes west of Greenwich negative"),
        ('"EPSG:32611"', "[5e8, 4200300]", "lies outside what WGS 84 / UTM zone 11N can express; "
         "check the numbers, their order and job.crs"),
    ],
)  # fmt: skip
def test_coordinates_absurd_for_the_system(job, crs, position, problem):
    lines = job.faults(job__crs=crs, base__position=position)
    assert f"base.position = {position}: {problem}" in lines


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"[job\n", "not valid TOML in line 1, column 5: [job (expected ']' at the end of a table declaration)"),
        (b"[base]\nantenna_height = 5 m\n", "not valid TOML in line 2, column 20: antenna_height = 5 m (expected "
         "newline or end of document after a statement); one key = value a line; a number takes no unit, and "
         "text stands in double quotes"),
        (b'[job]\nname = "East pit\n', 'not valid TOML in line 2, column 17: name = "East pit (illegal '
         "character '\\n')"),
        (b"[job]\nname = East pit\n", "not valid TOML in line 2, column 8: name = East pit (invalid value); text "
         'stands in double quotes, numbers stand alone: name = "East pit", height = 5'),
        (b'[boundary]\nfile = "C:\\data\\b.shp"\n', 'not valid TOML in line 2, column 13: file = "C:\\data\\b.shp" '
         "(unescaped '\\' in a string); write paths with / instead of \\, or in single quotes"),
        (b"[job]\nname = 1\nname = 2\n", "not valid TOML in line 3, column 9: name = 2 (cannot overwrite a value); "
         "the same key stands twice in its table; keep one of them"),
        (b"[job]\n[job]\n", "not valid TOML in line 2, column 5: [job] (cannot declare ('job',) twice); "
         "the same [table] stands twice; join them"),
        (b"a = [1,\n", "not valid TOML at the end of the file (invalid value); text stands in double quotes, "
         'numbers stand alone: name = "East pit", height = 5'),
        ("[job]\nname = 'Köln'\n".encode("latin-1"), "not UTF-8 text: byte 0xF6 in line 2; save the file as UTF-8"),
        (b"a = " + b"9" * 5000, "a value is nested too deep or a number has too many digits"),
        (b"a = " + b"[" * 5000, "a value is nested too deep or a number has too many digits"),
    ],
)  # fmt: skip
def test_no_toml_file_is_one_fault_with_its_place(job, content, line):
    assert job.faults(text=content) == [line]


def test_no_job_file_at_all(job):
    from linkplan.errors import JobFileError
    from linkplan.plan.reader import read_plan

    for name, words in (
        ("none.toml", "no such file; `linkplan new FILE` writes one to start from"),
        (".", "a folder, not a file; name the job file in it"),
        ("dem.tif/job.toml", "cannot be read (Not a directory)"),
    ):
        with pytest.raises(JobFileError) as caught:
            read_plan(job.folder / name)
        assert str(caught.value) == f"{job.folder / name}: {words}"


def test_numbers_too_long_for_a_float_are_faults(job):
    lines = job.faults(base__antenna_height="0x" + "f" * 400)
    assert lines == [
        "base.antenna_height = a whole number of very many digits: a number is wanted, not one that is "
        "infinite or undefined; write a bare number in metres (units.height), such as antenna_height = 5"
    ]
