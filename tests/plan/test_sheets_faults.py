"""Bad settings sheets: every fault at once, with file, key or row, value and cure; no secret repeated."""

from __future__ import annotations

from pathlib import Path

import pytest

from linkplan.errors import JobFileError, SheetError
from linkplan.plan.reader import read_plan
from linkplan.plan.secrecy import is_secret_name, is_secret_text
from linkplan.plan.sheets import read_sheets

BASE = 'transmit_frequency = "451.8 MHz"\nprotocol = "type A"\n'


def lines(folder: Path, text: str | bytes, name: str = "r.toml") -> list[str]:
    """The faults of a rover's sheet beside a sound base, without the folder's name."""
    (folder / "base.toml").write_text(BASE)
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(SheetError) as caught:
        read_sheets(folder / "base.toml", [path])
    return str(caught.value).replace(f"{folder}/", "").split("\n")


FAULTS = [
    ("receive_frequency = 451.8", 'receive_frequency = 451.8: has no unit; write, for example, "450.0 MHz"'),
    ('receive_frequency = "451,8 MHz"', "is not a number with a unit; write a decimal point"),
    ('receive_frequency = "451.8 mm"', 'has a unit that does not go here; write, for example, "450.0 MHz"'),
    ('receive_frequency_khz = "451.8 MHz"', "has one unit in its name and another in its value"),
    ('receive_frequency_mhz = 451800', "is out of all bounds; give 30 MHz to 6 GHz"),
    ("receive_frequency_mhz = nan", "is not a number with a unit"),
    ("receive_frequency_mhz = -inf", "is not a number with a unit"),
    ("receive_frequency_m = 3", "has a unit that does not go here"),
    ('receive_frequency = "1e99 MHz"', "is out of all bounds"),
    ('receive_frequency = "1e999999999 MHz"', "is not a number with a unit"),
    ('reception_frequency = "451.8 MHz"', "unknown setting; did you mean receive_frequency?"),
    ('protocol = ["a", "b"]', "a number or text is wanted, not a list"),
    ("protocol = 2026-05-01", "a number or text is wanted, not a date or time"),
    ("protocol = { a = 1 }", "a number or text is wanted, not a table"),
    ('protocol = "--- -"', "has no letter or digit"),
    ('protocol = "a\\u0007b"', "is too long or has unprintable characters"),
    (f'protocol = "{"xy " * 90}"', "is too long or has unprintable characters"),
    ('protocol_mhz = "type A"', "has a unit that does not go here"),
    ('protocol = "A"\nPROTOCOL = "A"', "PROTOCOL: is stated already (protocol); keep one of them"),
    ("station_id = 4096", "station_id = 4096: is not a station ID; write a whole number, 0 to 4095"),
    ('id_filter = "base"', "is not a station ID"),
    ("messages = [1006, 5000]", "is not a list of message numbers, 1 to 4095"),
    ("messages = [[1006]]", "is a list of lists"),
    ('satellite_systems = ["GPS", "moon"]', "names a satellite system that is not known; write GPS, GLONASS"),
    ('time_slot = "3 of 2"', 'is not a time slot; write "1 of 2", or "none"'),
    ("elevation_mask = 95", "is out of all bounds; give 0 to 90 degrees"),
    ("base_height = 296.37", "has no unit; write, for example, \"1.802 m\", or give coordinate_unit"),
    ('coordinate_unit = "yard"', "is not a unit of coordinates"),
    ('base_easting = "400 deg"', "is out of all bounds; give degrees within -360 to 360"),
    ("channel = 3.5", "a channel's number or name is wanted"),
    ('channel = "3"\n[channels]\n3 = 451.8', 'channels.3: is not a frequency with a unit; write'),
    ('[channels]\n3 = "451.8 MHz"\nprotocol = "A"', "channels.protocol: a setting stands below [channels]"),
    ('role = "base"', 'role = "base": this sheet is taken for a rover\'s; give the base\'s sheet first'),
    ("set = 3.5", 'set: text is wanted here; write set = "..."'),
    ('set = ""', "set: is empty or too long; give a short set"),
    ("receive_frequency = ", "not valid TOML in line 1, column 21; one key = value a line"),
    ("a = 1\na = 2", "not valid TOML"),
    ("x = " + "[" * 5000, "nested too deep"),
    ("station_id = 0x" + "f" * 5000, "looks like a secret"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "words"), FAULTS)
def test_each_fault_in_one_line(tmp_path: Path, text: str, words: str) -> None:
    found = lines(tmp_path, text + "\n")
    assert len(found) == 1, found
    assert found[0].startswith("r.toml: ")
    assert words in found[0]


