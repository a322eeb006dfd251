"""Pictures brought to the desk: judged before they are decoded, and safe wherever they come from."""

import io
import struct
import zlib
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from PIL import Image
from starlette.testclient import TestClient

from helpers_desk import open_client
from helpers_job import write_job
from limner.desk.server import uploads
from limner.desk.state.names import file_name, sticker_name


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "outer" / "job"
    folder.mkdir(parents=True)
    write_job(folder)
    return folder


@pytest.fixture
def client(folder: Path) -> Iterator[TestClient]:
    with open_client(folder / "tide-pool.toml") as client:
        yield client


def picture(kind: str = "PNG", size: tuple[int, int] = (80, 90)) -> bytes:
    made = io.BytesIO()
    Image.new("L", size, 255).save(made, kind)
    return made.getvalue()


def bring(client: TestClient, data: bytes, name: str):
    return client.post("/sketches", content=data, headers={"X-Name": quote(name)})


def test_a_picture_becomes_a_sticker(client: TestClient, folder: Path) -> None:
    answer = bring(client, picture(), "Sea Star.jpeg")
    assert answer.status_code == 200
    assert answer.json()["name"] == "Sea-Star"
    sticker = client.get("/state").json()["document"]["sticker"][-1]
    # The ending is that of what it is.
    assert sticker["sketch"] == "Sea-Star.png"
    assert (folder / "Sea-Star.png").read_bytes() == picture()
    again = bring(client, picture("JPEG"), "Sea Star.jpeg").json()
    assert again["name"] == "Sea-Star-2"
    undone = client.post("/undo", json={"revision": again["revision"]})
    assert undone.status_code == 200
    assert len(client.get("/state").json()["document"]["sticker"]) == 2


SVG = b'<?xml version="1.0"?>\n<!-- kelp -->\n<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">'
SVG += b'<path d="M1 1L8 1L8 8Z" fill="#7fb069"/></svg>'


def test_vector_art_becomes_a_sticker_of_its_own(client: TestClient, folder: Path) -> None:
    answer = bring(client, SVG, "Kelp leaf.svg")
    assert answer.status_code == 200
    sticker = client.get("/state").json()["document"]["sticker"][-1]
    assert sticker["art"] == "Kelp-leaf.svg"
    assert "sketch" not in sticker
    assert (folder / "Kelp-leaf.svg").read_bytes() == SVG
    assert bring(client, b"<html><svg></svg></html>", "page.svg").status_code == 415
    # What a file is called says nothing of what it is.
    assert bring(client, picture(), "leaf.svg").json()["name"] == "leaf"
    assert (folder / "leaf.png").exists()


CLIMBING = [
    "../../up.png",
    "..\\..\\up.png",
    "/etc/cron.d/up.png",
    "C:\\windows\\up.png",
    "....//....//up.png",
    "%2e%2e%2fup.png",
    ".hidden.png",
    "..",
    ".",
    "",
    "/",
    "a\0b.png",
    "a\nb.png",
    "<img src=x onerror=alert(1)>.png",
    '"><script>.png',
    "con.png",
    "tide-pool.toml",
    ".limner-cache/up.png",
    "x" * 400 + ".png",
    "\ud83d\udc1a shell.png".encode("utf-16", "surrogatepass").decode("utf-16"),
    "\u202egnp.exe",
    "crab.jpg",
]


@pytest.mark.parametrize("name", CLIMBING)
def test_no_name_climbs_or_hides_or_writes_over(client: TestClient, folder: Path, name: str) -> None:
    before = {
        path: path.read_bytes() for path in folder.iterdir() if path.is_file() and path.suffix != ".toml"
    }
    outside = sorted(path for path in folder.parent.rglob("*") if folder not in path.parents)
    answer = bring(client, picture(), name)
    assert answer.status_code == 200
    assert sorted(path for path in folder.parent.rglob("*") if folder not in path.parents) == outside
    assert {path: path.read_bytes() for path in before} == before
    (new,) = [path for path in folder.iterdir() if path.suffix == ".png"]
    assert new.read_bytes() == picture()
    assert not new.name.startswith(".")
    assert not set(new.name) & set("<>\"'\\/\n\0 ")
    assert client.get("/state").json()["problems"] == []


@pytest.mark.parametrize(
    ("data", "status"),
    [
        (b"", 415),
        (b"hello", 415),
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", 415),
        (b"<!doctype html><script>alert(1)</script>", 415),
        (b"%PDF-1.7", 415),
        (b"\x89PNG\r\n\x1a\n", 415),
        (picture()[:20], 415),
        (picture(size=(10, 10)), 415),
    ],
)
def test_what_is_no_picture_is_refused(client: TestClient, folder: Path, data: bytes, status: int) -> None:
    before = sorted(folder.iterdir())
    answer = bring(client, data, "x.png")
    assert answer.status_code == status
    assert answer.json()["sentence"].endswith(".")
    assert sorted(folder.iterdir()) == before


def test_a_picture_of_too_many_pixels_is_refused_by_its_header(client: TestClient, folder: Path) -> None:
    # 60,000 x 60,000 pixels said in 33 bytes: decoded they would take 3.6 GB.
    chunk = b"IHDR" + struct.pack(">IIBBBBB", 60_000, 60_000, 8, 0, 0, 0, 0)
    head = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))
    idat = b"IDAT" + zlib.compress(b"\0" * 100)
    data = head + struct.pack(">I", len(idat) - 4) + idat + struct.pack(">I", zlib.crc32(idat))
    answer = bring(client, data, "bomb.png")
    assert answer.status_code == 415
    assert "million pixels" in answer.json()["sentence"]
    assert not list(folder.glob("*.png"))


def test_a_file_that_is_too_long_is_not_read_to_its_end(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("limner.desk.server.decisions.LARGEST_SKETCH_BYTES", 1000)
    came = 0

    def endless() -> Iterator[bytes]:
        nonlocal came
        for _ in range(100):
            came += 1
            yield b"x" * 500

    assert bring(client, b"x" * 1001, "x.png").status_code == 413
    answer = client.post("/sketches", content=endless(), headers={"X-Name": "x.png"})
    assert answer.status_code == 413
    assert not list(folder.glob("*.png"))
    assert uploads.LARGEST_SKETCH_BYTES == 100_000_000


def test_a_link_in_the_way_is_not_followed(client: TestClient, folder: Path) -> None:
    target = folder.parent / "target.png"
    (folder / "up.png").symlink_to(target)
    assert bring(client, picture(), "up.png").status_code == 200
    assert not target.exists()
    assert (folder / "up-2.png").is_file()


def test_names_of_stickers_are_names(tmp_path: Path) -> None:
    assert sticker_name("Crab 2", ["crab"]) == "Crab-2"
    assert sticker_name("IMG_0042", []) == "IMG_0042"
    assert sticker_name("0042", []) == "sketch"
    assert sticker_name("cut", []) == "cut-2"
    assert sticker_name("\u732b", []) == "\u732b"
    assert file_name("..", ".jpg", tmp_path) == "sketch.jpg"
