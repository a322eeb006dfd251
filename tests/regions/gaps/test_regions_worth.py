"""Which bridges are worth it once they are found."""

import numpy as np
import pytest

from helpers_regions import circle, drawn, regions_of
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


@pytest.mark.parametrize(("arm", "worth"), [(80, True), (64, False)])
def test_an_outline_that_would_be_bridged_for_the_most_part_is_none(arm, worth):
    # The round ends of the arms reach to their nodes and half a width beyond: of each side of 200 pixels
    # 32 are bridged, or 64 - a sixth of the outline, or a third.
    found = bridged(corners(arm))
    assert len(found) == (4 if worth else 0) if worth else len(found) < 4


def strokes_in_a_ring(first_deg, second_deg, gap=40):
    """Two strokes from a ring towards its middle, which meet in a gap in these directions."""
    start, end = np.array([200 - gap / 2, 200.0]), np.array([200 + gap / 2, 200.0])
    ring, lines = circle(200, 200, 150), []
    for tip, deg in ((start, first_deg), (end, second_deg)):
        back = -np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])
        # As far as the ring.
        b, c = float((tip - 200) @ back), float((tip - 200) @ (tip - 200)) - 150.0**2
        lines.append([tuple(tip), tuple(tip + back * (-b + np.sqrt(b * b - c)))])
    return [ring, *lines]


@pytest.mark.parametrize(
    ("first", "second", "parts"),
    [
        (0, 180, 2),
        (30, 150, 2),
        (55, 125, 2),
        (70, 110, 1),
        (15, 195, 2),
        (28, 208, 1),
    ],
)
def test_an_area_is_parted_only_by_a_smooth_continuation(first, second, parts):
    # A bend of up to 65 degrees, a kink of up to 20.
    regions = regions_of(drawn(strokes_in_a_ring(first, second)), WIDE)
    assert len(regions.areas) == parts


def boxed(stem):
    box = [(60, 60), (340, 60), (340, 340), (60, 340), (60, 60)]
    return [box, stem]


@pytest.mark.parametrize(("short", "parts"), [(2, 2), (5, 2), (8, 1), (14, 1)])
def test_a_line_parts_an_area_only_where_it_all_but_reaches_across(short, parts):
    # Free paper between the stem's round end and the box's line, pixels; three quarters of a width are 6.
    regions = regions_of(drawn(boxed([(200, 60), (200, 340 - 8 - short)])), WIDE)
    assert len(regions.areas) == parts


def test_a_loose_line_parts_nothing():
    # It all but touches at both ends, but nothing holds it.
    regions = regions_of(drawn(boxed([(200, 60 + 8 + 3), (200, 340 - 8 - 3)])), WIDE)
    assert len(regions.areas) == 1


@pytest.mark.parametrize(("gap", "parts"), [(5, 2), (12, 1)])
def test_ragged_ends_nearer_than_a_line_width_are_one_line_in_any_direction(gap, parts):
    # Beside each other their kink is some 60 degrees, which would part nothing over a wider gap.
    regions = regions_of(drawn(strokes_in_a_ring(25, 205, gap=gap + 8)), WIDE)
    assert len(regions.areas) == parts


# An arc of 90 degrees, of which this much is missing in its middle, cuts a shallow piece off a frame.
@pytest.mark.parametrize(("missing_deg", "worth"), [(30, True), (44, True), (50, False)])
def test_a_line_that_parts_an_area_is_drawn_for_the_most_part(missing_deg, worth):
    frame, x = [(80, 40), (360, 40), (360, 360), (80, 360), (80, 40)], 80 - 150 * np.cos(np.radians(45))
    parts = [circle(x, 200, 150, low, high) for low, high in ((-45, -missing_deg / 2), (missing_deg / 2, 45))]
    assert len(bridged([frame, *parts], RegionSettings(largest_gap_mm=20.0))) == int(worth)
