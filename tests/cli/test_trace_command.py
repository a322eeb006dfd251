"""`limner trace` as a person meets it: files, summary, exit codes, and one sentence for every mistake."""

import json
import os
import re
import stat
import subprocess
import sys
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest
from PIL import Image

from helpers_drawing import CONTRACT_PATH, SVG, node_count, svg_paths
from limner.cli.main import main
from limner.cli.overview import COMMANDS

LINE_PX = 6.0


@pytest.fixture(scope="session")
def sketch_bytes() -> bytes:
    """A small drawing: a ring with a dot in it, and a wavy line."""
    y, x = np.mgrid[0:400, 0:500] + 0.5
    ring = np.abs(np.hypot(x - 200, y - 200) - 120)
    wave = np.where(
        (x > 360) & (x < 470), np.abs(y - 200 - 15 * np.sin(x / 15)) / np.hypot(1, np.cos(x / 15)), 99
    )
    ink = np.clip(LINE_PX / 2 + 0.5 - np.minimum(ring, wave), 0, 1)
    ink = np.maximum(ink, np.clip(14.5 - np.hypot(x - 200, y - 200), 0, 1))
    stream = BytesIO()
    Image.fromarray(np.round(235 - 175 * ink).astype(np.uint8)).save(stream, "PNG")
    return stream.getvalue()


@pytest.fixture
def sketch(tmp_path: Path, sketch_bytes: bytes) -> Path:
    path = tmp_path / "ring.png"
    path.write_bytes(sketch_bytes)
    return path


