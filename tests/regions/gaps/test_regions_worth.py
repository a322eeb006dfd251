"""Which bridges are worth it once they are found."""

import numpy as np
import pytest

from helpers_regions import circle, drawn, regions_of
from limner.regions.gaps.candidates import Bridge
from limner.regions.settings import RegionSettings

# Gaps of up to 9 mm are looked at; lines are 0.8 mm wide.
WIDE = RegionSettings(largest_gap_mm=9.0)


def bridged(lines, settings=WIDE, **more):
    regions = regions_of(drawn(lines, **more), settings)
    return [edge for edge in regions.graph.edges if edge.kind == "bridge" and edge.start != edge.end]


# Shown between the lines: pi r^2 for a radius less half a line, in square line widths of 64 square pixels.
@pytest.mark.parametrize(("shown_widths2", "worth"), [(1.5, False), (2.0, False), (3.8, True), (8.0, True)])
def test_an_area_of_less_than_three_square_line_widths_is_worth_no_bridge(shown_widths2, worth):
    radius = np.sqrt(shown_widths2 * 64 / np.pi) + 4
    half = np.degrees((2 + 8) / 2 / radius)
    assert bool(bridged([circle(200, 200, radius, half, 360 - half)])) == worth


def corners(arm):
    """Four corners of a square of 200 pixels, with arms of this length."""
    return [
        [(x, y + arm * dy), (x, y), (x + arm * dx, y)]
        for x, y, dx, dy in ((100, 100, 1, 1), (300, 100, -1, 1), (300, 300, -1, -1), (100, 300, 1, -1))
    ]


@pytest.mark.parametrize(("arm", "worth"), [(80, True), (64, True), (52, False)])
def test_an_outline_that_would_be_bridged_for_the_most_part_is_none(arm, worth):
    # The round ends of the arms reach to their nodes and half a width beyond: of each side of 200 pixels
    # 32, 64 or 88 are bridged: a sixth of the outline, a third, or more than two fifths.
    found = bridged(corners(arm))
    assert len(found) == 4 if worth else len(found) < 4


def bridge(gap, bend=0.0, kink=0.0, drawn=50.0, second=1, **more):
    """A bridge between two ends in a drawing whose lines are 1 mm wide."""
    points = np.array([[0.0, 0.0], [gap, 0.0]])
    return Bridge(0, second, -1, -1, points, 0.5, gap, (bend, kink), drawn, **more)


# A bend of up to 80 degrees and a kink of up to 30, or ends no more than a line width apart.
@pytest.mark.parametrize(
    ("one_line", "candidate"),
    [
        (True, bridge(5.0)),
        (True, bridge(5.0, bend=79.0, kink=29.0)),
        (False, bridge(5.0, bend=81.0)),
        (False, bridge(5.0, kink=31.0)),
        (True, bridge(0.9, bend=81.0, kink=60.0)),
        (True, bridge(5.0, drawn=5.1)),
        (False, bridge(5.0, drawn=4.9)),
        (False, bridge(5.0, second=None)),
        (False, bridge(0.9, is_neck=True)),
    ],
)
def test_ends_that_are_plainly_one_line(one_line, candidate):
    assert candidate.continues(1.0) == one_line


# Two rooms of a box, side by side, with a line between them of which a piece is missing: rooms 40 pixels wide
# hold discs of radius 16, so that a passage of up to 20 is closed; what continues the line is closed even so.
@pytest.mark.parametrize(("short", "parts"), [(3, 2), (14, 2), (25, 1), (32, 1)])
def test_a_line_that_stops_short_parts_a_room_where_the_passage_is_narrow_beside_it(short, parts):
    box = [(160, 60), (240, 60), (240, 340), (160, 340), (160, 60)]
    regions = regions_of(drawn([box, [(200, 60), (200, 340 - 8 - short)]]), WIDE)
    assert len(regions.areas) == parts


@pytest.mark.parametrize("gap", [14, 25, 45])
def test_a_line_that_goes_on_beyond_a_gap_parts_the_narrowest_room(gap):
    box = [(160, 60), (240, 60), (240, 340), (160, 340), (160, 60)]
    stems = [[(200, 60), (200, 200 - 4 - gap / 2)], [(200, 200 + 4 + gap / 2), (200, 340)]]
    regions = regions_of(drawn([box, *stems]), WIDE)
    assert len(regions.areas) == 2


# The same towards the page: a bottle without a cork, whose belly holds a disc of radius 26. Neither of the
# two walls that stop at its mouth is heading for the other.
@pytest.mark.parametrize(("mouth", "areas"), [(20, 1), (28, 1), (46, 0)])
def test_a_room_is_closed_where_its_mouth_is_narrow_beside_it(mouth, areas):
    half = mouth / 2 + 4
    wall = np.array([(half, 100), (30, 200), (30, 300)])
    bottle = np.add(np.concatenate([wall * (-1, 1), wall[::-1]]), (200, 0))
    assert len(regions_of(drawn([bottle]), WIDE).areas) == areas


# An arc of 90 degrees, of which this much is missing in its middle, cuts a shallow piece off a frame.
@pytest.mark.parametrize(("missing_deg", "worth"), [(30, True), (44, True), (50, False)])
def test_a_line_that_parts_an_area_is_drawn_for_the_most_part(missing_deg, worth):
    frame, x = [(80, 40), (360, 40), (360, 360), (80, 360), (80, 40)], 80 - 150 * np.cos(np.radians(45))
    parts = [circle(x, 200, 150, low, high) for low, high in ((-45, -missing_deg / 2), (missing_deg / 2, 45))]
    assert len(bridged([frame, *parts], RegionSettings(largest_gap_mm=20.0))) == int(worth)
