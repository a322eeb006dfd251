"""Touches through the whole trace: from tables in fractions of the page to shapes."""

import json
from itertools import pairwise
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest

from helpers_touches import SIZE, strokes
from limner.art import read_art
from limner.cli.main import main
from limner.errors import GeometryError, InputError
from limner.job import AreaTable, MirrorTable, TouchTable
from limner.pipeline import TraceSettings, trace
from limner.pipeline.sheet.worker import fit_outline

# A square of 60 mm on a page of 100 mm.
SQUARE = ([[80, 80], [320, 80]], [[320, 80], [320, 320]], [[320, 320], [80, 320]], [[80, 320], [80, 80]])
SETTINGS = {"width_mm": 100.0, "paper": "none"}


@pytest.fixture(scope="module")
def square(tmp_path_factory):
    return write(tmp_path_factory.mktemp("touching") / "square.png", *SQUARE)


def write(path, *lines):
    cv2.imwrite(str(path), (255 - 225 * strokes(*lines)).astype(np.uint8))
    return path


def touch(**keys):
    return TouchTable.model_validate(keys)


def traced(path, *touches, **more):
    return trace(path, TraceSettings(**(SETTINGS | more), touches=touches))


def areas(result):
    return sorted(shape.area_mm2 for shape in result.drawing.fills if shape.role == "area")


def test_a_drawn_line_closes_an_area(square):
    assert len(areas(traced(square))) == 1
    (small, large) = areas(traced(square, touch(draw=[[0.5, 0.2], [0.5, 0.8]])))
    assert small == pytest.approx(large, rel=0.02)
    assert small == pytest.approx(60 * 30, rel=0.02)


def test_a_parting_line_parts_fills_and_is_never_inked(square):
    plain = traced(square)
    parted = traced(square, touch(part=[[0.5, 0.2], [0.5, 0.8]]))
    assert len(areas(parted)) == 2
    assert np.array_equal(parted.ink.coverage, plain.ink.coverage)
    assert all(shape.bridged_gaps == 0 for shape in parted.drawing.fills)
    assert len(parted.drawing.lines) == len(plain.drawing.lines)


def test_both_neighbours_of_a_parting_line_hold_the_same_curve(square):
    parted = traced(square, touch(part=[[0.5, 0.2], [0.45, 0.5], [0.5, 0.8]]))
    nodes = [
        {tuple(node) for path in shape.paths for node in path.nodes.tolist()}
        for shape in parted.drawing.fills
        if shape.role == "area"
    ]
    assert len(nodes) == 2
    assert len(nodes[0] & nodes[1]) >= 2


def test_a_rubbed_line_opens_what_it_closed(tmp_path):
    path = write(tmp_path / "halved.png", *SQUARE, [[200, 80], [200, 320]])
    assert len(areas(traced(path))) == 2
    rubbed = traced(path, touch(rub=[[0.5, 0.23], [0.5, 0.77]]))
    assert len(areas(rubbed)) == 1
    assert areas(rubbed)[0] == pytest.approx(60 * 60, rel=0.02)


def test_a_pulled_side_takes_its_fill_along(square):
    before, after = (
        areas(traced(square)),
        areas(traced(square, touch(pull=[[0.8, 0.5], [0.85, 0.5]], reach=20))),
    )
    assert after[0] > before[0] + 20.0


def test_touches_hold_in_their_order(square):
    line = [[0.5, 0.3], [0.5, 0.7]]
    drawn_last = traced(square, touch(rub=line), touch(draw=line))
    rubbed_last = traced(square, touch(draw=line), touch(rub=line))
    assert drawn_last.ink.mask[200, 200]
    assert not rubbed_last.ink.mask[200, 200]
    longer = traced(square, touch(draw=line), touch(rub=[[0.5, 0.25], [0.5, 0.75]]))
    assert not longer.ink.mask[200, 200]


def reach(result):
    """How far the ink reaches to the right, millimetres."""
    return max(float(ring.points[:, 0].max()) for ring in result.regions.ink)


