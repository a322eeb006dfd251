"""Gaps within one line are closed in ink, those to another line are not."""

import numpy as np
import pytest

from helpers_regions import circle, drawn, regions_of
from limner.regions.settings import RegionSettings

OPEN = RegionSettings(bridges="open")

# Lines are 8 pixels wide, 0.8 mm; a circle with a gap of some 20 pixels.
RING = circle(200, 200, 120, 6, 354)


def holes_and_pieces(regions):
    return len(regions.ink), len({ring.piece for ring in regions.ink})


def test_a_ring_with_a_gap_becomes_a_whole_ring_of_ink():
    inked, bare = regions_of(drawn([RING])), regions_of(drawn([RING]), OPEN)
    assert holes_and_pieces(inked) == (2, 1)
    assert holes_and_pieces(bare) == (1, 1)
    assert len(inked.areas) == len(bare.areas) == 1
    assert inked.areas[0].bridged_gaps == 1


def test_ink_over_a_gap_is_as_wide_as_the_line():
    outer, hole = regions_of(drawn([RING])).ink
    centre = np.array([20.0, 20.0])
    for ring, radius in ((outer, 12.4), (hole, 11.6)):
        away = np.hypot(*(ring.points - centre).T)
        at_gap = np.abs(np.arctan2(*(ring.points - centre)[:, ::-1].T)) < np.radians(12)
        assert at_gap.sum() > 20
        # Three quarters of a pixel of the raster.
        assert np.abs(away[at_gap] - radius).max() < 0.075


def test_a_gap_to_another_line_stays_open_in_ink():
    # A line stops eight pixels short of the wall that it would part the room against.
    room = [(100, 100), (300, 100), (300, 300), (100, 300), (100, 100)]
    lines = [room, [(200, 100), (200, 288)]]
    inked, bare = regions_of(drawn(lines)), regions_of(drawn(lines), OPEN)
    assert len(inked.areas) == 2
    assert holes_and_pieces(inked) == holes_and_pieces(bare) == (2, 1)


@pytest.mark.parametrize(("dash", "closed"), [(20, False), (150, True)])
def test_dashes_stay_dashes(dash, closed):
    # Around a circle: dashes with gaps of 24 pixels between their round ends.
    step = np.degrees((dash + 8 + 24) / 120)
    count = int(360 // step)
    step = 360 / count
    long = np.degrees(dash / 120)
    lines = [circle(200, 200, 120, k * step, k * step + long) for k in range(count)]
    regions = regions_of(drawn(lines), RegionSettings(largest_gap_mm=9.0))
    assert (holes_and_pieces(regions)[1] < count) == closed
