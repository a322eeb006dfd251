"""Solid blacks that touch rebuilt lines stay black."""

import numpy as np
import shapely

from helpers_regions import drawn, regions_of


from limner.curves.even.outlines import even_lines
from limner.curves.settings import CurveSettings
from limner.geometry.cubics import flatten


def test_a_black_that_a_line_runs_into_stays():
    """A nose at the end of its bridge: a disc of 4 mm in radius, and a line of 0.8 mm from it to the right."""
    turn = np.linspace(0, 2 * np.pi, 60)
    discs = [np.stack([120 + r * np.cos(turn), 200 + r * np.sin(turn)], axis=1) for r in np.arange(4, 37, 4)]
    solid = np.zeros((400, 400), bool)
    y, x = np.mgrid[0:400, 0:400] + 0.5
    solid[np.hypot(x - 120, y - 200) < 40] = True
    ink = drawn([*discs, [(120, 200), (340, 200)]], width=8.0, solid=solid)
    shapes = even_lines(regions_of(ink), CurveSettings(smoothing_mm=0.1, lines="even"))
    black = shapely.union_all([shapely.Polygon(flatten(s.paths[0], 0.002)) for s in shapes])
    disc, line = shapely.Point(12.0, 20.0).buffer(4.0), shapely.box(17.0, 19.7, 33.5, 20.3)
    assert shapely.difference(disc, black).area < 0.02 * disc.area
    assert shapely.difference(line, black).area == 0.0
    assert black.area < 1.05 * (disc.area + 18.4 * 0.8)
