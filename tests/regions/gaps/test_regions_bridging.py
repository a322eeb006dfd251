"""Closing gaps: leaks, whiskers, direction, and how long it takes."""

import time
from dataclasses import replace

import numpy as np
import pytest

from helpers_regions import circle, drawn, regions_of
from limner.regions.centrelines.build import build_graph
from limner.regions.gaps.ends import find_ends
from limner.regions.settings import RegionSettings


def bridges(regions):
    return [edge for edge in regions.graph.edges if edge.kind == "bridge"]


@pytest.mark.parametrize("gap_px", [6, 15, 30, 50])
def test_a_gap_leaks_when_none_are_closed_and_not_when_gaps_up_to_it_are(gap_px):
    # The arc's round ends reach 4 px into the gap at each side.
    half = np.degrees((gap_px + 8) / 2 / 120)
    ink = drawn([circle(200, 200, 120, half, 360 - half)])
    assert regions_of(ink, RegionSettings(largest_gap_mm=0.0)).areas == ()
    (area,) = regions_of(ink, RegionSettings(largest_gap_mm=1.35 * gap_px / 10)).areas
    assert area.bridged_gaps == 1
    assert area.area_mm2 == pytest.approx(np.pi * 12**2, rel=0.01)


def test_a_bridge_leaves_both_ends_in_the_direction_of_the_pencil():
    half = np.degrees(12 / 120)
    regions = regions_of(drawn([circle(200, 200, 120, half, 360 - half)]))
    (bridge,) = bridges(regions)
    # On a circle of 12 mm; a chord would run 12 (1 - cos 0.1) = 0.06 mm inside.
    assert np.abs(np.hypot(*(bridge.points - 20).T) - 12).max() < 0.03
    assert np.abs(bridge.width_mm - 0.8).max() < 0.06


def test_whiskers_stay_free():
    whiskers = [[(160, 200 + 20 * k), (20, 180 + 40 * k)] for k in range(3)]
    regions = regions_of(drawn([circle(240, 220, 80), *whiskers]))
    assert len(regions.areas) == 1
    assert bridges(regions) == []


def test_the_true_continuation_wins_over_a_nearer_stranger():
    # A box with a gap of 12 px in its upper side, and a stroke that starts 20 px below the left end.
    box = [[(180, 60), (60, 60), (60, 340), (340, 340), (340, 60), (200, 60)], [(190, 88), (230, 200)]]
    regions = regions_of(drawn(box))
    (bridge,) = bridges(regions)
    assert np.abs(bridge.points[:, 1] - 6.0).max() < 0.15


def test_a_line_that_stops_short_of_another_is_led_on_to_it():
    box = [(60, 60), (340, 60), (340, 340), (60, 340), (60, 60)]
    regions = regions_of(drawn([box, [(200, 60), (200, 328)]]))
    assert len(regions.areas) == 2
    assert sorted(area.area_mm2 for area in regions.areas) == pytest.approx([14 * 28] * 2, rel=0.01)


def test_a_mouth_does_not_part_a_face():
    regions = regions_of(drawn([circle(200, 200, 120), circle(200, 190, 80, 20, 160)]))
    assert len(regions.areas) == 1


def test_a_black_spot_leads_nowhere():
    face = drawn([circle(200, 200, 120), [(170, 260), (230, 260)]])
    eye = drawn([[(160, 180), (160.1, 180)]], width=36)
    eyed = replace(face, coverage=np.maximum(face.coverage, eye.coverage))
    # The middle of the eye is a line of its own, but only the mouth has ends.
    assert len(build_graph(eyed).edges) > len(build_graph(face).edges)
    ends = find_ends(build_graph(eyed))
    assert sorted(round(float(end.point[0])) for end in ends) == [17, 23]


def test_three_lines_whose_junction_was_lost_meet_again():
    outline = [circle(200, 200, 150)]
    spokes = [
        [(200 + 149 * np.cos(a), 200 + 149 * np.sin(a)), (200 + 10 * np.cos(a), 200 + 10 * np.sin(a))]
        for a in np.radians([90, 210, 330])
    ]
    regions = regions_of(drawn(outline + spokes))
    assert len(regions.areas) == 3


def test_a_drawing_that_encloses_nothing_has_no_areas_but_keeps_its_ink_and_has_a_base():
    regions = regions_of(drawn([[(50, 50), (350, 120)], [(50, 300), (200, 250), (350, 320)]]))
    assert regions.areas == ()
    assert len(regions.silhouettes) == 2
    assert len(regions.ink) == 2
    blank = regions_of(drawn([]))
    assert (blank.areas, blank.ink, blank.silhouettes) == ((), (), ())


def test_a_spiral_is_no_area():
    turn = np.linspace(0, 8 * np.pi, 1500)
    radius = 20 + 5 * turn
    spiral = np.stack([200 + radius * np.cos(turn), 200 + radius * np.sin(turn)], axis=1)
    assert regions_of(drawn([spiral]), RegionSettings(largest_gap_mm=1.5)).areas == ()


def test_hatching_with_thousands_of_areas_takes_bounded_time():
    places = range(20, 1181, 16)
    lines = [[(k, 20), (k, 1172)] for k in places] + [[(20, k), (1172, k)] for k in places]
    ink = drawn(lines, size=(1200, 1200), width=6)
    start = time.process_time()
    regions = regions_of(ink)
    # 5,184 cells of 10 x 10 px between the lines, 2.8 square line widths each, are one hatched area.
    assert time.process_time() - start < 6.0
    (area,) = regions.areas
    assert area.area_mm2 == pytest.approx(115.2**2, rel=0.01)


def test_time_grows_slower_than_the_number_of_areas():
    def seconds(cells):
        edges = np.linspace(30, 1170, cells + 1)
        lines = [[(x, 30), (x, 1170)] for x in edges] + [[(30, y), (1170, y)] for y in edges]
        ink = drawn(lines, size=(1200, 1200), width=5)
        taken = []
        for _ in range(2):
            start = time.process_time()
            assert len(regions_of(ink).areas) == cells * cells
            taken.append(time.process_time() - start)
        return min(taken)

    # A hundred times as many areas.
    assert seconds(32) < 20 * seconds(3)
