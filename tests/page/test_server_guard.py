"""Who may ask the page's server, what it refuses, and that a refusal is one clear line."""

from __future__ import annotations

import json
import os
import socket
from pathlib import Path
from typing import Any

import pytest

from linkplan.errors import PlaceError
from linkplan.page import app as served
from linkplan.page.guard import HEADERS
from tests.page.small_site import TOKEN, Browser, frames


def error_of(answer: Any) -> dict[str, Any]:
    error: dict[str, Any] = answer.json()["error"]
    assert error["line"]
    assert "\n" not in error["line"]
    assert "Traceback" not in answer.text
    return error


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{}", "127.0.0.1", "127.0.0.1:1{}", "[::1]:{}"]
)
def test_another_host_is_refused(read_only: Browser, host: str) -> None:
    # what a name that was made to point at this machine would send
    answer = read_only.get("api/jobs", host=host.format(read_only.port))
    assert answer.status_code == 403
    error_of(answer)


def test_both_names_of_the_loopback_serve(read_only: Browser) -> None:
    assert read_only.get("api/jobs", host=f"localhost:{read_only.port}").status_code == 200
    assert read_only.get("api/jobs", host=f"127.0.0.1:{read_only.port}").status_code == 200


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        "https://127.0.0.1:{}",
        "http://127.0.0.1:1{}",
        "http://127.0.0.1:{}.evil",
    ],
)
def test_other_sites_cannot_ask(read_only: Browser, origin: str) -> None:
    origin = origin.format(read_only.port)
    assert read_only.get("api/jobs", origin=origin).status_code == 403
    assert read_only.post("api/jobs", {"name": "theirs"}, origin=origin).status_code == 403


def test_a_post_without_an_origin_is_refused(read_only: Browser) -> None:
    answer = read_only.client.post(f"/{TOKEN}/api/jobs", content=b'{"name": "theirs"}')
    assert answer.status_code == 403


def test_a_request_that_another_site_began_is_refused(read_only: Browser) -> None:
    assert read_only.get("", **{"sec-fetch-site": "cross-site"}).status_code == 403
    assert read_only.get("api/jobs", **{"sec-fetch-site": "none"}).status_code == 200


@pytest.mark.parametrize(
    "path", ["/", "/api/jobs", "/wrong/api/jobs", f"/{TOKEN}x/api/jobs", f"/{TOKEN[:-1]}/"]
)
def test_nothing_without_the_token(read_only: Browser, path: str) -> None:
    answer = read_only.client.get(path)
    assert answer.status_code == 403
    assert TOKEN not in answer.text


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_other_methods_are_refused(read_only: Browser, method: str) -> None:
    answer = read_only.client.request(method, f"/{TOKEN}/api/jobs", headers={"origin": read_only.origin})
    assert answer.status_code == 405
    assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize(
    "path", [f"/{TOKEN}/api/jobs", f"/{TOKEN}/nowhere", "/wrong/", f"/{TOKEN}/leaflet/leaflet.js"]
)
def test_every_answer_carries_the_policies(read_only: Browser, path: str) -> None:
    answer = read_only.client.get(path)
    for name, value in HEADERS:
        assert answer.headers[name.decode()] == value.decode()
    assert not [name for name in answer.headers if name.startswith("access-control")]


@pytest.mark.parametrize(
    "name",
    [
        "../app.py",
        "%2e%2e/app.py",
        "..%2fapp.py",
        "/etc/passwd",
        "a/../../app.py",
        ".hidden.js",
        "app.py",
        "a" * 300 + ".js",
        "",
    ],
)
def test_no_way_out_of_the_static_files(read_only: Browser, name: str) -> None:
    assert read_only.get(f"static/{name}").status_code in {403, 404}


def test_a_link_among_the_static_files_is_not_followed(
    read_only: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "secret.txt").write_text("secret")
    folder = tmp_path / "static"
    folder.mkdir()
    (folder / "out.txt").symlink_to(tmp_path / "secret.txt")
    (folder / "in.txt").write_text("open")
    monkeypatch.setattr(served, "STATIC", folder)
    assert read_only.get("static/in.txt").text == "open"
    assert read_only.get("static/out.txt").status_code == 404


@pytest.mark.parametrize(
    "job", ["../site.toml", "..%2Fsite.toml", "%2Fetc%2Fpasswd", "dem.tif", ".toml", "x%00.toml", "no.toml"]
)
def test_jobs_of_other_folders_are_not_served(read_only: Browser, job: str) -> None:
    assert read_only.get(f"api/job/{job}").status_code in {403, 404}


