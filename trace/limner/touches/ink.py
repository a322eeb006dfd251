"""Ink drawn and rubbed out, one touch after the other."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from limner.model.arrays import Singles
from limner.model.raster import ScaledInk
from limner.model.regionmap import LineGraph
from limner.model.touch import InkTouch
from limner.touches.draw import drawn
from limner.touches.rub import rubbed

__all__ = ["touch_ink"]

# What an eraser takes with it: a little more than the line to both sides, as a hand wants it that does not
# aim.
_RUB_LINE_WIDTHS = 3.0


def touch_ink(ink: ScaledInk, touch: InkTouch, centrelines: Callable[[ScaledInk], LineGraph]) -> ScaledInk:
    """Draw on the ink, or rub out of it.

    Parameters
    ----------
    ink : ScaledInk
        The ink.
    touch : InkTouch
        A line in millimetres of the ink's raster.
    centrelines : callable
        Finds the centrelines of ink: of what lies around a line that is rubbed out.

    Returns
    -------
    ScaledInk
        The same values away from the touch.
    """
    usual = ink.line_width_px * (1.0 if touch.adds else _RUB_LINE_WIDTHS)
    width = usual if touch.width_mm is None else touch.width_mm / ink.mm_per_px
    points = touch.points / ink.mm_per_px
    if touch.adds:
        coverage = drawn(ink.coverage, points, width, ink.line_width_px)
    else:

        def around(part: Singles) -> LineGraph:
            return centrelines(
                ScaledInk(part, np.zeros(part.shape, bool), ink.line_width_px, np.eye(3), mm_per_px=1.0)
            )

        coverage = rubbed(ink.coverage, points, width, ink.line_width_px, around)
    return replace(ink, coverage=coverage, solid=ink.solid & (coverage >= np.float32(0.5)))