@pytest.mark.parametrize("more", [{}, {"drawing_width_mm": 30.0}])
def test_what_stands_after_a_pull_lies_where_it_says(square, more):
    pull = touch(pull=[[0.8, 0.5], [0.88, 0.5]], reach=30.0 * (0.5 if more else 1.0))
    pulled = traced(square, pull, **more)
    across = [[0.2, 0.55], [0.5, 0.52], [0.88, 0.5]]
    drawn = traced(square, pull, touch(draw=across), **more)
    assert len(areas(drawn)) == 2
    # It ends in the line that was pulled over, and does not go along with it once more.
    scale = drawn.page.mm_per_px * drawn.page.grey.shape[1] / 100.0
    assert reach(drawn) == pytest.approx(reach(pulled), abs=0.3 * scale)
    middle = np.array([50.0, 52.0]) * scale
    away = [np.hypot(*(edge.points - middle).T).min() for edge in drawn.regions.graph.edges]
    # A tenth of the line's width.
    assert min(away) < 0.2 * scale
    assert len(areas(traced(square, pull, touch(part=across), **more))) == 2
    # What was drawn before it does go along.
    before = traced(square, touch(draw=[[0.2, 0.55], [0.5, 0.52], [0.8, 0.5]]), pull, **more)
    assert len(areas(before)) == 2
    back = traced(square, pull, touch(draw=across), touch(rub=across), **more)
    assert np.array_equal(back.ink.coverage, pulled.ink.coverage)


def test_a_line_that_is_rubbed_out_again_was_never_drawn(square):
    # Along the side of the square, where no eraser could tell the two.
    line = [[0.205, 0.3], [0.21, 0.5], [0.205, 0.7]]
    plain, back = traced(square), traced(square, touch(draw=line), touch(rub=line))
    assert np.array_equal(plain.ink.coverage, back.ink.coverage)
    assert [told.words for told in back.touches] == ["taken back by number 2", "took back number 1"]


