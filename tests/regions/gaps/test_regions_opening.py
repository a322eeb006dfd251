"""Bridges that are refused."""

import numpy as np
import pytest

from helpers_regions import circle, drawn
from limner.errors import GeometryError
from limner.regions.areas.build import divide_page
from limner.regions.centrelines.build import build_graph
from limner.regions.settings import RegionSettings


def divided(lines, *points):
    ink = drawn(lines)
    return divide_page(ink, build_graph(ink), RegionSettings(), opened=[np.array(point) for point in points])


# Gaps of 12 px at the right and at the left of two circles.
HALF = np.degrees(10 / 80)
TWO = [circle(110, 200, 80, HALF, 360 - HALF), circle(290, 200, 80, 180 + HALF, 540 - HALF)]


def test_the_nearest_bridge_is_not_made():
    assert len(divided(TWO).faces.faces) == 2
    opened = divided(TWO, (19.2, 20.6))
    (face,) = opened.faces.faces
    assert opened.graph.edges[face.outline[0][0]].points[:, 0].mean() > 20.0
    assert len(divided(TWO, (19.2, 20.6), (20.8, 20.0)).faces.faces) == 0


def test_a_line_that_a_bridge_met_is_whole_again():
    lines = [circle(200, 200, 120), [(92, 200), (308, 200)]]
    assert len(divided(lines).faces.faces) == 2
    bridges = [edge for edge in divided(lines).graph.edges if edge.kind == "bridge"]
    opened = divided(lines, *(bridge.points.mean(axis=0) for bridge in bridges))
    assert len(opened.faces.faces) == 1
    plain = build_graph(drawn(lines))
    assert len(opened.graph.edges) == len(plain.edges)


def test_where_there_is_no_bridge_the_distance_is_told():
    with pytest.raises(
        GeometryError, match=r"opens nothing: the nearest bridge is 1\d\.\d\d mm away"
    ) as caught:
        divided(TWO, (20.0, 35.0))
    assert caught.value.about == ("open", 0)
    with pytest.raises(GeometryError, match="no gap is bridged in this drawing"):
        divided([circle(200, 200, 120)], (20.0, 20.0))
