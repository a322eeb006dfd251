"""`art = "own.svg"` through the whole command."""

import json
from pathlib import Path

import pytest

from helpers_job import RING_JOB
from helpers_sketches import write_ring
from limner.cli.main import main

KELP = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">
<g id="leaves"><rect id="leaf" width="60" height="90" fill="#b9cf95" stroke="#222222" stroke-width="3"/></g>
<circle id="bubble" cx="80" cy="20" r="15" fill="#808080"/>
</svg>"""

ART_JOB = """[colours]
kelp = { cmyk = [70, 0, 80, 10] }

[[sticker]]
name = "kelp"
art = "kelp.svg"
width = "30 mm"
at = ["50 mm", "60 mm"]
"""


PLACE = 'at = ["50 mm", "60 mm"]'


@pytest.fixture
def job(tmp_path: Path) -> Path:
    (tmp_path / "kelp.svg").write_text(KELP)
    (tmp_path / "sheet.toml").write_text(ART_JOB)
    return tmp_path / "sheet.toml"


def colours(folder: Path) -> dict[str, tuple[list[float], str]]:
    report = json.loads((folder / "report.json").read_text())
    return {colour["name"]: (colour["cmyk"], colour["source"]) for colour in report["colours"]}


def test_art_keeps_its_colours_but_for_what_the_job_gives(job: Path, tmp_path: Path) -> None:
    assert main(["sheet", str(job), "-o", str(tmp_path / "own")]) == 0
    own = colours(tmp_path / "own")
    assert own["#222222"] == ([0, 0, 0, 86.7], "one-ink"), "strokes are lines"
    # The formula of CSS Color 5, inverted, puts a grey into black alone, too.
    assert own["#808080"] == ([0, 0, 0, 49.8], "approximate")
    job.write_text(ART_JOB + '\n  [[sticker.area]]\n  name = "leaves"\n  fill = "kelp"\n')
    assert main(["sheet", str(job), "-o", str(tmp_path / "changed")]) == 0
    changed = colours(tmp_path / "changed")
    assert set(changed) == {"kelp", "#222222", "#808080"}, "the stroke around the leaf keeps its colour"
    job.write_text(ART_JOB + 'ink = "kelp"\n\n  [[sticker.area]]\n  name = "bubble"\n  skip = true\n')
    assert main(["sheet", str(job), "-o", str(tmp_path / "inked")]) == 0
    assert set(colours(tmp_path / "inked")) == {"#b9cf95", "kelp"}


def test_a_second_run_takes_what_is_kept(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert main(["sheet", str(job), "-o", str(out)]) == 0
    before = (out / "sheet.svg").read_bytes()
    assert "traced: kelp" in capsys.readouterr().out
    assert main(["sheet", str(job), "-o", str(out)]) == 0
    assert "traced" not in capsys.readouterr().out
    assert (out / "sheet.svg").read_bytes() == before
    (tmp_path / "kelp.svg").write_text(KELP.replace('r="15"', 'r="12"'))
    assert main(["sheet", str(job), "-o", str(out)]) == 0
    assert "traced: kelp" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('art = "kelp.svg"', 'art = "kelp.svg"\nsketch = "kelp.svg"', "has both a sketch and art"),
        ('art = "kelp.svg"\n', "", 'line 4: [[sticker]] "kelp" has no sketch: add it.'),
        ("kelp.svg", "klep.svg", 'line 6: art of [[sticker]] "kelp" is "klep.svg", which is not there'),
        (
            'width = "30',
            'nodes = 9\nwidth = "30',
            'line 7: nodes of [[sticker]] "kelp" is of no use with art',
        ),
        (PLACE, "[[sticker.area]]\nfill = 'kelp'", "has no name: add the id of a shape"),
        (PLACE, "[[sticker.area]]\nname = 'leaf'\nat = [0.1, 0.2]", "at of [[sticker.area]]"),
        (PLACE, "[[sticker.area]]\nname = 'fin'", 'no shape with the id "fin"; it has: bubble, leaf'),
    ],
)
def test_mistakes_are_named(
    job: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, said: str
) -> None:
    job.write_text(ART_JOB.replace(old, new))
    assert main(["sheet", str(job)]) == 2
    assert said in capsys.readouterr().err


def test_an_element_that_is_refused_is_named_with_sticker_and_line(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (job.parent / "kelp.svg").write_text(KELP.replace('<circle id="bubble"', '<text id="bubble"'))
    assert main(["sheet", str(job)]) == 2
    told = capsys.readouterr().err
    assert 'sheet.toml, line 4: sticker "kelp": kelp.svg, line 3: <text> "bubble" is text' in told


def test_a_sketch_still_needs_points(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_ring(tmp_path / "ring.png")
    job = tmp_path / "sheet.toml"
    job.write_text(RING_JOB + '\n  [[sticker.area]]\n  name = "ring"\n')
    assert main(["sheet", str(job)]) == 2
    assert 'line 11: [[sticker.area]] "ring" has no at: add it.' in capsys.readouterr().err
    zones = tmp_path / "zones.toml"
    zones.write_text('[[area]]\nname = "ring"\n')
    assert main(["trace", str(tmp_path / "ring.png"), "--zones", str(zones)]) == 2
    assert "without a point: add at = [0.42, 0.31]" in capsys.readouterr().err


@pytest.mark.parametrize("more", ["", "rotate = 20\n", 'lines = "even"\n'])
def test_limners_own_art_comes_back_as_it_went_out(tmp_path: Path, more: str) -> None:
    """A traced sketch, its single as art, and that one's single as art again: the same bytes."""
    write_ring(tmp_path / "ring.png")
    jobs = [tmp_path / name / "sheet.toml" for name in ("traced", "first", "second")]
    texts = [RING_JOB.replace('"ring.png"', '"../ring.png"') + more]
    for before in jobs[:2]:
        art = f'art = "../{before.parent.name}/out/singles/ring.svg"'
        own = more if "rotate" in more else ""
        texts.append(RING_JOB.replace('sketch = "ring.png"', art) + own)
    for job, text in zip(jobs, texts, strict=True):
        job.parent.mkdir()
        job.write_text(text)
        assert main(["sheet", str(job), "-o", str(job.parent / "out"), "--singles"]) == 0
    traced, first, second = (job.parent / "out" for job in jobs)
    for name in ("singles/ring.svg", "singles/ring.png", "sheet.svg"):
        assert (traced / name).read_bytes() == (first / name).read_bytes() == (second / name).read_bytes()
