"""Edges of lines that a large smoothing makes cross are brought apart again."""

import numpy as np
import shapely

from limner.curves.crossings import crossing_rings
from limner.curves.drawing import trace_curves
from limner.curves.settings import CurveSettings
from limner.geometry.cubics import flatten, polygon_path
from limner.model.regionmap import InkRing, LineGraph, RegionMap

WIDTH_MM = 0.2


def square(x, y, size):
    return polygon_path(np.array([[x, y], [x + size, y], [x + size, y + size], [x, y + size]], float))


def test_what_crosses_is_found():
    eight = polygon_path(np.array([[0, 0], [4, 4], [4, 0], [0, 4]], float))
    paths = [square(0, 0, 4), square(0.5, 0.5, 1), square(2, 2, 4), eight, square(20, 0, 4)]
    assert crossing_rings(paths, [0, 0, 0, 1, 2], WIDTH_MM) == (0, 2, 3)
    # Pieces of ink that lie over each other are ink all the same.
    assert crossing_rings(paths, [0, 1, 2, 3, 4], WIDTH_MM) == (3,)


def test_a_loop_that_nobody_sees_is_none():
    tiny = polygon_path(
        np.array([[0, 0], [10, 0], [10, 10], [9.99, 10.01], [10, 10.01], [9.99, 10], [0, 10]])
    )
    assert not shapely.LinearRing(flatten(tiny, 0.001)).is_simple
    assert crossing_rings([tiny], [0], WIDTH_MM) == ()


def test_the_edges_of_a_thin_line_do_not_cross():
    turn = np.linspace(0, 2 * np.pi, 3000, endpoint=False)
    radius = 2 + 0.9 * np.abs(np.sin(9 * turn))
    line = shapely.LinearRing(np.stack([5 + radius * np.cos(turn), 5 + radius * np.sin(turn)], axis=1))
    ink = shapely.geometry.polygon.orient(line.buffer(WIDTH_MM / 2), 1.0)
    rings = tuple(
        InkRing(shapely.get_coordinates(shapely.segmentize(ring, 0.03))[:-1], 0, False)
        for ring in (ink.exterior, *ink.interiors)
    )
    regions = RegionMap(10.0, 10.0, LineGraph(np.zeros((0, 2)), (), WIDTH_MM), (), (), rings)
    for level in (10, 20):
        (shape,) = trace_curves(regions, CurveSettings(smoothing_mm=level * 0.2 * WIDTH_MM)).lines
        assert crossing_rings(shape.paths, [0] * len(shape.paths), WIDTH_MM) == ()
        assert shape.error_mm <= level * 0.2 * WIDTH_MM
