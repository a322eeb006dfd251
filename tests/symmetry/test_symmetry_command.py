"""Mirroring as a person meets it: what the command says, reports and draws, and what it refuses."""

import json
import re
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from limner.cli.main import main
from limner.output.sketch.proof import _AXIS

Floats = NDArray[np.float64]

SIDE = 640
LINE_PX = 7


def arc(x: float, y: float, rx: float, ry: float, start: float, stop: float) -> Floats:
    turn = np.radians(np.linspace(start, stop, 160))
    return np.stack([x + rx * np.cos(turn), y + ry * np.sin(turn)], axis=1)


def half_shell(turn_deg: float, x: float, y: float) -> list[Floats]:
    """The right half of a shell, its lines ending on an axis through (x, y), pixels."""
    # Unlike above and below: else the half would be a whole about the axis across.
    lines = [arc(0, 0, 150, 200, -90, 90), arc(0, 80, 90, 60, -90, 90), arc(60, -90, 30, 15, 0, 360)]
    turn = np.radians(turn_deg)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return [line @ matrix + [x, y] for line in lines]


def sketch(path: Path, lines: list[Floats]) -> Path:
    page = np.full((2 * SIDE, 2 * SIDE), 240, np.uint8)
    for line in lines:
        points = np.round(2 * line * 16).astype(np.int32)
        cv2.polylines(page, [points], False, 60, 2 * LINE_PX, cv2.LINE_AA, 4)
    cv2.imwrite(str(path), cv2.resize(page, (SIDE, SIDE), interpolation=cv2.INTER_AREA))
    return path


@pytest.mark.parametrize(
    ("turn", "side"), [(0.0, "right"), (180.0, "left"), (90.0, "bottom"), (-90.0, "top")]
)
def test_the_side_that_is_kept_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], turn: float, side: str
) -> None:
    page = sketch(tmp_path / "shell.png", half_shell(turn, 320, 320))
    arguments = ["trace", str(page), "-o", str(tmp_path / "a.svg"), "--mirror", "auto", "--paper", "none"]
    assert main(arguments) == 0
    said = capsys.readouterr().out
    told = rf"mirrored about an axis at [\d.]+ degrees \(half, score [\d.]+\); the {side} side is kept"
    assert re.search(told, said)


def test_the_report_holds_the_axis_and_the_proof_draws_it(tmp_path: Path) -> None:
    page = sketch(tmp_path / "shell.png", half_shell(12.0, 320, 320))
    report, proof = tmp_path / "a.json", tmp_path / "a.png"
    arguments = ["trace", str(page), "-o", str(tmp_path / "a.svg"), "--mirror", "auto", "--paper", "none"]
    assert main([*arguments, "--width", "64", "--report", str(report), "--proof", str(proof)]) == 0
    axis = json.loads(report.read_text(encoding="utf-8"))["axis"]
    assert set(axis) == {"x_mm", "y_mm", "angle_deg", "score", "how"}
    assert axis["how"] == "half"
    assert 0.5 < axis["score"] <= 1.0
    # The round ends of all lines reach half a line width over the axis, which is where it is found.
    assert axis["angle_deg"] == pytest.approx(102.0, abs=0.5)
    picture = cv2.imread(str(proof)).astype(int)[..., ::-1]
    colour = [int(_AXIS[k : k + 2], 16) for k in (1, 3, 5)]
    rows, columns = np.nonzero(np.abs(picture - colour).max(axis=2) <= 40)
    assert len(rows) > 50
    slope, _ = np.polyfit(rows, columns, 1)
    assert np.degrees(np.arctan(-slope)) == pytest.approx(axis["angle_deg"] - 90.0, abs=0.5)
    assert np.ptp(rows) > 0.5 * picture.shape[0]


def spiral() -> list[Floats]:
    turn = np.linspace(0.5, 9, 300)
    first = np.stack([320 + 18 * turn * np.cos(turn), 250 + 14 * turn * np.sin(turn)], axis=1)
    return [first, np.array([[100.0, 500], [250, 600], [300, 480], [420, 590], [600, 470]])]


def test_without_an_axis_the_command_stops_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = sketch(tmp_path / "spiral.png", spiral())
    before = page.read_bytes()
    target = tmp_path / "a.svg"
    assert main(["trace", str(page), "-o", str(target), "--mirror", "auto", "--paper", "none"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    sentence = err.strip().splitlines()[-1]
    assert "No axis of symmetry can be trusted" in sentence
    assert "--zones" in sentence
    assert "mirror = { at = [0.5, 0.5], angle = 90 }" in sentence
    assert {path.name for path in tmp_path.iterdir()} == {"spiral.png"}
    assert page.read_bytes() == before
    # What the sentence says to do works.
    zones = tmp_path / "zones.toml"
    zones.write_text("[mirror]\nat = [0.5, 0.5]\nangle = 90\n")
    assert main(["trace", str(page), "-o", str(target), "--zones", str(zones), "--paper", "none"]) == 0
    assert "(by hand, score 1.00)" in capsys.readouterr().out


@pytest.mark.parametrize(("keep", "code"), [("top", 0), ("bottom", 2), ("left", 2), ("middle", 2)])
def test_a_side_may_be_chosen_and_must_be_drawn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], keep: str, code: int
) -> None:
    page = sketch(tmp_path / "shell.png", half_shell(-90.0, 320, 400))
    zones = tmp_path / "zones.toml"
    zones.write_text(f'[mirror]\nat = [0.5, 0.625]\nangle = 0\nkeep = "{keep}"\n')
    target = tmp_path / "a.svg"
    assert main(["trace", str(page), "-o", str(target), "--zones", str(zones), "--paper", "none"]) == code
    said = capsys.readouterr()
    assert target.exists() == (code == 0)
    expected = {
        "top": "the top side is kept",
        "bottom": "Nothing is drawn on the side of the axis that is to be kept",
        "left": 'has no left side to keep: write keep = "top" or keep = "bottom"',
        "middle": "keep",
    }[keep]
    assert expected in (said.out if code == 0 else said.err)


def test_mirroring_is_off_unless_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = sketch(tmp_path / "shell.png", half_shell(0.0, 320, 320))
    assert main(["trace", str(page), "-o", str(tmp_path / "a.svg"), "--paper", "none"]) == 0
    assert "mirrored" not in capsys.readouterr().out
