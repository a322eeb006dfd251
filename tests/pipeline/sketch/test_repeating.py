"""Motifs placed again, through both doors: from tables in fractions of the page to shapes and cut lines."""

from itertools import pairwise

import cv2
import numpy as np
import pytest

from helpers_touches import strokes
from limner.cli.main import main
from limner.errors import InputError
from limner.geometry.cubics import bounds
from limner.job import RepeatTable, load_job, load_zones
from limner.pipeline import TraceSettings, build_sheet, trace

# A square of 60 mm on a page of 100 mm, and a smaller one in it, from 25 to 35 mm.
LINES = [
    [[80, 80], [320, 80], [320, 320], [80, 320], [80, 80]],
    [[100, 100], [140, 100], [140, 140], [100, 140], [100, 100]],
]
RING = [[0.22, 0.22], [0.4, 0.22], [0.4, 0.4], [0.22, 0.4]]
JOB = """
[sheet]
size = "A5"

[[sticker]]
name = "house"
sketch = "house.png"
paper = "none"
width = "60 mm"

  [[sticker.area]]
  at = [0.3, 0.3]
  name = "window"
  fill = "#4080c0"

  [[sticker.repeat]]
  ring = [[0.22, 0.22], [0.4, 0.22], [0.4, 0.4], [0.22, 0.4]]
  to = [{ at = [0.7, 0.3] }, { at = [0.9, 0.6], turn = 45, scale = 0.8, flip = true }]
"""


@pytest.fixture
def house(tmp_path):
    corners = [list(pairwise(line)) for line in LINES]
    sides = [side for line in corners for side in line]
    path = tmp_path / "house.png"
    cv2.imwrite(str(path), (255 - 225 * strokes(*sides)).astype(np.uint8))
    return path


def test_copies_are_placed_where_the_fractions_say(house):
    table = RepeatTable.model_validate({"ring": RING, "to": [{"at": [0.7, 0.3]}]})
    result = trace(house, TraceSettings(width_mm=100.0, paper="none", repeats=(table,)))
    shapes = {shape.name: shape for shape in result.drawing.shapes}
    (copied,) = [name for name in shapes if name.endswith("-copy-1") and shapes[name].role == "line"]
    x0, y0, x1, y1 = bounds(shapes[copied].paths[0])
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((70.0, 30.0), abs=1e-6)
    plain = trace(house, TraceSettings(width_mm=100.0, paper="none"))
    assert len(result.drawing.shapes) == len(plain.drawing.shapes) + 2


def test_both_doors_place_the_same_copies(house, tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    sheet = build_sheet(load_job(job), workers=1).sheet
    (sticker,) = sheet.stickers
    names = [item.shape.name for item in sticker.shapes]
    assert {"window-copy-1", "window-copy-2"} < set(names)
    windows = [item for item in sticker.fills if item.shape.name.startswith("window")]
    assert len({item.colour for item in windows}) == 1
    assert sticker.width_mm == 60.0
    # What lies across the side of the house reaches past it, and the cut line goes around it.
    assert sticker.cut.min_distance_mm >= 2.5
    zones = tmp_path / "zones.toml"
    tables = JOB.split("[[sticker.area]]")[1].replace("sticker.", "")
    zones.write_text("[[area]]" + tables)
    result = trace(
        house, TraceSettings(paper="none", areas=load_zones(zones).areas, repeats=load_zones(zones).repeats)
    )
    assert [shape.name for shape in result.drawing.shapes] == names


def test_another_repeat_needs_no_other_map(house, tmp_path, monkeypatch):
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    build_sheet(load_job(job), workers=1)
    job.write_text(JOB.replace("turn = 45", "turn = 30"))
    first = build_sheet(load_job(job), workers=1, keep=False)

    def must_not_trace(*_):
        raise AssertionError

    monkeypatch.setattr("limner.pipeline.sheet.worker.trace", must_not_trace)
    again = build_sheet(load_job(job), workers=1)
    assert again.retraced == ("house",)
    paths = [
        [path.segments.tobytes() for item in sheet.stickers[0].shapes for path in item.shape.paths]
        for sheet in (first.sheet, again.sheet)
    ]
    assert paths[0] == paths[1]


def test_a_sticker_like_another_has_copies_of_its_own(house, tmp_path):
    job = tmp_path / "job.toml"
    other = '\n[[sticker]]\nname = "bare"\nlike = "house"\nwidth = "30 mm"\n\n  [[sticker.repeat]]\n'
    job.write_text(JOB + other + f"  ring = {RING}\n  to = [{{ at = [0.7, 0.7] }}]\n")
    house_sticker, bare = build_sheet(load_job(job), workers=1).sheet.stickers
    counts = [sum("-copy-" in item.shape.name for item in s.fills) for s in (house_sticker, bare)]
    assert counts[0] > counts[1] == 1


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("at = [0.7, 0.3]", "at = [0.99, 0.3]", 18, "this copy of a motif runs off the page"),
        ("0.4]]", "0.25]]", 17, "this ring holds no whole shape"),
        ("[0.22, 0.22], [0.4, 0.22],", "", 17, "must be at least three points"),
        ("scale = 0.8", "scale = 0", 18, "must be a multiple of the size"),
        ("flip = true", "flop = true", 18, 'did you mean "flip"'),
        ("[0.22, 0.4]]", "[0.22, 1.4]]", 17, "fractions of the page"),
        ("at = [0.7, 0.3]", "at = [0.7, -0.3]", 18, "fractions of the page"),
        ("to = [", "to = [" + "{ at = [0.5, 0.5] }, " * 499, 18, "has 501 places, but may have 500"),
        ("  to = [", "  # to = [", 16, "has no to"),
    ],
)  # fmt: skip
def test_what_cannot_be_repeated_is_one_sentence_with_its_line(house, tmp_path, old, new, line, said):
    job = tmp_path / "job.toml"
    assert old in JOB
    job.write_text(JOB.replace(old, new))
    with pytest.raises(Exception, match=f"job.toml, line {line}: .*{said}") as caught:
        build_sheet(load_job(job), workers=1)
    assert "\n" not in str(caught.value)


def test_art_has_no_motifs(tmp_path):
    (tmp_path / "house.svg").write_text("<svg/>")
    job = tmp_path / "job.toml"
    text = JOB.replace('sketch = "house.png"\npaper = "none"', 'art = "house.svg"').replace(
        "at = [0.3, 0.3]\n", ""
    )
    job.write_text(text)
    with pytest.raises(InputError, match=r"repeat of \[\[sticker\]\] .* is of no use with art"):
        load_job(job)


def test_the_command_names_the_line_of_the_file(house, tmp_path, capsys):
    zones = tmp_path / "zones.toml"
    zones.write_text(
        "[[repeat]]\nring = [[0.9, 0.9], [0.95, 0.9], [0.9, 0.95]]\nto = [{ at = [0.5, 0.5] }]\n"
    )
    assert main(["trace", str(house), "--zones", str(zones), "-o", str(tmp_path / "out.svg")]) == 2
    assert "zones.toml, line 2: this ring holds no whole shape" in capsys.readouterr().err
    assert not (tmp_path / "out.svg").exists()
