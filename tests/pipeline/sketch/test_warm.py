"""A sketch that is kept in memory is traced as if it were not, and only what changed is worked out."""

import dataclasses
import shutil
from pathlib import Path
from typing import Any

import pytest

from limner.curves.fit import kept
from limner.curves.fit.fitting import fit_paths
from limner.errors import InputError
from limner.job import AreaTable, MirrorTable, TouchTable, ZoneTable
from limner.pipeline.sketch import mapping
from limner.pipeline.sketch.files import trace_files
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.steps import TraceResult
from limner.pipeline.sketch.trace import trace
from limner.pipeline.sketch.warm import WarmSketch

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
SHELL, EYE = [0.5, 0.6], [0.4, 0.42]
BASE = TraceSettings(width_mm=148.0, smoothing_mm=0.25)


def written(result: TraceResult) -> dict[str, bytes]:
    return trace_files(dataclasses.replace(result, seconds={}), "sketch", ("svg", "report", "areas"))


def with_(settings: TraceSettings, **changes: Any) -> TraceSettings:
    return dataclasses.replace(settings, **changes)


def area(**values: Any) -> AreaTable:
    return AreaTable.model_validate(values)


def touch(**values: Any) -> TouchTable:
    return TouchTable.model_validate(values)


@pytest.fixture(scope="module")
def crab() -> WarmSketch:
    return WarmSketch(FIXTURES / "crab.jpg")


def test_each_change_gives_what_a_whole_trace_gives(crab: WarmSketch) -> None:
    pull = touch(pull=[[0.50, 0.69], [0.50, 0.72]], reach="25 mm")
    draw = touch(draw=[[0.12, 0.36], [0.18, 0.34], [0.25, 0.36]])
    rub = touch(rub=[[0.46, 0.58], [0.51, 0.61], [0.56, 0.58]])
    part = touch(part=[[0.28, 0.54], [0.50, 0.50], [0.74, 0.54]])
    named = (area(at=SHELL, name="shell", fill="#e8a87c"),)
    asked = [
        with_(BASE, areas=named),
        with_(BASE, areas=named, lines="none", smoothing_mm=0.4),
        with_(BASE, areas=named, touches=(draw, rub)),
        with_(BASE, areas=named, touches=(draw, part, pull), drawing_width_mm=40.0),
        with_(BASE, zones=(ZoneTable.model_validate({"area": "shell", "smoothing": 0.5}),), areas=named),
        with_(BASE, paper="A5"),
    ]
    for settings in asked:
        assert written(crab.trace(settings)) == written(trace(FIXTURES / "crab.jpg", settings))


def test_mirrored_sketches_are_traced_the_same() -> None:
    sketch = WarmSketch(FIXTURES / "half-diver.jpg")
    mirror = (MirrorTable(),)
    rub = touch(rub=[[0.40, 0.40], [0.44, 0.42]])
    for settings in (
        with_(BASE, mirror=mirror, touches=(rub,)),
        with_(BASE, mirror=mirror, areas=(area(at=[0.4, 0.5], name="face", fill="#ffcc99"),)),
    ):
        assert written(sketch.trace(settings)) == written(trace(FIXTURES / "half-diver.jpg", settings))


def test_names_and_colours_need_neither_areas_nor_curves(
    crab: WarmSketch, monkeypatch: pytest.MonkeyPatch
) -> None:
    pull = touch(pull=[[0.50, 0.69], [0.50, 0.72]], reach="25 mm")
    plain = with_(BASE, touches=(pull,), areas=(area(at=SHELL, name="shell"), area(at=EYE, fill="#123456")))
    crab.trace(plain)
    renamed = with_(
        plain, areas=(area(at=SHELL, name="back", fill="#445566"), area(at=EYE, name="eye", fill="#ffffff"))
    )
    whole = written(trace(FIXTURES / "crab.jpg", renamed))

    def refused(*_: object) -> None:
        raise AssertionError("worked out again")

    for step in ("build_graph", "divide_page", "arrange_areas", "fit_map"):
        monkeypatch.setattr(mapping, step, refused)
    assert written(crab.trace(renamed)) == whole


def test_a_touch_fits_what_it_changes(crab: WarmSketch, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = crab.trace(BASE)
    counts: list[int] = []

    def counting(lines: Any) -> Any:
        counts.append(len(lines))
        return fit_paths(lines)

    monkeypatch.setattr(kept, "fit_paths", counting)
    drawn = crab.trace(with_(BASE, touches=(touch(draw=[[0.12, 0.36], [0.18, 0.34], [0.25, 0.36]]),)))
    everything = sum(len(shape.paths) for shape in plain.drawing.shapes)
    assert 0 < sum(counts) < everything / 4
    before = {path.segments.tobytes() for shape in plain.drawing.shapes for path in shape.paths}
    after = {path.segments.tobytes() for shape in drawn.drawing.shapes for path in shape.paths}
    assert len(before & after) > 0.8 * len(before)


def test_only_a_smoothing_finer_than_the_lines_reads_the_page_again(crab: WarmSketch) -> None:
    crab.trace(BASE)
    read = crab._reading
    assert read.serves(with_(BASE, smoothing_mm=0.6))
    assert read.serves(with_(BASE, smoothing_mm=None, drawing_width_mm=90.0))
    assert not read.serves(with_(BASE, smoothing_mm=0.05))
    assert not read.serves(with_(BASE, areas=(area(at=SHELL, smoothing=0.05),)))


def test_a_sketch_that_changes_is_read_again(tmp_path: Path) -> None:
    path = tmp_path / "sketch.jpg"
    shutil.copy(FIXTURES / "whelk.jpg", path)
    sketch = WarmSketch(path)
    sketch.trace(BASE)
    shutil.copy(FIXTURES / "cockle.jpg", path)
    assert written(sketch.trace(BASE)) == written(trace(FIXTURES / "cockle.jpg", BASE))
    path.unlink()
    with pytest.raises(InputError):
        sketch.trace(BASE)
