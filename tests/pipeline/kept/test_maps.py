"""Kept maps of sketches: they read back exactly, are checked as they are read, and change no byte."""

import dataclasses
import hashlib
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from helpers_job import written_out
from limner.job.load import load_job
from limner.model.drawing import Zone
from limner.model.geometry import Axis
from limner.pipeline.kept import store as store_module
from limner.pipeline.kept.entries import array_to_text
from limner.pipeline.kept.store import Store, key_of, map_key_of
from limner.pipeline.sheet import worker as making
from limner.pipeline.sheet.build import build_sheet
from limner.pipeline.sheet.files import sheet_files
from limner.pipeline.sheet.names import KEPT_FOLDER
from limner.pipeline.sketch.axes.figure import Mirrored
from limner.pipeline.sketch.mapping import SketchMap
from limner.pipeline.sketch.settings import CURVES_ALONE, TraceSettings
from limner.pipeline.sketch.trace import trace

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
KEY, OTHER = "a" * 64, "b" * 64

JOB = """
[sheet]
size = "A6"

[[sticker]]
name = "diver"
sketch = "half-diver.jpg"
width = "40 mm"
smoothing = "0.1 mm"
mirror = "auto"

  [[sticker.area]]
  at = [0.5, 0.5]
  name = "face"
  smoothing = "0.2 mm"

  [[sticker.zone]]
  box = [0.3, 0.1, 0.6, 0.4]
  smoothing = "0.05 mm"

[[sticker]]
name = "star"
sketch = "sea-star.jpg"
width = "30 mm"
"""