def test_a_width_is_that_of_the_finished_drawing(square):
    wide = traced(square, touch(draw=[[0.3, 0.5], [0.7, 0.5]], width=1.5), drawing_width_mm=31.0)
    column = wide.ink.coverage[:, wide.ink.coverage.shape[1] // 2]
    middle = column[len(column) // 3 : -len(column) // 3].sum() * wide.ink.mm_per_px
    assert middle == pytest.approx(1.5, abs=0.05)


def test_a_touch_on_the_replaced_side_counts_on_the_kept_one(tmp_path):
    # Half a house: its right side ends on the axis at the middle of the page.
    path = write(
        tmp_path / "half.png", [[200, 60], [90, 150]], [[90, 150], [90, 330]], [[90, 330], [200, 330]]
    )
    mirror = {"mirror": TraceSettings().mirror}

    mirror = {"mirror": (MirrorTable.model_validate({"at": [0.5, 0.5], "angle": 90, "keep": "left"}),)}
    left = traced(path, touch(draw=[[0.25, 0.5], [0.4, 0.55]]), **mirror)
    right = traced(path, touch(draw=[[0.75, 0.5], [0.6, 0.55]]), **mirror)
    assert len(left.drawing.lines) == len(right.drawing.lines)
    assert np.array_equal(left.ink.coverage, right.ink.coverage)


@pytest.mark.parametrize("one_sided", [True, False])
def test_a_touch_in_a_one_sided_area_stays_where_it_is(tmp_path, one_sided):
    # A square with a patch on its right side alone.
    patch = [[235, 150], [305, 150], [305, 250], [235, 250], [235, 150]]
    path = write(tmp_path / "patch.png", *SQUARE, *pairwise(patch))
    axis = {"at": [0.5, 0.5], "angle": 90, "keep": "left"}
    mirror = MirrorTable.model_validate(axis | ({"one_sided": ["patch"]} if one_sided else {}))
    named = AreaTable.model_validate({"at": [0.675, 0.5], "name": "patch"})
    more = {"mirror": (mirror,), "areas": (named,)}
    drawn = traced(path, touch(draw=[[0.62, 0.45], [0.73, 0.55]]), **more).ink.mask
    assert (bool(drawn[200, 270]), bool(drawn[200, 400 - 270])) == (one_sided, not one_sided)


def corners(result):
    """Corners of the figure's outline away from the axis in the middle of the page, whole millimetres."""
    (silhouette,) = (shape for shape in result.drawing.fills if shape.role == "silhouette")
    (path,) = silhouette.paths
    nodes = path.segments[~path.smooth, 0]
    return {(round(x), round(y)) for x, y in nodes.tolist() if abs(x - 50.0) > 1.0}


def test_corners_and_smooth_places_survive_mirroring(tmp_path):
    path = write(
        tmp_path / "half.png", [[200, 60], [90, 150]], [[90, 150], [90, 330]], [[90, 330], [200, 330]]
    )
    mirror = {"mirror": (MirrorTable.model_validate({"at": [0.5, 0.5], "angle": 90, "keep": "left"}),)}
    eaves, feet = {(23, 37), (77, 37)}, {(23, 82), (77, 82)}
    assert corners(traced(path, **mirror)) == eaves | feet
    for side in (0.225, 0.775):
        assert corners(traced(path, touch(smooth=[side, 0.375]), **mirror)) == feet
    # Walls that are broken in their middle.
    pull = touch(pull=[[0.225, 0.65], [0.2, 0.65]], reach=15)
    broken = corners(traced(path, pull, touch(corner=[0.8, 0.65]), **mirror))
    assert {(20, 65), (80, 65)} <= broken
    assert len(broken) == len(corners(traced(path, pull, **mirror))) + 2


def test_a_refused_bridge_leaves_a_gap_open(tmp_path):
    lines = ([[80, 80], [320, 80]], [[320, 80], [320, 320]], [[320, 320], [80, 320]])
    path = write(tmp_path / "gap.png", *lines, [[80, 320], [80, 208]], [[80, 192], [80, 80]])
    assert len(areas(traced(path))) == 1
    opened = traced(path, touch(open=[0.2, 0.5]))
    assert areas(opened) == []
    assert not any(edge.kind == "bridge" for edge in opened.regions.graph.edges)
    with pytest.raises(GeometryError, match="this touch opens nothing") as caught:
        traced(path, touch(part=[[0.2, 0.3], [0.8, 0.3]]), touch(open=[0.8, 0.5]))
    assert caught.value.about == ("touch", 1)


@pytest.mark.parametrize(
    ("keys", "sentence"),
    [
        ({"draw": [[0.1, 0.1]]}, "at least two points"),
        ({"draw": [[0.1, 0.1], [0.1, 0.1]]}, "two different points"),
        ({"draw": [[0.1, 0.1], [0.2, 0.1]], "rub": [[0.1, 0.1], [0.2, 0.1]]}, "has draw and rub"),
        ({"width": 2}, "has none"),
        ({"draw": [[0.1, 0.1], [0.2, 0.1]], "width": 0}, "more than zero"),
        ({"draw": [[0.1, 0.1], [0.2, 0.1]], "reach": 2}, "goes with pull"),
        ({"pull": [[0.1, 0.1], [0.2, 0.1]], "width": 2}, "goes with draw and rub"),
        ({"pull": [[0.1, 0.1], [0.2, 0.1], [0.3, 0.1]]}, "two points, from and to"),
        ({"corner": [0.1, 0.1], "smooth": [0.1, 0.1]}, "has corner and smooth"),
        ({"smooth": [0.1, 0.1], "reach": 2}, "goes with pull"),
        ({"rub": [[k / 100_000, 0.5] for k in range(100_000)]}, "may have 10000"),
    ],
)
def test_what_is_no_touch_is_refused(keys, sentence):
    with pytest.raises(ValueError, match=sentence):
        TouchTable.model_validate(keys)


def test_a_line_wider_than_half_the_page_is_refused(square):
    with pytest.raises(InputError, match="more than half of the page") as caught:
        traced(square, touch(rub=[[0.1, 0.1], [0.2, 0.1]], width=60))
    assert caught.value.about == ("touch", 0, "width")


def test_a_pull_without_a_line_names_its_table(square):
    with pytest.raises(GeometryError, match="finds no line within its reach") as caught:
        traced(square, touch(draw=[[0.3, 0.5], [0.7, 0.5]]), touch(pull=[[0.5, 0.65], [0.5, 0.7]], reach=2))
    assert caught.value.about == ("touch", 1)


def test_the_command_puts_file_and_line_before_the_sentence(square, tmp_path, capsys):
    zones = tmp_path / "zones.toml"
    zones.write_text(
        "[[touch]]\ndraw = [[0.3, 0.5], [0.7, 0.5]]\n\n[[touch]]\npart = [[0.4, 0.4], [0.45, 0.4]]\n"
    )
    assert main(["trace", str(square), "--zones", str(zones), "-o", str(tmp_path / "out.svg")]) == 2
    assert "zones.toml, line 4: this touch parts no area" in capsys.readouterr().err
    zones.write_text("[[touch]]\ndraw = [[0.3, 0.5], [1.2, 0.5]]\n")
    assert main(["trace", str(square), "--zones", str(zones), "-o", str(tmp_path / "out.svg")]) == 2
    assert "zones.toml, line 2: draw of [[touch]]" in capsys.readouterr().err
    zones.write_text("[[touch]]\ncorner = [0.3, 1.5]\n")
    assert main(["trace", str(square), "--zones", str(zones), "-o", str(tmp_path / "out.svg")]) == 2
    assert "zones.toml, line 2: corner of [[touch]]" in capsys.readouterr().err


def test_two_tables_that_hit_one_area_are_both_named(square, tmp_path, capsys):
    zones = tmp_path / "zones.toml"
    zones.write_text(
        '[[area]]\nat = [0.4, 0.5]\nname = "shell"\n\n[[area]]\nat = [0.6, 0.5]\nname = "belly"\n'
    )
    assert main(["trace", str(square), "--zones", str(zones), "-o", str(tmp_path / "out.svg")]) == 2
    said = capsys.readouterr().err
    assert 'zones.toml, line 6: The point [0.6, 0.5] lies in the same area "shell" as [0.4, 0.5]' in said
    assert said.rstrip().endswith("The other one: zones.toml, line 2.")


def test_a_name_of_two_words_is_an_id_and_a_title(square, tmp_path):
    zones, out, report = tmp_path / "zones.toml", tmp_path / "out.svg", tmp_path / "out.json"
    zones.write_text('[[area]]\nat = [0.4, 0.5]\nname = "hermit crab 2"\n')
    arguments = ["trace", str(square), "--zones", str(zones), "-o", str(out), "--report", str(report)]
    assert main(arguments) == 0
    assert json.loads(report.read_text())["areas"][0]["name"] == "hermit crab 2"
    (path,) = ElementTree.parse(out).findall(".//*[@id='hermit-crab-2']")
    assert [child.text for child in path] == ["hermit crab 2"]
    assert "hermit crab 2" in {shape.name for shape in read_art(out, fit_outline).shapes}


def test_report_and_proof_say_what_became_of_each_touch(square, tmp_path):
    zones, report, proof = tmp_path / "zones.toml", tmp_path / "out.json", tmp_path / "out.png"
    zones.write_text(
        "[[touch]]\ndraw = [[0.5, 0.2], [0.5, 0.8]]\n"
        "[[touch]]\nrub = [[0.1, 0.1], [0.12, 0.1]]\n"
        "[[touch]]\npart = [[0.2, 0.3], [0.5, 0.3]]\n"
        '[[touch]]\npull = [[0.8, 0.5], [0.83, 0.5]]\nreach = "15 mm"\n'
        "[[touch]]\ncorner = [0.83, 0.5]\n"
        "[[touch]]\nsmooth = [0.2, 0.8]\n"
    )
    arguments = ["trace", str(square), "--width", "100", "--paper", "none", "--zones", str(zones)]
    outputs = ["-o", str(tmp_path / "out.svg"), "--report", str(report), "--proof", str(proof)]
    assert main([*arguments, *outputs]) == 0
    told = json.loads(report.read_text())["touches"]
    assert [touch["kind"] for touch in told] == ["draw", "rub", "part", "pull", "corner", "smooth"]
    assert [touch["line"] for touch in told] == [1, 3, 5, 7, 10, 12]
    words = [touch["words"] for touch in told]
    # The line parts the square in two, of which the left one is parted again.
    assert words[0] == "drew 60.0 mm, a border of 3 areas"
    assert words[1] == "found no ink to rub out"
    assert words[2] == "parted 2 fills along 30.0 mm"
    assert words[3].startswith("moved the line by 3.00 mm, and ")
    # The silhouette, the area, and both sides of the line.
    assert words[4] == "made a corner in 4 outlines"
    assert words[5] == "left no corner in 4 outlines"
    # Below the panels they are numbered in the blue of the marks.
    below = cv2.imread(str(proof))[-60:].astype(int)
    assert int((np.abs(below - [0xD6, 0x7E, 0x1C]).max(axis=2) < 60).sum()) > 50


def test_the_areas_that_are_written_give_the_same_drawing(square, tmp_path):
    first, areas_toml = tmp_path / "first.svg", tmp_path / "areas.toml"
    assert main(["trace", str(square), "-o", str(first), "--areas", str(areas_toml)]) == 0
    again = tmp_path / "again.svg"
    assert main(["trace", str(square), "-o", str(again), "--zones", str(areas_toml)]) == 0
    assert first.read_bytes() == again.read_bytes()


def test_a_line_all_over_the_page_takes_bounded_work(square):
    points = np.random.default_rng(3).uniform(0.02, 0.98, (2_000, 2)).tolist()
    result = traced(square, touch(draw=points), touch(rub=points))
    assert result.ink.coverage.shape == (SIZE, SIZE)