def test_all_faults_of_all_files_at_once(tmp_path: Path) -> None:
    (tmp_path / "base.toml").write_text("transmit_frequency = 451.8\nstation_id = -1\n")
    (tmp_path / "a.toml").write_text("protocl = 1\nelevation_mask = 99\n")
    (tmp_path / "b.csv").write_text("field,value\nstation_id,x\nmask,y\n")
    with pytest.raises(SheetError) as caught:
        read_sheets(tmp_path / "base.toml", [tmp_path / "a.toml", tmp_path / "b.csv", tmp_path / "none.toml"])
    found = str(caught.value).replace(f"{tmp_path}/", "").split("\n")
    assert [line.split(":")[0] for line in found] == [
        "base.toml", "base.toml", "a.toml", "a.toml", "b.csv", "b.csv", "none.toml",
    ]  # fmt: skip
    assert found[4] == 'b.csv: row 2, station_id = "x": is not a station ID; write a whole number, 0 to 4095'
    assert "no such file" in found[6]


CSV_FAULTS = [
    ("", "the file is empty"),
    ("field;value\n", "the columns are not separated by commas"),
    ("field\n", "the header has one column only"),
    ("field,value\n", "holds no row below its header"),
    ("field,field\na,b\n", "a column is there twice"),
    ("field,extra\na,b\n", "the columns of this header do not belong together"),
    ("name,value\na,b\n", "there is neither a column field nor a column set"),
    ("field,value\nprotocol,a,b\n", "row 2: has 3 cells where the header has 2"),
    ('field,value\nprotocol,"a\n', "is not comma-separated text"),
    ("set,protocol\n,type A\n", "row 2, set: is empty; give every set a name"),
    ("set,protocl\nR1,type A\n", "row 2, protocl: unknown setting; did you mean protocol?"),
    ("set,protocol\nR1,A\nr1,A\n", 'set: the name "r1" is taken by a sheet in r.csv'),
    ("field,value,unit\nreceive frequency,451.8,GB\n", "row 2, receive frequency: has a unit"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "words"), CSV_FAULTS)
def test_each_fault_of_a_csv(tmp_path: Path, text: str, words: str) -> None:
    found = lines(tmp_path, text, "r.csv")
    assert any(words in line for line in found), found
    assert all(line.startswith("r.csv: ") for line in found)


def test_bytes_size_ending_and_folders(tmp_path: Path) -> None:
    assert "not UTF-8 text in line 2" in lines(tmp_path, b"a = 1\n\xff\xfe")[0]
    assert "too large" in lines(tmp_path, b"#" * 2_000_001)[0]
    assert "neither .toml nor .csv" in lines(tmp_path, "a", "r.txt")[0]
    (tmp_path / "empty").mkdir()
    with pytest.raises(SheetError, match="no rover's sheet"):
        read_sheets(tmp_path / "base.toml", [tmp_path / "empty"])
    with pytest.raises(SheetError, match="cannot be read"):
        read_sheets(tmp_path / "base.toml", [tmp_path / "x\0y.toml"])
    (tmp_path / "folder.toml").mkdir()
    with pytest.raises(SheetError, match="no rover's sheet"):
        read_sheets(tmp_path / "base.toml", [tmp_path / "folder.toml"])
    with pytest.raises(SheetError, match="cannot be read"):
        read_sheets(tmp_path / "folder.toml", [])


def test_many_faults_are_cut_and_counted(tmp_path: Path) -> None:
    text = "".join(f"nonsense_{i} = 1\n" for i in range(50))
    found = lines(tmp_path, text)
    assert len(found) == 21
    assert found[-1].endswith("and 30 more faults in this file")


def test_a_base_is_one_set(tmp_path: Path) -> None:
    (tmp_path / "base.csv").write_text("set,protocol\nA,x\nB,x\n")
    with pytest.raises(SheetError, match=r"holds 2 sets \(A, B\)"):
        read_sheets(tmp_path / "base.csv", [])


def test_a_folder_of_rovers_leaves_the_base_out_and_takes_each_file_once(tmp_path: Path) -> None:
    (tmp_path / "base.toml").write_text(BASE)
    (tmp_path / "r1.toml").write_text("protocol = 'A'\n")
    (tmp_path / "fleet.CSV").write_text("set,protocol\nR2,A\nR3,A\n")
    (tmp_path / "notes.txt").write_text("no sheet")
    (tmp_path / ".hidden.toml").write_text("not = 'read'")
    base, rovers = read_sheets(tmp_path / "base.toml", [tmp_path, tmp_path / "r1.toml"])
    assert base.set_name == "base"
    assert [sheet.set_name for sheet in rovers] == ["R2", "R3", "r1"]


@pytest.mark.parametrize("text", ["", "?", "n/a", "unknown", " not stated ", "TBD", "-"])
def test_words_for_nothing_state_nothing(tmp_path: Path, text: str) -> None:
    (tmp_path / "base.toml").write_text(BASE)
    (tmp_path / "r.toml").write_text(f'protocol = "{text}"\ngeoid = "none"\n')
    _, (rover,) = read_sheets(tmp_path / "base.toml", [tmp_path / "r.toml"])
    assert set(rover.values) == {"geoid"}