def shrink(name: str, folder: Path) -> Path:
    """A fixture at half its size, to be traced in a moment."""
    path = folder / name
    with Image.open(FIXTURES / name) as picture:
        picture.resize((picture.width // 2, picture.height // 2)).save(path, quality=92)
    return path


@pytest.fixture(scope="module")
def sketches(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sketches")
    for name in ("half-diver.jpg", "sea-star.jpg"):
        shrink(name, folder)
    return folder


@pytest.fixture(scope="module")
def mapped(sketches: Path) -> SketchMap:
    """The map of a mirrored sketch, with a zone and a mirrored part added."""
    found = trace(sketches / "half-diver.jpg", TraceSettings(mirror="auto")).mapped
    ring = np.array([[0.0, 0.0], [1 / 3, 0.0], [0.1, 5e-324]])
    part = Mirrored(Axis(1 / 3, 0.1, 89.99999999999999, 0.7, "by hand", "left"), (ring, ring + 1), ("eye",))
    first, *others = found.regions.areas
    areas = (dataclasses.replace(first, rule=2, inked=True), *others)
    return dataclasses.replace(
        found,
        regions=dataclasses.replace(found.regions, areas=areas),
        zones=(Zone((ring,), 0.1 / 3, 7, "zone 1"), Zone((ring, ring))),
        mirrored=(*found.mirrored, part),
    )


@pytest.fixture
def job_file(sketches: Path, tmp_path: Path) -> Path:
    for path in sketches.iterdir():
        shutil.copy(path, tmp_path)
    (tmp_path / "sheet.toml").write_text(JOB)
    return tmp_path / "sheet.toml"


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def entry(folder: Path, key: str = KEY) -> Path:
    return folder / f"{key}.map"


def body_of(folder: Path) -> Any:
    return json.loads(entry(folder).read_bytes().partition(b"\n")[2])


def forge(folder: Path, data: object) -> None:
    """An entry whose digest is right, whatever it says."""
    body = json.dumps(data).encode()
    digest = hashlib.sha256(KEY.encode() + b"\n" + body).hexdigest().encode()
    entry(folder).write_bytes(digest + b"\n" + body)


def must_not_trace(*arguments: object) -> None:
    raise AssertionError("traced, though the map is known")


def test_a_map_reads_back_bit_by_bit(mapped: SketchMap, tmp_path: Path) -> None:
    Store(tmp_path / "kept").save_map(KEY, mapped)
    read = Store(tmp_path / "kept").load_map(KEY)
    assert read is not None
    assert written_out(read) == written_out(mapped)


def test_a_map_is_neither_damaged_nor_misplaced(mapped: SketchMap, tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.save_map(KEY, mapped)
    whole = entry(tmp_path).read_bytes()
    for at in (0, len(whole) // 2, len(whole) - 2):
        damaged = bytearray(whole)
        damaged[at] ^= 1
        entry(tmp_path).write_bytes(bytes(damaged))
        assert store.load_map(KEY) is None
    entry(tmp_path).write_bytes(whole[:-10])
    assert store.load_map(KEY) is None
    entry(tmp_path).write_bytes(whole)
    assert store.load_map(KEY) is not None
    entry(tmp_path).rename(entry(tmp_path, OTHER))
    assert store.load_map(OTHER) is None


def _first_step(step: list[object]) -> Callable[[Any], None]:
    def spoil(data: Any) -> None:
        data["areas"][0]["outline"][0] = step

    return spoil


def _set(*way: object) -> Callable[[Any], None]:
    *path, last, value = way

    def spoil(data: Any) -> None:
        for name in path:
            data = data[name]
        data[last] = value

    return spoil


SPOILED = {
    "an edge without a node": _set("edges", "start", 0, 10_000),
    "a negative node": _set("edges", "end", 0, -1),
    "a truth for a node": _set("edges", "end", 0, True),
    "an unknown kind of edge": _set("edges", "kind", 0, "rope"),
    "fewer kinds than edges": lambda data: data["edges"]["kind"].pop(),
    "points without an edge": lambda data: data["edges"]["counts"].pop(),
    "a negative count": _set("edges", "counts", 0, -4),
    "an edge of one point": lambda data: data["edges"]["counts"].__setitem__(slice(0, 1), [1]),
    "no number among points": _set("edges", "points", array_to_text(np.full(2, np.nan))),
    "no base64": _set("nodes", "????"),
    "half a number": _set("nodes", "AAAA"),
    "a walk along no edge": _first_step([10_000, True]),
    "a walk that is neither to nor fro": _first_step([0, 1]),
    "an empty walk": _set("areas", 0, "outline", []),
    "a parent that is not there": _set("areas", 0, "parent", 999),
    "a fill that is markup": _set("areas", 0, "fill", '"/><script'),
    "a name that is no text": _set("areas", 0, "name", ["face"]),
    "a place in the stack that is no number": _set("areas", 0, "order", "top"),
    "an infinite area": _set("areas", 0, "area_mm2", float("inf")),
    "a point of one coordinate": _set("areas", 0, "inside", [1.0]),
    "ink that is solid by number": _set("ink", "solid", 0, 1),
    "ink of no piece": _set("ink", "piece", 0, -1),
    "a rule without a number": _set("areas", 0, "rule", "face"),
    "an area that is inked by number": _set("areas", 0, "inked", 1),
    "an axis with an unknown side": _set("mirrored", 0, "axis", "keep", "top"),
    "a zone with a text for smoothing": _set("zones", 0, "smoothing_mm", "0.1"),
    "a size that is no number": _set("size", [None, 1.0]),
    "no silhouettes": lambda data: data.pop("silhouettes"),
}


@pytest.mark.parametrize("how", SPOILED)
def test_what_no_map_can_say_is_not_believed(mapped: SketchMap, tmp_path: Path, how: str) -> None:
    store = Store(tmp_path)
    store.save_map(KEY, mapped)
    data = body_of(tmp_path)
    forge(tmp_path, data)
    assert store.load_map(KEY) is not None
    SPOILED[how](data)
    forge(tmp_path, data)
    assert store.load_map(KEY) is None


def test_a_walk_whose_edges_do_not_meet_is_not_believed(mapped: SketchMap, tmp_path: Path) -> None:
    Store(tmp_path).save_map(KEY, mapped)
    data = body_of(tmp_path)
    walk = next(area["outline"] for area in data["areas"] if len(area["outline"]) > 2)
    walk.pop()
    forge(tmp_path, data)
    assert Store(tmp_path).load_map(KEY) is None


def test_maps_used_last_stay_and_drawings_are_counted_apart(
    mapped: SketchMap, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store_module, "_MOST_MAPS", 2)
    drawing = tmp_path / f"{OTHER}.json"
    drawing.write_text("a drawing's entry")
    os.utime(drawing, (1.0, 1.0))
    store = Store(tmp_path)
    keys = [f"{number:064x}" for number in range(3)]
    for age, key in enumerate(keys):
        store.save_map(key, mapped)
        os.utime(entry(tmp_path, key), (1000.0 + age, 1000.0 + age))
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        f"{keys[1]}.map",
        f"{keys[2]}.map",
        drawing.name,
    ]


def test_only_what_curves_alone_look_at_leaves_the_map_s_key(tmp_path: Path) -> None:
    sketch = tmp_path / "crab.jpg"
    sketch.write_bytes(b"one")
    plain = TraceSettings()
    others = {
        "width_mm": 100.0,
        "drawing_width_mm": 30.0,
        "smoothing_mm": 0.2,
        "nodes": 99,
        "mirror": "auto",
        "paper": "A4",
        "lines": "even",
        "repeats": (1,),
        "areas": (1,),
        "screen_of": {"coral": "#ff8040"},
    }
    changed = {
        name: dataclasses.replace(plain, **{name: value})  # type: ignore[arg-type]
        for name, value in others.items()
    }
    same = {name for name, one in changed.items() if map_key_of(sketch, one) == map_key_of(sketch, plain)}
    assert same == set(CURVES_ALONE)
    assert len({key_of(sketch, one) for one in (plain, *changed.values())}) == len(changed) + 1


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('smoothing = "0.1 mm"', 'smoothing = "0.25 mm"'),
        ('smoothing = "0.1 mm"', 'smoothing = "0.1 mm"\nlines = "even"'),
        ('smoothing = "0.1 mm"', 'smoothing = "0.1 mm"\nnodes = 500'),
    ],
)
def test_from_the_kept_map_come_the_bytes_of_a_first_run(
    job_file: Path, monkeypatch: pytest.MonkeyPatch, old: str, new: str
) -> None:
    before = sheet_files(build_sheet(load_job(job_file), workers=1))
    change(job_file, old, new)
    first = sheet_files(build_sheet(load_job(job_file), workers=1, keep=False))
    monkeypatch.setattr(making, "trace", must_not_trace)
    result = build_sheet(load_job(job_file), workers=1)
    assert result.retraced == ("diver",)
    second = sheet_files(result)
    assert second == first
    assert second["sheet.svg"] != before["sheet.svg"]


def test_another_zone_or_area_needs_another_map(job_file: Path) -> None:
    build_sheet(load_job(job_file), workers=1)
    for old, new in (("0.05 mm", "0.06 mm"), ('"face"', '"mask"'), ("[0.3, 0.1,", "[0.2, 0.1,")):
        maps = len(list((job_file.parent / KEPT_FOLDER).glob("*.map")))
        change(job_file, old, new)
        assert build_sheet(load_job(job_file), workers=1).retraced == ("diver",)
        assert len(list((job_file.parent / KEPT_FOLDER).glob("*.map"))) == maps + 1


def test_a_map_serves_smoothings_for_which_its_page_is_read_the_same(sketches: Path) -> None:
    settings = TraceSettings(drawing_width_mm=60.0, smoothing_mm=0.4)
    star = trace(sketches / "sea-star.jpg", settings).mapped
    coarse, none, fine = (dataclasses.replace(settings, smoothing_mm=mm) for mm in (0.6, None, 0.03))
    assert star.serves(coarse)
    assert star.serves(none)
    assert not star.serves(fine)
    finer = trace(sketches / "sea-star.jpg", fine).mapped
    assert finer.serves(fine)
    assert not finer.serves(coarse)
    assert [ring.points.shape for ring in finer.regions.ink] != [
        ring.points.shape for ring in star.regions.ink
    ]


def test_a_kept_map_with_a_rule_that_the_job_does_not_have_is_made_anew(job_file: Path) -> None:
    truth = sheet_files(build_sheet(load_job(job_file), workers=1))
    store = Store(job_file.parent / KEPT_FOLDER)
    for path in (job_file.parent / KEPT_FOLDER).glob("*.map"):
        kept = store.load_map(path.stem)
        assert kept is not None
        areas = tuple(dataclasses.replace(area, rule=7) for area in kept.regions.areas)
        regions = dataclasses.replace(kept.regions, areas=areas)
        store.save_map(path.stem, dataclasses.replace(kept, regions=regions))
    for path in (job_file.parent / KEPT_FOLDER).glob("*.json"):
        path.unlink()
    assert sheet_files(build_sheet(load_job(job_file), workers=1)) == truth