def test_a_link_to_a_job_elsewhere_is_not_followed(
    site: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    other = tmp_path_factory.mktemp("other") / "other.toml"
    other.write_text((site.page.folder.folder / "site.toml").read_text())
    (site.page.folder.folder / "link.toml").symlink_to(other)
    assert site.get("api/job/link.toml").status_code == 404
    assert [one["job"] for one in site.get("api/jobs").json()["jobs"]] == ["site.toml"]


def test_a_folder_with_what_is_no_job_file_is_listed(site: Browser) -> None:
    # a pipe has no end, a link to itself leads nowhere, a file of a terabyte has no place in memory
    folder = site.page.folder.folder
    os.mkfifo(folder / "pipe.toml")
    (folder / "loop.toml").symlink_to("loop.toml")
    (folder / "folder.toml").mkdir()
    with (folder / "vast.toml").open("wb") as file:
        file.truncate(1 << 40)
    listed = {one["job"]: one["readable"] for one in site.get("api/jobs").json()["jobs"]}
    assert listed == {"site.toml": True, "vast.toml": False}
    assert site.get("api/job/loop.toml").status_code == 404
    assert site.get("api/job/pipe.toml").status_code == 404


BAD_BODIES = [
    b"", b"[]", b"{", b'"x"', b"\xff\xfe", b'{"tab": "t", "serial": NaN}', b'{"tab": "t", "serial": 1e999}',
    b"[" * 100_000, b'{"tab": "t", "serial": 1' + b"0" * 5000 + b"}", b'{"tab": "t"}', b'{"serial": 1}',
    b'{"tab": "", "serial": 1}', b'{"tab": "t", "serial": -1}', b'{"tab": "t", "serial": true}',
    b'{"tab": "t", "serial": 1, "more": 1}', b'{"tab": "../../x", "serial": 1}',
]  # fmt: skip


@pytest.mark.parametrize("body", BAD_BODIES, ids=range(len(BAD_BODIES)))
@pytest.mark.parametrize("address", ["cover", "compare", "point"])
def test_what_is_no_request_is_refused(read_only: Browser, address: str, body: bytes) -> None:
    answer = read_only.post(f"api/job/site.toml/{address}", body)
    assert answer.status_code == 400
    error_of(answer)


BAD_SET_UPS: list[Any] = [
    [], "x", {"antenna_height_m": "5"}, {"antenna_height_m": 0.0}, {"antenna_height_m": 1e6}, {"power_w": -1},
    {"power_w": True}, {"frequency_mhz": 1e9}, {"chance": 1.0}, {"rover_height_m": [2]}, {"nonsense": 1},
    {"base": "P1"}, {"base": {}}, {"base": {"easting": 1.0}}, {"base": {"longitude": 10.0}},
    {"base": {"longitude": 10.0, "latitude": 91.0}}, {"base": {"easting": "1", "northing": 2}},
    {"base": {"point": 7}}, {"base": {"point": "a\u0000b"}}, {"base": {"point": "x" * 100_000}},
    {"base": {"easting": 10**400, "northing": 0}},
]  # fmt: skip


@pytest.mark.parametrize("set_up", BAD_SET_UPS, ids=range(len(BAD_SET_UPS)))
def test_what_is_no_set_up_is_refused(read_only: Browser, set_up: Any) -> None:
    answer = read_only.post("api/job/site.toml/cover", read_only.numbered(set_up=set_up))
    assert answer.status_code == 400
    error_of(answer)


@pytest.mark.parametrize("layers", [[], ["nonsense"], "chance", ["chance"] * 9, [["chance"]], [None]])
def test_unknown_layers_are_refused(read_only: Browser, layers: Any) -> None:
    assert read_only.post("api/job/site.toml/cover", read_only.numbered(layers=layers)).status_code == 400


def test_a_request_of_a_million_points_is_too_large(read_only: Browser) -> None:
    points = [{"easting": number, "northing": number} for number in range(100_000)]
    body = json.dumps({"tab": "t", "serial": 1, "control_points": points}).encode()
    answer = read_only.post("api/job/site.toml/cover", body)
    assert answer.status_code == 413
    error_of(answer)


def raw(site: Browser, head: str, body: bytes = b"") -> bytes:
    """What the server says to bytes that no well-behaved client sends."""
    with socket.create_connection(("127.0.0.1", site.port), timeout=30.0) as line:
        line.sendall(head.replace("\n", "\r\n").encode() + b"\r\n" + body)
        return line.recv(65_536)


def test_a_stated_length_is_believed_before_anything_is_read(read_only: Browser) -> None:
    head = (
        f"POST /{TOKEN}/api/job/site.toml/cover HTTP/1.1\nHost: 127.0.0.1:{read_only.port}\n"
        f"Origin: {read_only.origin}\nContent-Length: 9999999999\n"
    )
    assert b" 413 " in raw(read_only, head).split(b"\r\n")[0]


def test_a_body_that_never_ends_does_not_keep_others_out(
    read_only: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(served, "LONGEST_BODY_S", 0.2)
    head = (
        f"POST /{TOKEN}/api/job/site.toml/drop?tab=t&name=a.csv HTTP/1.1\r\n"
        f"Host: 127.0.0.1:{read_only.port}\r\n"
        f"Origin: {read_only.origin}\r\nContent-Length: 9\r\n\r\nabc"
    )
    with socket.create_connection(("127.0.0.1", read_only.port), timeout=20.0) as half:
        half.sendall(head.encode())
        assert b" 408 " in half.recv(100)


@pytest.mark.parametrize(
    "path",
    [
        f"/{TOKEN}/static/../app.py",
        f"/{TOKEN}/../{TOKEN}/api/jobs",
        f"/{TOKEN}/api/job/../../jobs",
        "//",
        "*",
    ],
)
def test_dots_in_a_path_lead_nowhere(read_only: Browser, path: str) -> None:
    answer = raw(read_only, f"GET {path} HTTP/1.1\nHost: 127.0.0.1:{read_only.port}\n")
    assert answer.split(b" ")[1] in {b"403", b"404", b"400"}


def test_two_hosts_or_none_are_refused(read_only: Browser) -> None:
    host = f"Host: 127.0.0.1:{read_only.port}\n"
    for lines in (host + "Host: evil.example\n", ""):
        answer = raw(read_only, f"GET /{TOKEN}/api/jobs HTTP/1.1\n{lines}")
        assert answer.split(b" ")[1] in {b"403", b"400"}


def test_unknown_addresses_and_tasks(read_only: Browser) -> None:
    for address in ("api", "api/tasks/none?after=0", "api/job/site.toml/form/none", "leaflet/none.js"):
        assert read_only.get(address).status_code == 404
    assert read_only.get("api/tasks/none?after=x").status_code == 400
    assert read_only.post("api/job/site.toml/tasks", {"tab": "t", "kind": "none"}).status_code == 400
    assert read_only.get("a" * 5000).status_code == 414


def test_the_map_library_comes_from_its_package(read_only: Browser) -> None:
    script = read_only.get("leaflet/leaflet.js")
    assert script.status_code == 200
    assert "Leaflet 1." in script.text[:200]
    assert "url(" not in read_only.get("leaflet/leaflet.css").text.replace("url(data:", "").replace(
        "url(#", ""
    )
    assert "Redistribution" in read_only.get("leaflet/LICENSE").text


@pytest.mark.parametrize(
    ("raised", "status", "kind", "said"),
    [
        (KeyError("/srv/somebody/secret"), 500, "internal", "should not have happened"),
        (MemoryError("x"), 200, "memory", "set terrain.cell_size larger"),
        (
            OSError(28, "No space left on device", "/srv/somewhere/file.tif"),
            200,
            "output",
            "file.tif: stopped",
        ),
        (PlaceError("the base lies\nnowhere"), 200, "place", "the base lies"),
    ],
)
@pytest.mark.parametrize("address", ["point", "cover"])
def test_what_goes_wrong_inside_is_one_line_without_a_trace(
    read_only: Browser, monkeypatch: pytest.MonkeyPatch, address: str,
    raised: Exception, status: int, kind: str, said: str,
) -> None:  # fmt: skip
    def fail(*_: object) -> None:
        raise raised

    monkeypatch.setattr("linkplan.page.views.with_set_up", fail)
    body = read_only.numbered(**({"to": {"point": "P2"}} if address == "point" else {}))
    answer = read_only.post(f"api/job/site.toml/{address}", body)
    assert answer.status_code == status
    framed = address == "cover" and status == 200
    error = frames(answer.content)[0]["error"] if framed else error_of(answer)
    assert error["kind"] == kind
    assert said in error["line"]
    assert "\n" not in error["line"]
    for word in (b"Traceback", b"/srv/somebody", b"/srv/somewhere", b"secret"):
        assert word not in answer.content
