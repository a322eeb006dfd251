"""Axes of drawings made of analytic curves: half drawn, with a guide line, whole, refused."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from helpers_symmetry import MM_PER_PX, SIDE_PX, WIDTH_PX, arc, assert_axis, dense, half_face, inked, turned
from limner.errors import GeometryError
from limner.model.geometry import Axis
from limner.regions.centrelines.build import build_graph
from limner.symmetry.find.axis import find_axis, is_half_drawn, settle_side
from limner.symmetry.find.evidence import line_ends, line_samples
from limner.symmetry.find.guide import guide_lines
from limner.symmetry.frame import frame_of
from limner.symmetry.ink.complete import complete_half

Floats = NDArray[np.float64]

# Half a degree and half a per cent of the size (320 pixels): the project's table of check values.
HALF = {"degrees": 0.5, "px": 1.6}


@pytest.mark.parametrize("angle", [0.0, 12.0, -30.0, 90.0, 180.0, 251.0])
def test_axis_of_a_half_face_in_any_direction(angle: float) -> None:
    ink = inked(turned(half_face(), angle, 220, 240))
    axis = find_axis(ink, build_graph(ink)).axis
    assert axis.how == "half"
    assert_axis(axis, 90 + angle, 220, 240, **HALF)
    towards = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    assert frame_of(axis).distance((np.array([220, 240]) + 50 * towards) * MM_PER_PX) > 0


@pytest.mark.parametrize("gap", [4.0, -4.0])
def test_lines_may_stop_short_of_the_axis_or_run_over_it_and_are_joined(gap: float) -> None:
    # All lines stop alike here: the axis is then known only to that gap.
    ink = inked(turned(half_face(gap), 5, 220, 240))
    graph = build_graph(ink)
    axis = find_axis(ink, graph).axis
    assert_axis(axis, 95, 220, 240, degrees=0.5, px=6)
    by_hand = Axis(220 * MM_PER_PX, 240 * MM_PER_PX, 95.0, 1.0, "by hand")
    for one in (axis, by_hand):
        whole = complete_half(ink, graph, one)
        paper = cv2.connectedComponents((~whole.ink.mask).astype(np.uint8), connectivity=4)[0] - 1
        # Around the face, in it, and in the two eyes.
        assert paper == 4
        assert len(line_ends(whole.ink, build_graph(whole.ink)).tips) == 4  # of the mouth and the nose


def test_completed_ink_is_its_own_mirror_image_and_twice_the_half() -> None:
    ink = inked(turned(half_face(), 0, 200.0, 240))
    axis = Axis(200.0 * MM_PER_PX, 30.0, 90.0, 1.0, "by hand")
    graph = build_graph(ink)
    assert is_half_drawn(graph, axis)
    whole = complete_half(ink, graph, axis)
    cover = whole.ink.coverage
    seam = round(whole.axis.x_mm / MM_PER_PX)
    reach = min(seam, cover.shape[1] - seam)
    left, right = cover[:, seam - reach : seam], cover[:, seam : seam + reach]
    np.testing.assert_allclose(left[:, ::-1], right, atol=2e-3)
    assert cover.sum() == pytest.approx(2 * ink.coverage[:, 200:].sum(), rel=1e-2)
    # The page has grown to the left, and the way back to the photograph knows it.
    assert whole.offset_px == (0, 0)
    moved = complete_half(inked(turned(half_face(), 0, 100.0, 240)), graph, replace(axis, x_mm=25.0))
    assert moved.offset_px[0] > 25
    np.testing.assert_allclose(
        moved.ink.to_photo @ [moved.offset_px[0] + 3.0, moved.offset_px[1] + 7.0, 1.0], [3.0, 7.0, 1.0]
    )
    assert moved.axis.x_mm == pytest.approx(25.0 + moved.offset_px[0] * MM_PER_PX)


def test_a_guide_line_gives_the_axis_and_is_not_art() -> None:
    guide = np.array([[0.0, -215.0], [0.0, 215.0]])
    ink = inked(turned([*half_face(), guide], 8, 220, 240), [WIDTH_PX] * 4 + [2.5])
    graph = build_graph(ink)
    axis = find_axis(ink, graph).axis
    assert axis.how == "guide"
    assert_axis(axis, 98, 220, 240, **HALF)
    whole = complete_half(ink, graph, axis)
    assert not guide_lines(line_samples(build_graph(whole.ink)), graph.line_width_mm)
    plain = inked(turned(half_face(), 8, 220, 240))
    without = complete_half(plain, build_graph(plain), replace(axis, how="by hand"))
    assert (whole.ink.mask != without.ink.mask).mean() < 1e-3


def whole_face() -> list[Floats]:
    half = half_face()
    return [*half, *(line * [-1, 1] for line in half)]


def test_axis_of_a_whole_uneven_face() -> None:
    lines = turned(whole_face(), -7, 240, 240)
    # Each side is drawn a little differently, by up to 3 pixels (1 % of the size).
    lines = [line + 2.0 * np.sin(line[:, ::-1] / 40 + k) for k, line in enumerate(lines)]
    ink = inked(lines)
    axis = find_axis(ink, build_graph(ink)).axis
    assert axis.how == "whole"
    assert axis.keep in ("left", "right")
    assert 0.75 < axis.score <= 1
    assert_axis(axis, 83, 240, 240, degrees=0.7, px=2.3)


@pytest.mark.parametrize(("width", "how"), [(2.5, "guide"), (WIDTH_PX, "whole")])
def test_a_thin_line_through_a_whole_face_is_a_guide_and_a_broad_one_a_part(width: float, how: str) -> None:
    guide = np.array([[0.0, -215.0], [0.0, 215.0]])
    lines = whole_face()
    ink = inked(turned([*lines, guide], 7, 240, 240), [WIDTH_PX] * len(lines) + [width])
    axis = find_axis(ink, build_graph(ink)).axis
    assert axis.how == how
    assert axis.keep in ("left", "right")
    assert_axis(axis, 97, 240, 240, **HALF)


def test_a_square_takes_its_upright_axis() -> None:
    box = dense([[-90, -90], [90, -90], [90, 90], [-90, 90], [-90, -92]])
    ink = inked(turned([box, arc(0, 0, 50, 50, 0, 360)], 6, 240, 240))
    assert_axis(find_axis(ink, build_graph(ink)).axis, 96, 240, 240, **HALF)


def test_the_better_drawn_side_is_kept() -> None:
    lines = turned(whole_face(), 0, 240, 240)
    broken = lines[4]  # the left half of the outline, in pieces
    pieces = [broken[:40], broken[52:80], broken[90:120], broken[132:]]
    ink = inked([*lines[:4], *lines[5:], *pieces])
    axis = find_axis(ink, build_graph(ink)).axis
    assert frame_of(axis).distance(np.array([300.0, 240.0]) * MM_PER_PX) > 0
    by_hand = Axis(60.0, 60.0, 90.0, 1.0, "by hand")
    assert settle_side(ink, build_graph(ink), by_hand).keep == axis.keep
    assert not is_half_drawn(build_graph(ink), by_hand)


def spiral_and_hook() -> list[Floats]:
    turn = np.linspace(0.5, 9, 200)
    spiral = np.stack([12 * turn * np.cos(turn), 9 * turn * np.sin(turn)], axis=1)
    return [spiral, dense([[-150, 100], [-60, 160], [30, 120], [90, 170], [160, 60]])]


def test_no_symmetry_is_refused_with_the_way_out() -> None:
    ink = inked(turned(spiral_and_hook(), 10, 240, 220))
    with pytest.raises(GeometryError) as refusal:
        find_axis(ink, build_graph(ink))
    # How to set it in the file of the command, and in the job.
    said = str(refusal.value)
    assert "[mirror] table with a point on it and its angle in the file that --zones names" in said
    assert "in the job file: mirror = { at = [0.5, 0.5], angle = 90 }" in said
    assert "too few of its open lines end on one line" in said
    assert "% of the drawing matches" in str(refusal.value)


def test_a_nearly_empty_page_is_refused() -> None:
    ink = inked([np.array([[200.0, 200.0], [203.0, 200.0]])])
    with pytest.raises(GeometryError, match="hardly anything is drawn"):
        find_axis(ink, build_graph(ink))


def test_a_drawing_cut_off_by_the_page_is_not_half_drawn() -> None:
    # Two arcs that start and end square on the page's left border, the upper ends nearer together.
    ink = inked([arc(2, 240, 200, 150, -90, 90), arc(2, 290, 120, 60, -90, 90), arc(90, 180, 25, 15, 0, 360)])
    with pytest.raises(GeometryError, match="end along the border of the page"):
        find_axis(ink, build_graph(ink))


def test_ends_that_scatter_are_said_to_be_too_few() -> None:
    # Three arcs, two of which end square on one line.
    arcs = [arc(150, 160, 90, 60, -90, 90), arc(150, 320, 60, 30, 200, 320), arc(320, 330, 60, 70, 30, 200)]
    with pytest.raises(GeometryError, match="No axis of symmetry can be trusted"):
        find_axis(inked(arcs), build_graph(inked(arcs)))


def test_two_half_figures_are_refused_until_each_has_its_box() -> None:
    near = turned([0.6 * line for line in half_face()], 0, 50, 130)
    far = turned([0.6 * line for line in half_face()], 0, 300, 340)
    ink = inked([*near, *far])
    graph = build_graph(ink)
    with pytest.raises(
        GeometryError, match=r"Two figures are half drawn.*--zones.*job file: mirror = \[\{ box"
    ):
        find_axis(ink, graph)
    for x, y in ((50, 130), (300, 340)):
        ring = np.array([[x - 20, y - 110], [x + 110, y - 110], [x + 110, y + 110], [x - 20, y + 110]], float)
        assert_axis(find_axis(ink, graph, within=[ring * MM_PER_PX]).axis, 90, x, y, **HALF)


def test_a_pair_that_was_drawn_whole_beside_a_half_is_no_second_half() -> None:
    # A half face, and a closed ring with a mouth apart from it: they are one half.
    ring = [arc(330, 330, 50, 60, 0, 360), arc(330, 330, 25, 20, 20, 160)]
    ink = inked([*turned([0.6 * line for line in half_face()], 0, 60, 160), *ring])
    assert_axis(find_axis(ink, build_graph(ink)).axis, 90, 60, 160, **HALF)


@pytest.mark.parametrize("tilt", [45.0, -45.0, 90.0])
def test_a_half_about_a_tilted_or_lying_axis_is_completed(tilt: float) -> None:
    ink = inked(turned([0.7 * line for line in half_face()], tilt, 240, 240))
    graph = build_graph(ink)
    axis = find_axis(ink, graph).axis
    assert_axis(axis, 90 + tilt, 240, 240, **HALF)
    whole = complete_half(ink, graph, axis)
    paper = cv2.connectedComponents((~whole.ink.mask).astype(np.uint8), connectivity=4)[0] - 1
    assert paper == 4
    # The page has grown by nothing: the whole face has its place on it.
    assert whole.offset_px == (0, 0)


def test_one_open_end_is_no_axis() -> None:
    ink = inked(turned([half_face()[0][:120], half_face()[3]], 0, 200, 240))
    with pytest.raises(GeometryError):
        find_axis(ink, build_graph(ink))


def test_an_axis_set_by_hand_beside_a_drawing_doubles_it() -> None:
    ink = inked(turned([0.5 * line for line in half_face()], 0, 300, 240))
    axis = Axis(240 * MM_PER_PX, 60.0, 90.0, 1.0, "by hand")
    whole = complete_half(ink, build_graph(ink), axis)
    assert whole.axis.keep == "left"
    left, top = whole.offset_px
    seam = left + 240
    assert whole.ink.mask[:, seam - 50 : seam + 50].sum() == 0
    assert whole.ink.mask.sum() == pytest.approx(2 * ink.mask.sum(), rel=0.01)
    assert top == 0


@pytest.mark.parametrize("gap", [0.0, 8.0])
def test_of_the_kept_side_more_than_the_tips_of_lines_must_be_drawn(gap: float) -> None:
    # The lines run over the axis by 4 pixels, and nothing else is on that side.
    ink = inked(turned(half_face(-4.0), 0, 240 + gap, 240))
    axis = Axis(60.0, 60.0, 90.0, 1.0, "by hand", "right")
    with pytest.raises(GeometryError, match="Nothing is drawn on the side"):
        complete_half(ink, build_graph(ink), axis)


def test_one_figure_of_two() -> None:
    face = turned([0.55 * line for line in half_face()], 10, 60, 130)
    ink = inked([*face, *turned([0.6 * line for line in spiral_and_hook()], 0, 330, 340)])
    graph = build_graph(ink)
    ring = np.array([[5, 5], [180, 5], [180, 255], [5, 255]], float) * MM_PER_PX
    axis = find_axis(ink, graph, within=[ring]).axis
    assert_axis(axis, 100, 60, 130, degrees=0.7, px=1.6)
    whole = complete_half(ink, graph, axis, within=[ring])
    left, top = whole.offset_px
    old = ink.coverage[256:, 182:]
    np.testing.assert_array_equal(
        whole.ink.coverage[top + 256 : top + SIDE_PX, left + 182 : left + SIDE_PX], old
    )


def test_what_stays_one_sided_is_not_mirrored_in_the_ink() -> None:
    clip = np.array([[70.0, -110.0], [105.0, -60.0]])
    ink = inked(turned([*half_face(), clip], 0, 240, 240))
    ring = np.array([[295, 115], [360, 115], [360, 195], [295, 195]], float) * MM_PER_PX
    axis = Axis(60.0, 60.0, 90.0, 1.0, "by hand")
    whole = complete_half(ink, build_graph(ink), axis, one_sided=[ring])
    assert whole.offset_px == (0, 0)
    assert whole.ink.mask[150:160, 320:330].any()
    assert not whole.ink.mask[150:160, 150:160].any()


def test_what_is_on_one_side_only_does_not_count_where_it_is_named() -> None:
    # A whole face with curls of hair on one side: with them it has no axis.
    curls = [0.35 * spiral_and_hook()[0] + np.array([180.0, 30.0 * k - 60.0]) for k in range(5)]
    ink = inked(turned([*whole_face(), *curls], 6, 200, 240))
    graph = build_graph(ink)
    spots = np.array([[140, -110], [225, -110], [225, 105], [140, 105]], float)
    ring = turned([spots], 6, 200, 240)[0] * MM_PER_PX
    with pytest.raises(GeometryError):
        find_axis(ink, graph)
    assert_axis(find_axis(ink, graph, without=[ring]).axis, 96, 200, 240, degrees=0.7, px=2.0)


def test_the_kept_side_must_hold_something() -> None:
    ink = inked(turned(half_face(), 0, 240, 240))
    axis = Axis(60.0, 60.0, 90.0, 1.0, "by hand", "right")
    with pytest.raises(GeometryError, match="keep the other side"):
        complete_half(ink, build_graph(ink), replace(axis, x_mm=50.0))
