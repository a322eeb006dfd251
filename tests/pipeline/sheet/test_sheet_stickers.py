"""How a job's stickers are made: side by side, kept at once, told about, and named when they fail."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from helpers_dying import die
from helpers_sketches import write_ring
from limner.errors import InputError
from limner.job.load import load_job
from limner.pipeline.kept.store import Kept
from limner.pipeline.sheet import stickers
from limner.pipeline.sheet import worker as making
from limner.pipeline.sheet.asked import trace_settings
from limner.pipeline.sheet.build import build_sheet
from limner.pipeline.sheet.files import sheet_files
from limner.pipeline.sheet.names import KEPT_FOLDER

NAMES = ("one", "two", "three")

STICKER = """
[[sticker]]
name = "{0}"
sketch = "{0}.png"
width = "20 mm"

  [[sticker.area]]
  at = [0.5, 0.3]
  name = "ring"
  fill = "coral"
"""


def job_text(names: tuple[str, ...] = NAMES) -> str:
    head = '[sheet]\nsize = "A6"\n\n[colours]\ncoral = { cmyk = [0, 52, 50, 3] }\n'
    return head + "".join(STICKER.format(name) for name in names)


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    """A job of three rings of three sizes."""
    for number, name in enumerate(NAMES):
        write_ring(tmp_path / f"{name}.png", 200 + 20 * number)
    path = tmp_path / "sheet.toml"
    path.write_text(job_text())
    return path


def change(path: Path, old: str, new: str, count: int = 1) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, count))


def entries(path: Path) -> set[str]:
    return {entry.name for entry in (path.parent / KEPT_FOLDER).glob("*.json")}


def svg(path: Path, **options: object) -> bytes:
    return sheet_files(build_sheet(load_job(path), **options))["sheet.svg"]  # type: ignore[arg-type]


def must_not_trace(*arguments: object) -> None:
    raise AssertionError("traced, though nothing of the drawing changed")


def test_files_are_the_same_on_one_process_two_and_from_what_was_kept(job_file: Path) -> None:
    alone = sheet_files(build_sheet(load_job(job_file), workers=1, keep=False))
    assert sheet_files(build_sheet(load_job(job_file), workers=2)) == alone
    assert sheet_files(build_sheet(load_job(job_file), workers=2)) == alone


def test_a_drawing_and_a_cut_line_are_kept_for_each_sticker(job_file: Path) -> None:
    assert build_sheet(load_job(job_file), workers=1).retraced == NAMES
    assert len(entries(job_file)) == 6
    assert build_sheet(load_job(job_file), workers=1).retraced == ()


def test_another_cut_needs_no_trace(job_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = build_sheet(load_job(job_file), workers=1).sheet.stickers[0].cut
    monkeypatch.setattr(making, "trace", must_not_trace)
    change(job_file, "[colours]", '[cut]\ndistance = "3.5 mm"\n\n[colours]')
    result = build_sheet(load_job(job_file), workers=1)
    assert result.retraced == ()
    assert result.sheet.stickers[0].cut.length_mm > before.length_mm + 5.0
    assert result.sheet.stickers[0].cut.min_distance_mm >= 3.45


def test_another_place_needs_neither_trace_nor_cut(job_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    build_sheet(load_job(job_file), workers=1)
    monkeypatch.setattr(stickers, "make_sticker", must_not_trace)
    change(job_file, 'width = "20 mm"\n', 'width = "20 mm"\nat = ["30 mm", "40 mm"]\nrotate = 10\n')
    assert build_sheet(load_job(job_file), workers=1).sheet.stickers[0].rotate_deg == 10


def test_another_ink_needs_no_trace_and_shows(job_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = svg(job_file, workers=1)
    monkeypatch.setattr(stickers, "make_sticker", must_not_trace)
    change(job_file, 'width = "20 mm"\n', 'width = "20 mm"\nink = "coral"\n')
    assert svg(job_file, workers=1) != before


def test_one_changed_sketch_is_traced_again(job_file: Path) -> None:
    build_sheet(load_job(job_file), workers=1)
    write_ring(job_file.parent / "two.png", 260)
    assert build_sheet(load_job(job_file), workers=1).retraced == ("two",)


def test_a_kept_rule_that_the_job_does_not_have_is_not_believed(job_file: Path) -> None:
    build_sheet(load_job(job_file), workers=1)
    job = load_job(job_file)
    palette = stickers_palette(job)
    store = stickers.Store(job_file.parent / KEPT_FOLDER)
    key = stickers._keys(job, job.stickers[0], trace_settings(job, job.stickers[0], palette)).trace
    kept = store.load(key)
    assert kept is not None
    fills = tuple(replace(shape, rule=7) for shape in kept.drawing.fills)
    store.save(key, Kept(replace(kept.drawing, fills=fills), kept.px_per_mm))
    assert build_sheet(job, workers=1).retraced == ("one",)


def stickers_palette(job: object) -> stickers.Palette:
    from limner.job.palette import job_palette, job_press

    return job_palette(job, job_press(job))  # type: ignore[arg-type]


@pytest.mark.parametrize("workers", [1, 2])
def test_what_is_done_is_kept_when_a_later_sticker_fails(job_file: Path, workers: int) -> None:
    (job_file.parent / "three.png").write_bytes(b"no picture")
    with pytest.raises(
        InputError, match=r'sheet\.toml, line 27: sticker "three": ".*three\.png" is not a picture'
    ):
        build_sheet(load_job(job_file), workers=workers)
    write_ring(job_file.parent / "three.png")
    assert build_sheet(load_job(job_file), workers=1).retraced == ("three",)


@pytest.mark.parametrize("workers", [1, 2])
def test_the_first_sticker_that_fails_is_named(job_file: Path, workers: int) -> None:
    for name in ("two", "three"):
        (job_file.parent / f"{name}.png").write_bytes(b"no picture")
    for _ in range(2):
        with pytest.raises(InputError, match='sticker "two"'):
            build_sheet(load_job(job_file), workers=workers, keep=False)


def test_a_point_in_no_area_names_sticker_and_line(job_file: Path) -> None:
    change(job_file, "at = [0.5, 0.3]", "at = [0.01, 0.01]")
    with pytest.raises(
        Exception, match=r'sheet\.toml, line 13: sticker "one": The point \[0\.01, 0\.01\] lies in no area'
    ):
        build_sheet(load_job(job_file), workers=1)


@pytest.mark.parametrize("workers", [1, 2])
def test_progress_counts_what_is_made(job_file: Path, workers: int) -> None:
    told: list[tuple[str, int, int]] = []
    build_sheet(load_job(job_file), workers=workers, progress=lambda *step: told.append(step))
    assert told[0] == ("", 0, 3)
    assert [(done, total) for _, done, total in told] == [(0, 3), (1, 3), (2, 3), (3, 3)]
    assert sorted(name for name, _, _ in told[1:]) == sorted(NAMES)
    told.clear()
    build_sheet(load_job(job_file), workers=workers, progress=lambda *step: told.append(step))
    assert told == []


def test_a_process_that_dies_names_the_sticker(job_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stickers, "make_sticker", die)
    with pytest.raises(InputError, match=r'sticker "one": the process that traced it died'):
        build_sheet(load_job(job_file), workers=2, keep=False)


def test_stopping_leaves_what_is_done(job_file: Path) -> None:
    def stop(name: str, done: int, total: int) -> None:
        if done == 1:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        build_sheet(load_job(job_file), workers=2, progress=stop)
    assert len(entries(job_file)) == 2


def test_sketches_and_job_are_only_read(job_file: Path) -> None:
    before = {path.name: path.read_bytes() for path in job_file.parent.iterdir()}
    build_sheet(load_job(job_file), workers=1)
    shutil.rmtree(job_file.parent / KEPT_FOLDER)
    assert {path.name: path.read_bytes() for path in job_file.parent.iterdir()} == before


def test_colours_named_in_the_job_reach_the_press_as_they_are(job_file: Path) -> None:
    sheet = build_sheet(load_job(job_file), workers=1).sheet
    rings = [item for sticker in sheet.stickers for item in sticker.fills if item.shape.name == "ring"]
    assert len(rings) == 3
    assert {item.colour.cmyk for item in rings} == {(0.0, 52.0, 50.0, 3.0)}
    lines = [item for sticker in sheet.stickers for item in sticker.lines]
    assert {item.colour.cmyk for item in lines} == {(0.0, 0.0, 0.0, 100.0)}
    assert (
        json.loads(sheet_files(build_sheet(load_job(job_file)))["report.json"])["stickers"][0]["name"]
        == "one"
    )


LIKE = """
[[sticker]]
name = "small"
like = "one"
width = "12 mm"
copies = 3

  [[sticker.area]]
  name = "ring"
  fill = "#3366aa"
"""


def test_sizes_and_colourways_of_a_sticker_come_from_one_trace(job_file: Path, monkeypatch):
    traced = []
    trace = making.trace
    monkeypatch.setattr(making, "trace", lambda *args: traced.append(args[0].name) or trace(*args))
    job_file.write_text(job_text(("one",)) + LIKE)
    result = build_sheet(load_job(job_file), workers=1)
    assert traced == ["one.png"]
    assert result.retraced == ("one",)
    names = [sticker.name for sticker in result.sheet.stickers]
    assert names == ["one", "small", "small-2", "small-3"]
    one, *small = result.sheet.stickers
    assert [sticker.width_mm for sticker in small] == [12.0] * 3
    assert len({(sticker.x_mm, sticker.y_mm) for sticker in result.sheet.stickers}) == 4
    ring = [next(i for i in s.fills if i.shape.name == "ring").colour.screen for s in (one, small[0])]
    assert ring[0] != ring[1]
    # Drawn the same, but for the scale.
    nodes = [sum(item.shape.node_count for item in sticker.shapes) for sticker in result.sheet.stickers]
    assert len(set(nodes)) == 1
    assert small[0].line_width_mm == pytest.approx(one.line_width_mm * 12 / 20)