def files(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    """Run, expect refusal, and give back the one sentence."""
    assert main([str(argument) for argument in arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    *progress, sentence = err.strip().splitlines()
    assert all(re.fullmatch(r"limner: [\w ]+: \d+\.\d s|limner: no scale found.*", line) for line in progress)
    assert sentence.startswith("limner: ")
    assert sentence.endswith(".")
    assert "a fault of its own" not in sentence
    return sentence


def test_writes_the_svg_beside_the_sketch(sketch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = sketch.read_bytes()
    assert main(["trace", str(sketch)]) == 0
    out, err = capsys.readouterr()
    assert files(sketch.parent) == {"ring.png", "ring.svg"}
    assert sketch.read_bytes() == before
    # Inside of the ring, and inside of the solid dot (which keeps its black when lines are left out).
    assert "2 areas" in out
    assert "nodes" in out
    assert "largest error" in out
    assert "line width" in out
    assert "100 mm wide" in err  # the note on the scale that nobody gave


def test_report_and_svg_agree(sketch: Path) -> None:
    folder = sketch.parent
    arguments = [
        "trace",
        sketch,
        "-o",
        folder / "out.svg",
        "--report",
        folder / "out.json",
        "--width",
        "125 mm",
    ]
    assert main([str(a) for a in arguments]) == 0
    report = json.loads((folder / "out.json").read_text())
    data = (folder / "out.svg").read_bytes()
    root = ElementTree.fromstring(data)
    assert root.get("width") == "125mm"
    assert report["width_mm"] == pytest.approx(125)
    assert report["height_mm"] == pytest.approx(100)
    assert report["mm_per_px"] == pytest.approx(0.25)
    assert report["line_width_mm"] == pytest.approx(LINE_PX * 0.25, rel=0.1)
    paths = svg_paths(data, "fills") + svg_paths(data, "lines")
    assert all(CONTRACT_PATH.fullmatch(path.get("d", "")) for path in paths)
    assert sum(node_count(path.get("d", "")) for path in paths) == report["nodes"]
    assert len(report["areas"]) == 2
    # The ring's centreline encloses a disc of radius 120 px, 30 mm; what lies under the dot counts too.
    assert report["areas"][0]["area_mm2"] == pytest.approx(np.pi * 30**2, rel=0.03)
    assert set(report["seconds"]) >= {"capture", "ink", "regions", "curves"}


def test_proof_is_a_picture(sketch: Path) -> None:
    proof = sketch.parent / "proof.png"
    assert main(["trace", str(sketch), "--proof", str(proof)]) == 0
    with Image.open(proof) as picture:
        assert picture.format == "PNG"
        colours = picture.convert("RGB").getcolors(maxcolors=1 << 22)
    assert colours is not None
    assert len(colours) > 50


def test_a_smoothing_that_spoils_the_drawing_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    grey = np.full((400, 400), 240, np.uint8)
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    star = 200 + np.where(np.arange(24) % 2, 90, 150) * np.array([np.cos(turn), np.sin(turn)])
    cv2.polylines(grey, [star.T.astype(np.int32)], True, 60, 6, cv2.LINE_AA)
    path = tmp_path / "star.png"
    cv2.imwrite(str(path), grey)
    command = ["trace", str(path), "--paper", "none", "--width", "100 mm", "--smoothing"]
    assert main([*command, "0.3 mm"]) == 0
    assert "too smooth" not in capsys.readouterr().err
    assert main([*command, "9 mm"]) == 0
    said = capsys.readouterr().err
    assert "too smooth for lines 1." in said
    assert "(its middle 50 mm from the left, 50 mm from the top)" in said


@pytest.mark.parametrize("lines", ["drawn", "even", "tapered", "none"])
def test_lines_as_asked(sketch: Path, lines: str) -> None:
    assert main(["trace", str(sketch), "--lines", lines]) == 0
    drawn = svg_paths(sketch.with_suffix(".svg").read_bytes(), "lines")
    assert bool(drawn) == (lines != "none")


@pytest.mark.parametrize(("bridges", "rings"), [("inked", 2), ("open", 1)])
def test_gaps_within_a_line_are_inked_unless_asked_otherwise(
    tmp_path: Path, bridges: str, rings: int
) -> None:
    grey = np.full((400, 400), 240, np.uint8)
    cv2.ellipse(grey, (200, 200), (120, 120), 0, 6, 354, 60, 8, cv2.LINE_AA)
    path = tmp_path / "bubble.png"
    cv2.imwrite(str(path), grey)
    assert main(["trace", str(path), "--paper", "none", "--bridges", bridges]) == 0
    (line,) = svg_paths(path.with_suffix(".svg").read_bytes(), "lines")
    assert line.get("d", "").count("Z") == rings
    assert len(svg_paths(path.with_suffix(".svg").read_bytes(), "fills")) == 2


def test_areas_and_zones_from_a_file(sketch: Path) -> None:
    zones = sketch.parent / "zones.toml"
    zones.write_text(
        '[[area]]\nat = [0.3, 0.5]\nname = "bubble"\nfill = "#a0c4ff"\n'
        '[[zone]]\nbox = [0.6, 0.3, 1.0, 0.7]\nsmoothing = "2 mm"\n'
    )
    assert main(["trace", str(sketch), "--zones", str(zones)]) == 0
    fills = svg_paths(sketch.with_suffix(".svg").read_bytes(), "fills")
    assert ("bubble", "#a0c4ff") in [(path.get("id"), path.get("fill")) for path in fills]


def test_the_same_sketch_gives_the_same_bytes_in_another_process(sketch: Path) -> None:
    written = []
    for number, (seed, threads) in enumerate([("0", "1"), ("12345", "2")]):
        target = sketch.parent / f"{number}.svg"
        environment = {**os.environ, "PYTHONHASHSEED": seed, "OMP_NUM_THREADS": threads}
        command = [sys.executable, "-m", "limner", "trace", str(sketch), "-o", str(target)]
        subprocess.run(command, env=environment, check=True, capture_output=True)
        written.append(target.read_bytes())
    assert written[0] == written[1]


def test_summary_says_where_nothing_closes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    grey = np.full((300, 300), 240, np.uint8)
    cv2.line(grey, (40, 60), (250, 200), 60, 5, cv2.LINE_AA)
    path = tmp_path / "line.png"
    Image.fromarray(grey).save(path)
    assert main(["trace", str(path)]) == 0
    assert "no closed area" in capsys.readouterr().out
    assert len(svg_paths(path.with_suffix(".svg").read_bytes(), "lines")) == 1


# What bad input gets: one sentence, exit code 2, nothing written, the input untouched.


def picture_bytes(array: np.ndarray, kind: str = "PNG") -> bytes:
    stream = BytesIO()
    Image.fromarray(array).save(stream, kind)
    return stream.getvalue()


NOISE = np.random.default_rng(1).integers(0, 255, (200, 200), np.uint8)
BAD_FILES = {
    "empty.png": b"",
    "text.jpg": b"a letter to the printing company\n" * 20,
    "truncated.png": picture_bytes(NOISE)[:9000],
    "truncated.jpg": picture_bytes(NOISE, "JPEG")[:9000],
    "small.png": picture_bytes(np.zeros((63, 400), np.uint8)),
    "blank.png": picture_bytes(np.full((300, 300), 250, np.uint8)),
    "black.png": picture_bytes(np.zeros((300, 300), np.uint8)),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_unusable_pictures_are_named(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    path = tmp_path / name
    path.write_bytes(BAD_FILES[name])
    sentence = refused(capsys, "trace", path, "-o", tmp_path / "out.svg", "--report", tmp_path / "out.json")
    assert name in sentence
    assert files(tmp_path) == {name}
    assert path.read_bytes() == BAD_FILES[name]


def test_over_200_million_pixels_is_refused_from_the_header(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import struct
    import zlib

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", 20_000, 10_001, 8, 0, 0, 0, 0)
    path = tmp_path / "huge.png"
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    )
    assert "huge.png" in refused(capsys, "trace", path)


def test_missing_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "nowhere.jpg" in refused(capsys, "trace", tmp_path / "nowhere.jpg")


def test_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "scans"
    folder.mkdir()
    assert "folder" in refused(capsys, "trace", folder)


def test_unwritable_place(sketch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = sketch.parent / "no" / "such" / "folder" / "out.svg"
    assert "out.svg" in refused(capsys, "trace", sketch, "-o", target)
    assert files(sketch.parent) == {"ring.png"}


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser can read and write everywhere")
def test_unreadable_file(sketch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sketch.chmod(stat.S_IWUSR)
    assert "ring.png" in refused(capsys, "trace", sketch)


def test_output_that_is_the_sketch(sketch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = sketch.read_bytes()
    assert "never written over" in refused(capsys, "trace", sketch, "-o", sketch)
    assert sketch.read_bytes() == before


def test_one_unwritable_output_leaves_none(sketch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (sketch.parent / "taken").mkdir()
    refused(capsys, "trace", sketch, "-o", sketch.parent / "out.svg", "--report", sketch.parent / "taken")
    assert files(sketch.parent) == {"ring.png", "taken"}


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["--width", "wide"], "--width"),
        (["--width", "0 mm"], "--width"),
        (["--smoothing", "-1 mm"], "--smoothing"),
        (["--smoothing", "1 px"], "--smoothing"),
        (["--nodes", "many"], "--nodes"),
        (["--nodes", "0"], "--nodes"),
        (["--nodes", "2.5"], "--nodes"),
        (["--mirror", "sideways"], "--mirror"),
        (["--paper", "A77"], "--paper"),
        (["--lines", "dotted"], "--lines"),
        (["--zones", "nowhere.toml"], "nowhere.toml"),
        (["--colour", "red"], "--colour"),
    ],
)
def test_unusable_options_are_named(
    sketch: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], word: str
) -> None:
    assert word in refused(capsys, "trace", sketch, *arguments)
    assert files(sketch.parent) == {"ring.png"}


def test_point_in_no_area_names_the_nearest(sketch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    zones = sketch.parent / "zones.toml"
    zones.write_text('[[area]]\nat = [0.95, 0.05]\nname = "sky"\n')
    sentence = refused(capsys, "trace", sketch, "--zones", zones)
    assert "area" in sentence
    assert not sketch.with_suffix(".svg").exists()


def test_budget_below_the_fewest_nodes_says_how_many(
    sketch: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sentence = refused(capsys, "trace", sketch, "--nodes", "3")
    fewest = [int(word) for word in sentence.replace(",", " ").replace(":", " ").split() if word.isdecimal()]
    assert max(fewest) > 3


def test_no_command_and_unknown_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert "limner --help" in refused(capsys)
    assert "limner --help" in refused(capsys, "paint")


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (["--version"], ["--help"], ["-h"], ["trace", "--help"], ["new", "-h"]):
        assert main(arguments) == 0
        assert "limner" in capsys.readouterr().out


def test_help_names_every_command_and_each_has_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--help"])
    words = capsys.readouterr().out.split()
    for command in COMMANDS:
        assert command in words
        assert main([command, "--help"]) == 0
        assert capsys.readouterr().out.startswith(f"usage: limner {command} ")


@pytest.mark.parametrize(("asked", "width"), [("60", 60), ("200", 200), ("5", 36), ("wide", 80)])
def test_help_is_as_wide_as_the_terminal(
    asked: str, width: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", asked)
    main(["--help"])
    text = capsys.readouterr().out
    # Words are longer than what is left of a line: only one that no line could hold may stand out.
    assert max(map(len, text.splitlines())) <= max(
        width - 2, len("commands (limner COMMAND --help tells more):")
    )
    assert "press-ready sticker sheets." in " ".join(text.split())


def test_names_with_quotes_spaces_and_newlines(tmp_path: Path, sketch_bytes: bytes) -> None:
    path = tmp_path / 'sea "star" \'n\n& <ring> 🦀.png'
    path.write_bytes(sketch_bytes)
    assert main(["trace", str(path)]) == 0
    title = ElementTree.fromstring(path.with_suffix(".svg").read_bytes()).findtext(f"{SVG}title")
    assert title == path.name
