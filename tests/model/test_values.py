"""Values refuse what cannot be, and cannot be changed."""

import numpy as np
import pytest

from limner.model.arrays import frozen
from limner.model.drawing import Shape
from limner.model.geometry import CubicPath
from limner.model.raster import FlatPage, InkMap, Photo
from limner.model.regionmap import Edge

LINE = np.array([[[0, 0], [1, 0], [2, 0], [3, 0]]], dtype=float)


def test_arrays_are_copied_and_read_only() -> None:
    mine = np.zeros((2, 3, 3), np.uint8)
    photo = Photo(mine, None, "crab.jpg")
    mine[:] = 255
    assert photo.rgb.max() == 0
    with pytest.raises(ValueError, match="read-only"):
        photo.rgb[0, 0, 0] = 1


def test_a_frozen_array_is_not_copied_again() -> None:
    once = frozen([1.0, 2.0], np.float64, (2,), "pair")
    assert frozen(once, np.float64, (2,), "pair") is once


def test_wrong_shape_is_named() -> None:
    with pytest.raises(ValueError, match="pair must have shape"):
        frozen([1.0], np.float64, (2,), "pair")


def test_segments_must_join() -> None:
    apart = np.concatenate([LINE, LINE])
    with pytest.raises(ValueError, match="start exactly where"):
        CubicPath(apart, np.ones(2, bool), np.zeros(2, bool), closed=False)


def test_a_closed_path_must_close() -> None:
    with pytest.raises(ValueError, match="end exactly where it starts"):
        CubicPath(LINE, np.ones(1, bool), np.zeros(1, bool), closed=True)


def test_coordinates_must_be_finite() -> None:
    with pytest.raises(ValueError, match="finite"):
        CubicPath(LINE * np.nan, np.ones(1, bool), np.zeros(1, bool), closed=False)


def test_an_open_path_has_one_node_more_than_segments() -> None:
    path = CubicPath(LINE, np.ones(1, bool), np.zeros(1, bool), closed=False)
    assert path.node_count == len(path.nodes) == 2


def test_a_shape_is_made_of_closed_paths() -> None:
    path = CubicPath(LINE, np.ones(1, bool), np.zeros(1, bool), closed=False)
    with pytest.raises(ValueError, match="closed"):
        Shape("fin", "area", (path,), "#000000", 0.0)


def test_an_edge_needs_two_points() -> None:
    with pytest.raises(ValueError, match="two points"):
        Edge(np.zeros((1, 2)), np.zeros(1), 0, 0)


def test_mask_is_where_ink_outweighs_paper() -> None:
    coverage = np.array([[0.49, 0.5, 1.0]], np.float32)
    ink = InkMap(coverage, np.zeros((1, 3), bool), 3.0, np.eye(3))
    assert ink.mask.tolist() == [[False, True, True]]


def test_ink_with_a_scale_is_the_same_ink() -> None:
    ink = InkMap(np.ones((2, 3), np.float32), np.zeros((2, 3), bool), 3.0, np.diag([2.0, 2.0, 1.0]))
    scaled = ink.scaled_to(0.25)
    assert (scaled.mm_per_px, scaled.line_width_px, scaled.line_width_mm) == (0.25, 3.0, 0.75)
    assert scaled.coverage is ink.coverage
    assert scaled.solid is ink.solid
    assert scaled.to_photo is ink.to_photo


def test_a_page_with_a_scale_knows_that_of_the_photograph() -> None:
    grey, colour = np.ones((2, 3), np.float32), np.full((2, 3, 3), 255, np.uint8)
    page = FlatPage(grey, colour, None, np.eye(3), "width", "page.png", reduction=2.0).scaled_to(0.5)
    assert (page.mm_per_px, page.mm_per_photo_px) == (0.5, 0.25)
    assert (page.scale_from, page.source) == ("width", "page.png")


@pytest.mark.parametrize("mm_per_px", [0.0, -0.1, float("nan"), float("inf")])
def test_a_scale_that_is_none_is_refused(mm_per_px: float) -> None:
    ink = InkMap(np.ones((2, 3), np.float32), np.zeros((2, 3), bool), 3.0, np.eye(3))
    with pytest.raises(ValueError, match="scale"):
        ink.scaled_to(mm_per_px)