SECRET = "hunter2XQ"
HEX = "0f1E2d3C4b5A69788796"


class TestSecrets:
    """A secret is refused wherever it stands, and no message repeats it."""

    @pytest.mark.parametrize(
        "text",
        [
            f'password = "{SECRET}"',
            f'Link-Key = "{SECRET}"',
            f'"pass phrase" = "{SECRET}"\npassphrase = "{SECRET}"',
            f'encryption = "{SECRET}"',
            f'scrambling_key = "{SECRET}"',
            f'scrambling_key_id = "{SECRET}{SECRET}"',
            f'scrambling_key_id = ["{SECRET}"]',
            f'scrambling_key_id = "{HEX[:12]}"',
            f'scrambling_key_id = {{ a = "{SECRET}" }}',
            f'unheard_of = "{SECRET}"',
            f'protocol = "{HEX}"',
            f'protocol = "mode {HEX} x"',
            f'notes = 5\nset = "{HEX}"',
            f'channel = "{HEX}"',
            f'code = "{HEX}"',
            f'role = "{SECRET}"',
            f'messages = "1006 {HEX}"',
            f'base_antenna = ["{SECRET}"]',
            f'receive_frequency = "{HEX}"',
            f'{HEX} = "{SECRET}"',
            f'[channels]\n1 = "{SECRET}"',
            f'[channels]\n{HEX} = "450 MHz"',
            f'password = "{SECRET}',  # broken TOML
            f'protocol = "{SECRET}"\nprotocol = "{SECRET}"',
            f'[[key]]\nsecret = "{SECRET}"',
        ],
    )
    def test_in_toml(self, tmp_path: Path, text: str) -> None:
        found = "\n".join(lines(tmp_path, text + "\n"))
        for part in (SECRET, HEX, HEX[:12], HEX.lower()):
            assert part not in found

    @pytest.mark.parametrize(
        "text",
        [
            f"field,value\npassword,{SECRET}\n",
            f"field,value\nfantasy,{SECRET}\n",
            f"field,value\nkey,{SECRET},x\n",
            f"field,value\n{HEX},1\n",
            f'field,value\nkey,"{SECRET}\n',
            f"set,key\nR1,{SECRET}\n",
            f"set,{HEX}\nR1,1\n",
            f"{SECRET},{HEX}\nR1,1\n",
            f"field,value,unit\nprotocol,a,{SECRET}\n",
            f"field,value,unit\nchannels.3,450,{SECRET}\n",
        ],
    )
    def test_in_csv(self, tmp_path: Path, text: str) -> None:
        found = "\n".join(lines(tmp_path, text, "r.csv"))
        for part in (SECRET, HEX, HEX.lower()):
            assert part not in found

    @pytest.mark.parametrize(
        "text",
        [
            f'[settings]\npassword = "{SECRET}"\n',
            f'[settings]\nscrambling_key_id = "{SECRET}{SECRET}"\n',
            f'[settings]\nprotocol = "{HEX}"\n',
            f'[settings]\nlink_key = "{SECRET}\n',
            f'[settings]\nid_filter = "{HEX}"\n',
        ],
    )
    def test_in_a_job(self, tmp_path: Path, text: str) -> None:
        (tmp_path / "job.toml").write_text(text)
        with pytest.raises(JobFileError) as caught:
            read_plan(tmp_path / "job.toml")
        assert SECRET not in str(caught.value)
        assert HEX not in str(caught.value)

    @pytest.mark.parametrize(
        "name", ["key", "Key", "link key", "PASSWORD", "wifi-passwd", "psk", "secret_2", "pin"]
    )
    def test_names_of_secrets(self, name: str) -> None:
        assert is_secret_name(name)

    @pytest.mark.parametrize(
        "name",
        ["key_id", "scrambling_key_id", "key identifier", "key_up_ms", "monkey", "protocol", "passage"],
    )
    def test_names_of_other_things(self, name: str) -> None:
        assert not is_secret_name(name)

    @pytest.mark.parametrize(
        "text",
        ["0123456789abcdef", "0xDEADBEEFDEADBEEF", "DE AD BE EF DE AD BE EF", "de:ad:be:ef:de:ad:be:ef",
         "DEAD-BEEF-0000-1111", "key 0123456789abcdef0123 end"],
    )  # fmt: skip
    def test_texts_that_look_like_keys(self, text: str) -> None:
        assert is_secret_text(text)

    @pytest.mark.parametrize(
        "text",
        ["1005 1033 1077 1087 1097", "451800000", "427.4058000000000001", "2026-05-01 12:00",
         "WGS 84 / UTM zone 28N", "deadbeefdeadbeef.tif", "RTCM 3", "BASE ANTENNA B", "0123456789abcde"],
    )  # fmt: skip
    def test_texts_that_do_not(self, text: str) -> None:
        assert not is_secret_text(text)
