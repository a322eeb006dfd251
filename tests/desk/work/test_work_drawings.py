"""Drawings of the desk are those of the pipeline, however they came about."""

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from helpers_sketches import write_ring
from limner.desk.server.colours import palette_of
from limner.desk.work.drawing import drawing_json, dressed
from limner.desk.work.plan import task_of
from limner.desk.work.tasks import DrawTask
from limner.desk.work.worker import Draughtsman
from limner.job import read_usable
from limner.pipeline import TraceSettings, build_sheet, trace
from limner.pipeline.kept.store import Store, key_of

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"

JOB = """
[colours]
coral = "#f7777b"
kelp = { cmyk = [38, 0, 52, 18] }

[[sticker]]
name = "crab"
sketch = "crab.jpg"
width = "34 mm"
ink = "#223344"

  [[sticker.area]]
  at = [0.512, 0.592]
  name = "shell"
  fill = "coral"
"""


def task(folder: Path, text: str = JOB) -> DrawTask:
    job = read_usable(text, folder / "job.toml").job
    return task_of(job, job.stickers[0], palette_of(job), numbered=True)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("crab")
    with Image.open(FIXTURES / "crab.jpg") as picture:
        # Large enough for each of its areas, and traced in a fraction of the time.
        picture.reduce(2).save(folder / "crab.jpg", quality=92)
    return folder


@pytest.fixture(scope="module")
def hand() -> Draughtsman:
    return Draughtsman()


def painted(text: str, folder: Path) -> TraceSettings:
    """Settings with the job's own fills instead of the marks that stand for them."""
    job = read_usable(text, folder / "job.toml").job
    palette, areas = palette_of(job), tuple(job.stickers[0].area)
    screens = {area.fill: palette.of(area.fill).screen for area in areas if area.fill is not None}
    return replace(task(folder, text).settings, areas=areas, screen_of=screens)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('fill = "coral"', 'fill = "kelp"'),
        # One of limner's own tints: areas beside it choose others.
        ('fill = "coral"', 'fill = "#bfe3d6"'),
        ('fill = "coral"', ""),
        ('name = "shell"', 'name = "back"'),
        ("[[sticker]]", '[[sticker]]\nbase = "kelp"'),
    ],
)
def test_another_colour_or_name_gives_what_a_whole_trace_gives(
    folder: Path, hand: Draughtsman, old: str, new: str
) -> None:
    first = task(folder)
    hand.do(first, print)
    text = JOB.replace(old, new)
    other = task(folder, text)
    again = hand.do(other, print)
    # The page is the same: it is not sent again.
    assert again.photograph == b""
    ours = dressed(again.value, other)
    whole = drawing_json(trace(other.path, painted(text, folder)))
    for shape, expected in zip(ours["fills"], whole["fills"], strict=True):
        base = other.look.base if expected["role"] == "silhouette" else None
        # The inside of a solid black is ink, as on the sheet.
        fill = "#223344" if expected["inked"] else base or expected["fill"]
        assert shape == {**expected, "fill": fill}
    assert {shape["fill"] for shape in ours["lines"]} == {"#223344"}
    assert [shape["d"] for shape in ours["lines"]] == [shape["d"] for shape in whole["lines"]]


def test_another_colour_asks_for_no_other_shapes(folder: Path) -> None:
    one, other = task(folder), task(folder, JOB.replace('coral = "#f7777b"', 'coral = "#f7777c"'))
    assert one.form == other.form
    assert one.token != other.token
    assert task(folder, JOB.replace("0.592", "0.593")).form != one.form


def test_shapes_carry_what_the_page_needs(folder: Path, hand: Draughtsman) -> None:
    drawing = dressed(hand.do(task(folder), print).value, task(folder))
    (shell,) = [shape for shape in drawing["fills"] if shape["name"] == "shell"]
    assert (shell["rule"], shell["fill"], shell["role"]) == (0, "#f7777b", "area")
    assert {shape["fill"] for shape in drawing["lines"]} == {"#223344"}
    page = drawing["page"]
    # The point in it lies in its box, on the photographed page.
    x = page["x_mm"] + shell["at"][0] * page["width_mm"]
    y = page["y_mm"] + shell["at"][1] * page["height_mm"]
    nodes = np.array([node[:2] for node in shell["nodes"]])
    assert (nodes.min(axis=0) < [x, y]).all()
    assert (nodes.max(axis=0) > [x, y]).all()
    assert {node[2] for shape in drawing["lines"] for node in shape["nodes"]} <= {"corner", "smooth"}
    free = [shape for shape in drawing["fills"] if shape["role"] == "area" and shape["rule"] is None]
    assert all(shape["at"] is not None for shape in free)


def test_what_became_of_each_touch_is_told(folder: Path, hand: Draughtsman) -> None:
    text = JOB
    for kind in ("draw", "rub"):
        text += f"\n  [[sticker.touch]]\n  {kind} = [[0.5, 0.4], [0.52, 0.41]]\n"
    asked = task(folder, text)
    result = trace(asked.path, asked.settings)
    told = drawing_json(result)["touches"]
    assert [(one["index"], one["kind"]) for one in told] == [(0, "draw"), (1, "rub")]
    assert [one["words"] for one in told] == [touch.words for touch in result.touches]


def test_what_is_drawn_is_kept_where_the_sheet_looks_for_it(folder: Path, hand: Draughtsman) -> None:
    asked = task(folder)
    hand.do(asked, print)
    hand.rest()
    kept = Store(asked.keep_in).load(key_of(asked.path, asked.settings))
    assert kept is not None
    job = read_usable(JOB, folder / "job.toml").job
    assert build_sheet(job, workers=1).retraced == ()


def test_a_sheet_in_other_colours_traces_nothing_anew(folder: Path, hand: Draughtsman) -> None:
    hand.do(task(folder), print)
    hand.rest()
    text = JOB.replace('coral = "#f7777b"', "coral = { cmyk = [0, 60, 60, 0] }")
    result = build_sheet(read_usable(text, folder / "job.toml").job, workers=1)
    assert result.retraced == ()
    (shell,) = [item for item in result.sheet.stickers[0].fills if item.shape.name == "shell"]
    assert shell.colour.cmyk == (0, 60, 60, 0)
    assert shell.shape.fill == shell.colour.screen


def test_what_cannot_be_traced_says_why_and_the_next_one_is_drawn(tmp_path: Path, hand: Draughtsman) -> None:
    write_ring(tmp_path / "ring.png")
    (tmp_path / "crab.jpg").write_bytes(b"no picture")
    wrong = hand.do(task(tmp_path), print)
    assert wrong.value is None
    assert wrong.sentence.endswith(".")
    assert "crab.jpg" in wrong.sentence
    ring = replace(task(tmp_path), path=tmp_path / "ring.png")
    right = hand.do(replace(ring, settings=replace(ring.settings, areas=())), print)
    assert right.value["fills"]


def test_a_token_names_all_that_a_drawing_depends_on(folder: Path) -> None:
    token = task(folder).token
    assert task(folder).token == token
    assert tomllib.loads(JOB)
    for old, new in (
        ('"34 mm"', '"35 mm"'),
        ('"#f7777b"', '"#f7777c"'),
        ("0.592", "0.593"),
        ('ink = "#223344"', 'smoothing = "0.2 mm"'),
        ('width = "34 mm"', 'width = "34 mm"\nbase = "none"'),
    ):
        assert task(folder, JOB.replace(old, new)).token != token
    # What only the sheet depends on changes no drawing.
    assert task(folder, JOB.replace("[[sticker]]", '[cut]\ndistance = "3 mm"\n[[sticker]]')).token == token
