"""What a cut line promises about its inner corners, on shapes whose hollows are known exactly."""

import numpy as np
import pytest
import shapely

from limner.geometry.cubics import polygon_path
from limner.sheet.cut import cut_line as cutline
from limner.sheet.cut.cut_line import SLACK_MM, measure_cut
from limner.sheet.settings import CutSettings

RADIUS_MM = 2.0


def slotted(width_mm):
    """A plate with a slot that ends in a half circle: no inner corner is tighter than half its width."""
    plate = shapely.box(0, 0, 40, 30)
    middle = shapely.LineString([(20, -5), (20, 15)])
    return shapely.difference(plate, shapely.buffer(middle, width_mm / 2, quad_segs=64))


def keeps(shape):
    settings = CutSettings(distance_mm=2.0, smallest_radius_mm=RADIUS_MM)
    path = polygon_path(np.asarray(shape.exterior.coords)[:-1])
    line = measure_cut(path, shapely.Point(5, 20).buffer(1.0), settings)
    return cutline._keeps_promises(line, settings)


@pytest.mark.parametrize(
    ("width_mm", "kept"),
    [
        # A blade of that radius passes.
        (2 * RADIUS_MM + 0.1, True),
        # It fits in only at the mouth: rounding by the radius fills all of the slot.
        (2 * RADIUS_MM - SLACK_MM, False),
        (RADIUS_MM, False),
    ],
)
def test_a_slot_narrower_than_the_blade_can_turn_breaks_the_promise(width_mm, kept):
    assert keeps(slotted(width_mm)) is kept


def test_a_corner_may_be_tighter_only_by_the_slack():
    # An inner right angle, rounded by a radius that is short of the asked one by less and by more.
    for short_mm, kept in ((0.5 * SLACK_MM, True), (10 * SLACK_MM, False)):
        radius = RADIUS_MM - short_mm
        corner = shapely.difference(shapely.box(0, 0, 40, 30), shapely.box(20, -5, 45, 15))
        rounded = shapely.buffer(shapely.buffer(corner, radius, quad_segs=64), -radius, quad_segs=64)
        assert keeps(rounded) is kept
