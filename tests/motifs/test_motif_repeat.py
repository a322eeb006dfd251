"""Motifs placed again: exact copies, above what they lie on, on a base of their own where they leave it."""

import numpy as np
import pytest

from helpers_drawing import square, tide_pool_drawing
from limner.errors import GeometryError
from limner.geometry.cubics import bounds, signed_area, transform
from limner.model.drawing import Shape
from limner.model.motif import MotifPlace, Repeat
from limner.motifs import repeat_motifs
from limner.motifs.covering import filled_region

RING = np.array([[5.0, 5], [11, 5], [11, 11], [5, 11]])


def spotted():
    """The frame with a spot in it, from (6, 6) to (10, 10), on a page of 60 mm."""
    plain = tide_pool_drawing()
    spot = Shape("spot", "area", (square(6.5, 6.5, 3),), "#b04030", 0.02, area_mm2=9.0, rule=1)
    line = Shape("line-2", "line", (square(6, 6, 4), square(7, 7, 2)), "#1d1d1b", 0.03)
    fills, lines = (*plain.fills, spot), (*plain.lines, line)
    return tide_pool_drawing(fills=fills, lines=lines, width_mm=60.0, height_mm=60.0)


def repeated(*places: MotifPlace):
    return repeat_motifs(spotted(), [Repeat(RING, places)])


def named(drawing, name):
    return next(shape for shape in drawing.shapes if shape.name == name)


def box(shape):
    boxes = np.array([bounds(path) for path in shape.paths])
    return (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))


def test_a_copy_is_the_motif_moved_bit_for_bit():
    drawing = repeated(MotifPlace((14.0, 14.0)))
    for name in ("spot", "line-2"):
        one, other = named(drawing, name), named(drawing, f"{name}-copy-1")
        for path, copy in zip(one.paths, other.paths, strict=True):
            assert np.array_equal(transform(path, [[1, 0, 6.0], [0, 1, 6.0]]).segments, copy.segments)
            assert np.array_equal(path.straight, copy.straight)
    copy = named(drawing, "spot-copy-1")
    assert (copy.fill, copy.rule, copy.area_mm2, copy.error_mm) == ("#b04030", 1, 9.0, 0.02)


def test_a_copy_inside_of_the_figure_needs_no_base_and_leaves_its_frame_alone():
    before = spotted()
    after = repeat_motifs(before, [Repeat(RING, (MotifPlace((14.0, 14.0)),))])
    assert [shape.name for shape in after.fills] == ["silhouette", "shell", "spot", "spot-copy-1"]
    assert after.lines[:2] == before.lines


def test_a_copy_is_scaled_turned_and_flipped_about_the_middle_of_its_box():
    place = MotifPlace((40.0, 30.0), turn_deg=90.0, scale=2.0, flip=True)
    copy = named(repeated(place), "line-2-copy-1")
    assert box(copy) == pytest.approx((36, 26, 44, 34))
    assert signed_area(copy.paths[0]) == pytest.approx(4 * 16)
    # Flipped first: the corner at the top left comes to lie at the top right, and a quarter turn on.
    flipped = repeat_motifs(spotted(), [Repeat(RING, (MotifPlace((40.0, 30.0), 30.0, 1.0, True),))])
    c, s = np.cos(np.radians(30)), np.sin(np.radians(30))
    corner = np.array([40.0, 30.0]) + np.array([[c, -s], [s, c]]) @ [2.0, -2.0]
    nodes = named(flipped, "line-2-copy-1").paths[0].nodes
    assert np.abs(nodes - corner).sum(axis=1).min() < 1e-9


def test_a_copy_outside_of_the_base_brings_its_own():
    drawing = repeated(MotifPlace((40.0, 30.0)), MotifPlace((14.0, 14.0)))
    names = [shape.name for shape in drawing.fills]
    assert names == ["silhouette", "silhouette-copy-1", "shell", "spot", "spot-copy-1", "spot-copy-2"]
    base, spot = named(drawing, "silhouette-copy-1"), named(drawing, "spot-copy-1")
    assert base.role == "silhouette"
    assert base.fill == named(drawing, "silhouette").fill
    assert np.array_equal(base.paths[0].segments, spot.paths[0].segments)


def test_a_copy_across_the_frame_hides_its_line():
    drawing = repeated(MotifPlace((19.0, 10.0)))
    frame = named(drawing, "line-1")
    # The side of the frame, 1 mm wide, is cut over the 3 mm of the spot.
    assert sum(map(signed_area, frame.paths)) == pytest.approx(18**2 - 16**2 - 3.0, abs=1e-6)
    assert [shape.name for shape in drawing.lines] == ["line-1", "line-2", "line-2-copy-1"]


def test_later_copies_lie_above_earlier_ones():
    drawing = repeated(MotifPlace((40.0, 30.0)), MotifPlace((42.0, 31.0)))
    first, second = named(drawing, "line-2-copy-1"), named(drawing, "line-2-copy-2")
    assert filled_region(second.paths).area == pytest.approx(16 - 4)
    # 1.5 x 2.5 mm of the first one's square lie under the fill of the second, 0.5 x 1.5 mm of it in its hole.
    assert filled_region(first.paths).area == pytest.approx(16 - 4 - 3.75 + 0.75)


def test_a_motif_with_a_base_of_its_own_takes_it_along():
    plain = spotted()
    star = Shape("silhouette-2", "silhouette", (square(40, 40, 4),), "#ffffff", 0.01)
    area = Shape("star", "area", (square(40, 40, 4),), "#ffcc00", 0.01, area_mm2=16.0)
    drawing = tide_pool_drawing(
        fills=(plain.fills[0], star, *plain.fills[1:], area), width_mm=60.0, height_mm=60.0
    )
    ring = np.array([[38.0, 38], [46, 38], [46, 46], [38, 46]])
    made = repeat_motifs(drawing, [Repeat(ring, (MotifPlace((50.0, 20.0)),))])
    assert [s.name for s in made.fills if s.role == "silhouette"] == [
        "silhouette",
        "silhouette-2",
        "silhouette-2-copy-1",
    ]


@pytest.mark.parametrize(
    ("repeat", "about", "words"),
    [
        (Repeat(RING + 30, (MotifPlace((20.0, 20.0)),)), ("repeat", 0, "ring"), "no whole shape"),
        # It cuts through the spot.
        (
            Repeat(RING + np.array([2.0, 0.0]), (MotifPlace((20.0, 20.0)),)),
            ("repeat", 0, "ring"),
            "no whole shape",
        ),
        (
            Repeat(RING, (MotifPlace((20.0, 20.0)), MotifPlace((59.0, 20.0)))),
            ("repeat", 0, "to", 1),
            "runs off the page",
        ),
    ],
)
def test_what_cannot_be_repeated_is_named(repeat, about, words):
    with pytest.raises(GeometryError, match=words) as caught:
        repeat_motifs(spotted(), [repeat])
    assert caught.value.about == about
