"""A sheet that is to be filled, and stickers of one sketch side by side."""

import json
from pathlib import Path

import pytest
import shapely

from helpers_sketches import write_ring
from limner.cli.main import main
from limner.errors import InputError
from limner.geometry.cubics import flatten
from limner.job import load_job
from limner.model.sheet import Sheet
from limner.pipeline import build_sheet

JOB = """
[sheet]
size = "A6"
scale = "fit"

[[sticker]]
name = "ring"
sketch = "ring.png"
width = "10 mm"
copies = 5

[[sticker]]
name = "wide"
like = "ring"
width = "20 mm"

[[sticker]]
name = "fixed"
like = "ring"
width = "15 mm"
at = ["20 mm", "20 mm"]
"""


def job_in(folder: Path, text: str = JOB) -> Path:
    write_ring(folder / "ring.png")
    (folder / "job.toml").write_text(text)
    return folder / "job.toml"


@pytest.fixture(scope="module")
def filled(tmp_path_factory) -> tuple[Path, Sheet]:
    """The job, and its sheet by a first run."""
    path = job_in(tmp_path_factory.mktemp("filled"))
    return path, build_sheet(load_job(path), workers=1).sheet


def test_free_stickers_are_as_large_as_they_go_by_one_factor(filled, tmp_path):
    _, sheet = filled
    assert sheet.scale is not None
    assert sheet.scale > 1.5
    widths = {sticker.name: sticker.width_mm for sticker in sheet.stickers}
    assert widths["fixed"] == 15.0
    assert widths["ring"] == widths["ring-5"] == pytest.approx(10 * sheet.scale)
    assert widths["wide"] == pytest.approx(20 * sheet.scale)
    regions = [shapely.Polygon(flatten(sticker.cut.path, 0.001)) for sticker in sheet.stickers]
    gaps = [a.distance(b) for i, a in enumerate(regions) for b in regions[:i]]
    assert min(gaps) >= 2.0 - 0.01
    assert all(sticker.cut.min_distance_mm >= 2.5 for sticker in sheet.stickers)
    # Written with the factor, the widths fit as well.
    written = JOB.replace('scale = "fit"\n', "")
    for width in (10, 20):
        written = written.replace(f'"{width} mm"\n', f'"{width * sheet.scale} mm"\n')
    again = build_sheet(load_job(job_in(tmp_path, written)), workers=1).sheet
    assert again.scale is None
    assert {sticker.name: sticker.width_mm for sticker in again.stickers} == pytest.approx(widths)


def test_a_second_run_lays_no_cut_line_again_and_reports_the_factor(filled, tmp_path, monkeypatch, capsys):
    def must_not_cut(*_):
        raise AssertionError

    monkeypatch.setattr("limner.pipeline.sheet.worker.lay_cut", must_not_cut)
    path, sheet = filled
    assert main(["sheet", str(path), "-o", str(tmp_path)]) in (0, 1)
    scale = json.loads((tmp_path / "report.json").read_text())["scale"]
    assert scale == sheet.scale
    assert f"stickers without a place are {scale:g} times as wide as written" in capsys.readouterr().out
    assert f"{scale:g} times as wide as written" in (tmp_path / "report.html").read_text()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('scale = "fit"', "scale = 2", 'line 4: scale of [sheet] is "2", but must be "fit"'),
        ('scale = "fit"', 'alike = "far"', 'must be "apart" or "together"'),
        ('copies = 5', 'at = ["60 mm", "60 mm"]', "line 4: scale of [sheet] is of no use where"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_for_is_named(tmp_path, old, new, said):
    text = JOB.replace(old, new).replace('width = "20 mm"', 'width = "20 mm"\nat = ["60 mm", "100 mm"]')
    with pytest.raises(InputError) as caught:
        load_job(job_in(tmp_path, text))
    assert said in str(caught.value)


def test_alike_reaches_the_layout(tmp_path):
    text = JOB.replace('scale = "fit"', 'alike = "together"')
    assert load_job(job_in(tmp_path, text)).tables.sheet.alike == "together"
