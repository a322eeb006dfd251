"""Solid blacks that touch rebuilt lines stay black."""

import numpy as np
import shapely

from helpers_regions import circle, drawn, regions_of
from limner.curves.even.outlines import even_lines
from limner.curves.settings import CurveSettings
from limner.geometry.cubics import flatten


def test_a_black_that_a_line_runs_into_stays():
    """A nose of 2.8 mm in radius, hung by a line from the outline of a face, all of it one piece of ink."""
    nose = [circle(200, 200, r) for r in range(4, 25, 4)]
    y, x = np.mgrid[0:400, 0:400] + 0.5
    solid = np.hypot(x - 200, y - 200) < 28
    ink = drawn([circle(200, 200, 170), *nose, [(200, 200), (200, 30)]], width=8.0, solid=solid)
    regions = regions_of(ink)
    # What is a black throughout is not rebuilt at all.
    assert {ring.solid for ring in regions.ink} == {False}
    (shape,) = even_lines(regions, CurveSettings(smoothing_mm=0.1, lines="even"))
    black = shapely.Polygon(flatten(shape.paths[0], 0.002))
    for path in shape.paths[1:]:
        black = shapely.symmetric_difference(black, shapely.Polygon(flatten(path, 0.002)))
    disc = shapely.Point(20.0, 20.0).buffer(2.8)
    assert shapely.difference(disc, black).area < 0.02 * disc.area
    # The outline of the face and the line are 0.8 mm wide.
    lines = 0.8 * (2 * np.pi * 17.0 + (17.0 - 0.4 - 2.8))
    assert shapely.difference(black, disc).area < 1.05 * lines
