"""Rings painted into rasters, against the rings' own sizes."""

import numpy as np
import pytest

from limner.geometry.rasters import fill_rings

TURN = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)


def circle(x: float, y: float, radius: float) -> np.ndarray:
    return np.stack([x + radius * np.cos(TURN), y + radius * np.sin(TURN)], axis=1)


@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5])
def test_a_disc_fills_the_pixels_whose_centres_it_covers_give_or_take_its_outline(shift: float) -> None:
    canvas = np.zeros((60, 80), np.uint8)
    fill_rings(canvas, [circle(40.0 + shift, 30.0, 20.0)])
    row, column = np.mgrid[:60, :80] + 0.5
    away = np.hypot(column - 40.0 - shift, row - 30.0)
    # Within three quarters of a pixel of the outline it may be either.
    assert (canvas[away < 20.0 - 0.75] == 1).all()
    assert (canvas[away > 20.0 + 0.75] == 0).all()


def test_a_ring_in_a_ring_stays_empty_and_the_value_is_the_one_asked_for() -> None:
    canvas = np.full((60, 60), -1, np.int32)
    fill_rings(canvas, [circle(30.0, 30.0, 25.0), circle(30.0, 30.0, 10.0)], 7)
    assert canvas[30, 30] == -1
    assert canvas[30, 12] == 7


def test_a_ring_beyond_the_canvas_fills_what_lies_on_it() -> None:
    canvas = np.zeros((10, 10), np.uint8)
    fill_rings(canvas, [circle(5.0, 5.0, 100.0)])
    assert canvas.all()
