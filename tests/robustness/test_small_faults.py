"""Regressions of faults that damaged pictures have brought to light."""

import numpy as np
import pytest

from limner.ink.ruling.find import find_ruling
from limner.model.raster import FlatPage, InkMap
from limner.regions.areas.sketch_colours import sketch_colours


@pytest.mark.parametrize("shape", [(300, 1), (3, 300), (2, 2)])
def test_a_page_too_narrow_for_a_step_has_no_ruling(shape: tuple[int, int]) -> None:
    assert find_ruling(np.ones(shape, np.float32), 1.0) == ()


def test_areas_without_a_pixel_have_no_colour() -> None:
    page = FlatPage(
        grey=np.ones((64, 64), np.float32),
        colour=np.full((64, 64, 3), 255, np.uint8),
        to_photo=np.eye(3),
        mm_per_px=None,
        scale_from="",
        source="page.png",
    )
    ink = InkMap(
        coverage=np.ones((64, 64), np.float32),
        solid=np.zeros((64, 64), bool),
        line_width_px=3.0,
        to_photo=np.eye(3),
    )
    assert sketch_colours(ink, page, np.full((16, 16), -1, np.int32), 2) == [None, None]
