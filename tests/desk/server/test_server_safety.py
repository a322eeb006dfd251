"""Only the desk's own page is answered, and nothing leads out of the job's folder."""

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from helpers_desk import KEY, PORT, open_client
from helpers_job import CONTRACT_JOB, write_job
from limner.desk.server import serve

ADDRESSES = [
    "/",
    "/state",
    "/sheet",
    "/events",
    "/page/index.html",
    "/files/proof.png",
    "/stickers/crab/drawing",
]
DEEDS = ["/edits", "/undo", "/redo", "/try", "/sketches", "/write", "/demo"]


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    folder = tmp_path / "job"
    folder.mkdir()
    (tmp_path / "secret.toml").write_text("secret")
    with open_client(write_job(folder)) as client:
        yield client


def test_it_listens_on_the_loopback_address_alone() -> None:
    listening, notes = serve._listening(0)
    with listening:
        assert listening.getsockname()[0] == "127.0.0.1"
        assert notes == ()


def test_a_port_in_use_is_told_and_another_one_taken() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        listening, notes = serve._listening(port)
        with listening:
            assert listening.getsockname()[1] != port
        assert notes == (f"Port {port} is in use, so the desk is at another one.",)


@pytest.mark.parametrize("address", ADDRESSES)
def test_nothing_is_shown_without_the_cookie(client: TestClient, address: str) -> None:
    client.cookies.clear()
    for cookie in (None, "", "x", f"{KEY}x", KEY[:-1], '"' + KEY + 'x"'):
        headers = {} if cookie is None else {"Cookie": f"desk-{PORT}={cookie}"}
        answer = client.get(address, headers=headers)
        assert answer.status_code == 403
        assert set(answer.json()) == {"sentence"}


@pytest.mark.parametrize("address", DEEDS)
def test_nothing_is_done_without_the_cookie_or_for_another_site(client: TestClient, address: str) -> None:
    for headers in (
        {"Origin": "http://evil.example"},
        {"Origin": f"http://127.0.0.1:{PORT + 1}"},
        {"Origin": f"https://127.0.0.1:{PORT}"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Host": "evil.example"},
        {"Host": f"evil.example:{PORT}"},
        {"Host": "127.0.0.1"},
    ):
        assert client.post(address, json={}, headers=headers).status_code == 403
    client.cookies.clear()
    assert client.post(address, json={}).status_code == 403


def test_the_key_becomes_a_cookie_that_scripts_and_other_sites_do_not_get(client: TestClient) -> None:
    client.cookies.clear()
    answer = client.get("/", params={"key": KEY}, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "domain" not in cookie
    for wrong in ("", "x", KEY.upper(), KEY + "\N{GREEK SMALL LETTER ALPHA}"):
        client.cookies.clear()
        assert client.get("/", params={"key": wrong}, follow_redirects=False).status_code == 403


@pytest.mark.parametrize("address", [*ADDRESSES[:3], "/nothing", "/page/index.html"])
def test_every_answer_allows_nothing_from_outside(client: TestClient, address: str) -> None:
    headers = client.get(address).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["form-action"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize(
    "address",
    [
        "/page/../server/serve.py",
        "/page/%2e%2e/server/serve.py",
        "/page/..%2fserver%2fserve.py",
        "/page//etc/hostname",
        "/page/%00index.html",
        "/page/" + "a" * 5000 + ".js",
        "/files/..%2ftide-pool.toml",
        "/files/%2e%2e%2f%2e%2e%2fsecret.toml",
        "/files/tide-pool.toml",
        "/files/.limner-cache",
        "/stickers/..%2f..%2fsecret/photograph",
    ],
)
def test_no_name_leads_out(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 404
    assert "secret" not in answer.text


def test_no_link_leads_out(client: TestClient, tmp_path: Path) -> None:
    sheet = tmp_path / "job" / "sheet"
    sheet.mkdir()
    (sheet / "proof.png").symlink_to(tmp_path / "secret.toml")
    assert client.get("/files/proof.png").status_code == 404
    (sheet / "proof.png").unlink()
    (sheet / "proof.png").write_bytes(b"proof")
    assert client.get("/files/proof.png").content == b"proof"
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "proof.png").write_bytes(b"secret")
    (sheet / "proof.png").unlink()
    sheet.rmdir()
    sheet.symlink_to(tmp_path / "elsewhere")
    assert client.get("/files/proof.png").status_code == 404


def test_what_was_written_may_run_nothing(client: TestClient, tmp_path: Path) -> None:
    sheet = tmp_path / "job" / "sheet"
    sheet.mkdir()
    (sheet / "report.html").write_text("<script>alert(1)</script>")
    answer = client.get("/files/report.html")
    policy = answer.headers["content-security-policy"]
    assert "sandbox" in policy
    assert "script-src" not in policy
    assert "default-src 'none'" in policy


def test_names_are_text_in_json_and_never_markup(tmp_path: Path) -> None:
    text = CONTRACT_JOB.replace("Tide Pool", "<img src=x onerror=alert(1)>")
    with open_client(write_job(tmp_path, text)) as client:
        answer = client.get("/state")
        assert answer.headers["content-type"] == "application/json"
        assert answer.json()["document"]["lettering"][0]["text"] == "<img src=x onerror=alert(1)>"
        bad = client.get("/stickers/%3Cscript%3E/drawing")
        assert bad.headers["content-type"] == "application/json"


def test_a_fault_is_one_sentence(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("secret path")

    monkeypatch.setattr("limner.desk.server.desk.colours_json", broken)
    client_that_goes_on = TestClient(client.app, base_url=client.base_url, raise_server_exceptions=False)
    client_that_goes_on.cookies = client.cookies
    answer = client_that_goes_on.get("/state")
    assert answer.status_code == 500
    assert set(answer.json()) == {"sentence"}
    assert "secret path" not in answer.text
