"""Unions of forms with a size and a place."""

import numpy as np
import pytest
import shapely

from limner.geometry.cubics import bounds, flatten
from limner.sheet.cut.cut_line import make_cut
from limner.sheet.settings import CutSettings, PlacedForm

# A face with two ears: 30 mm wide, the ears 8 mm above it.
EARS = [shapely.Point(x, -13).buffer(5, 64) for x in (-8, 8)]
HEAD = shapely.union_all([shapely.Point(0, 0).buffer(13, 64), *EARS])
DISC = PlacedForm("circle", 32.0, 32.0, (0.5, 18 / 31))


def cut_of(forms, region=HEAD, **others):
    wanted = CutSettings(forms=forms, **others)
    cut = make_cut(region, wanted)
    outside = shapely.Polygon(flatten(cut.line.path, 0.002))
    assert outside.contains(region)
    assert outside.exterior.distance(region) >= wanted.distance_mm
    return cut, outside


@pytest.mark.parametrize("forms", [(DISC,), (DISC, "outline"), ("outline", DISC)])
def test_ears_stand_out_of_a_circle_of_a_given_size(forms):
    _, outside = cut_of(forms)
    # Around the head it is the circle, of 16 mm about (0, 0); at the ears it is farther out.
    for angle in np.radians([0, 45, 90, 135, 180]):
        ray = shapely.LineString([(0, 0), (40 * np.cos(angle), 40 * np.sin(angle))])
        assert ray.intersection(outside).length == pytest.approx(16.0, abs=0.1)
    assert bounds(cut_of(forms)[0].line.path)[1] == pytest.approx(-18 - 2.5, abs=0.1)
    # Between the ears lies no more than a rounded hollow.
    assert not outside.contains(shapely.Point(0, -20))


def test_a_plain_form_encloses_only_what_the_placed_one_leaves_out():
    tail = shapely.union_all([shapely.Point(0, 0).buffer(13, 64), shapely.box(12, -1, 34, 1)])
    disc = PlacedForm("circle", 36.0, 36.0, (13 / 47, 0.5))
    cut, outside = cut_of((disc, "rectangle"), tail)
    assert cut.line.form == "circle + rectangle"
    _, y0, x1, y1 = outside.bounds
    assert x1 == pytest.approx(34 + 2.5, abs=0.15)
    # The rectangle is as high as the tail with the distance above and below, not as all of the art.
    assert (y0, y1) == pytest.approx((-18, 18), abs=0.1)
    across = shapely.LineString([(30, -40), (30, 40)]).intersection(outside)
    assert across.length == pytest.approx(2 + 2 * 2.5, abs=0.2)


def test_a_form_that_holds_all_of_the_art_is_cut_as_it_is():
    cut, outside = cut_of((PlacedForm("ellipse", 60.0, 50.0),))
    assert outside.bounds == pytest.approx((-30, -27.5, 30, 22.5), abs=0.1)
    assert cut.line.path.node_count <= 6


def test_a_form_that_lies_apart_is_joined_by_a_neck():
    away = PlacedForm("circle", 10.0, 10.0, (1.0, 0.0))
    cut, _ = cut_of((away, "outline"), shapely.box(-10, 0, 0, 40).union(shapely.box(0, 38, 30, 40)))
    assert len(cut.necks) == 1
