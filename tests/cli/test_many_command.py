"""`limner trace` with several sketches and with folders."""

import json
import os
import sys
from pathlib import Path

import pytest

from helpers_sketches import RING_AREAS, picture_bytes, ring_pixels, write_ring
from limner.cli.main import main
from limner.cli.many import sketches_of
from limner.output import unique_stems


def run(*arguments: object) -> int:
    return main([str(argument) for argument in arguments])


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture
def scans(tmp_path: Path) -> Path:
    folder = tmp_path / "scans"
    folder.mkdir()
    write_ring(folder / "b.png")
    write_ring(folder / "a.PNG")
    (folder / "notes.txt").write_text("not a sketch")
    (folder / ".hidden.png").write_text("not one either")
    (folder / "album.png").mkdir()
    return folder


def test_a_folder_and_a_sketch(scans: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    single = tmp_path / "c.jpg"
    single.write_bytes(picture_bytes(ring_pixels(), "JPEG"))
    out, proofs = tmp_path / "new" / "out", tmp_path / "proofs"
    assert run("trace", single, scans, "-o", out, "--report", out, "--proof", proofs, "--width", 60) == 0
    assert names(out) == {"a.svg", "b.svg", "c.svg", "a.json", "b.json", "c.json"}
    assert names(proofs) == {"a-proof.png", "b-proof.png", "c-proof.png"}
    assert json.loads((out / "a.json").read_text())["width_mm"] == pytest.approx(60)
    assert (out / "a.svg").read_bytes() == (out / "b.svg").read_bytes().replace(b"b.png", b"a.PNG")
    output, progress = capsys.readouterr()
    lines = output.splitlines()
    # In the order of the arguments, those of a folder by name, whichever was done first.
    assert [line.split(" ")[0] for line in lines[:3]] == ["c.jpg", "a.PNG", "b.png"]
    assert all(f"{RING_AREAS} areas" in line for line in lines[:3])
    assert lines[3] == "3 of 3 sketches traced"
    assert "3 of 3" in progress


def test_one_bad_file_does_not_stop_the_rest(
    scans: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (scans / "aa.jpg").write_text("no picture")
    out = tmp_path / "out"
    assert run("trace", scans, tmp_path / "gone.jpg", "-o", out) == 1
    assert names(out) == {"a.svg", "b.svg"}
    output, progress = capsys.readouterr()
    assert output.splitlines()[-1] == "2 of 4 sketches traced"
    ends = progress.splitlines()[-2:]
    assert "aa.jpg" in ends[0]
    assert "gone.jpg" in ends[1]


def test_none_that_can_be_traced(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("trace", tmp_path / "a.jpg", tmp_path / "b.jpg", "-o", tmp_path / "out") == 2
    assert names(tmp_path / "out") == set()
    assert "0 of 2 sketches traced" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("files", "expected"),
    [
        (["a/crab.jpg", "b/crab.jpg"], ["crab", "crab-2"]),
        (["crab.jpg", "crab.png", "crab-2.jpg"], ["crab", "crab-3", "crab-2"]),
        (["Crab.jpg", "crab.png"], ["Crab", "crab-2"]),
        (["crab.v2.jpg", "crab.jpg"], ["crab.v2", "crab"]),
    ],
)
def test_names_that_clash_are_numbered(files: list[str], expected: list[str]) -> None:
    assert unique_stems([Path(name).stem for name in files]) == expected


def test_each_sketch_once(scans: Path, tmp_path: Path) -> None:
    (tmp_path / "link.png").symlink_to(scans / "a.PNG")
    found = sketches_of([str(scans), str(scans / "b.png"), str(tmp_path / "link.png")])
    assert found == [scans / "a.PNG", scans / "b.png"]


def test_what_cannot_be_done_is_refused_at_once(
    scans: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def refused(*arguments: object) -> str:
        assert run("trace", *arguments) == 2
        output, sentence = capsys.readouterr()
        assert output == ""
        assert sentence.count("\n") == 1
        return sentence

    a, b = scans / "a.PNG", scans / "b.png"
    before = names(tmp_path), names(scans)
    assert "-o FOLDER" in refused(a, b)
    assert "is not a folder" in refused(a, b, "-o", b)
    assert "is not a folder" in refused(a, b, "-o", tmp_path / "out", "--report", b)
    assert "taken for sketches" in refused(scans, "-o", tmp_path / "out", "--proof", scans)
    assert "cannot be made" in refused(a, b, "-o", b / "out")
    assert "--width" in refused(scans, "-o", tmp_path / "out", "--width", "wide")
    assert (names(tmp_path), names(scans)) == before
    (tmp_path / "empty").mkdir()
    assert "holds no picture" in refused(tmp_path / "empty", "-o", tmp_path / "out")


def test_sketches_are_never_written_over(scans: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # A picture by its content, whatever its name.
    sketch = write_ring(scans / "b.svg")
    before = sketch.read_bytes()
    assert run("trace", sketch, scans / "b.png", "-o", scans) == 2
    assert "never written over" in capsys.readouterr().err
    assert sketch.read_bytes() == before


def test_on_a_terminal_a_bar_grows(
    scans: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setitem(os.environ, "TERM", "xterm")
    assert run("trace", scans, "-o", tmp_path / "out") == 0
    _, progress = capsys.readouterr()
    assert "2 of 2" not in progress
    assert "tracing" in progress
