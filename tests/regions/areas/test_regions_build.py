"""Areas: nesting, order, names, colours, rules; and edges that neighbours share."""

import re
from itertools import pairwise

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers_regions import circle, clean_ink, drawn, regions_of
from limner.errors import InputError
from limner.geometry.cycles import cycle_points
from limner.geometry.rings import inside_rings
from limner.model.raster import FlatPage
from limner.regions.areas.names import name_areas
from limner.regions.areas.sketch_colours import PALETTE, SOLID
from limner.regions.settings import AreaRule
from sketchmaker.outside import render_svg

BOX = [(60, 60), (340, 60), (340, 340), (60, 340), (60, 60)]
HALVED = [BOX, [(200, 60), (200, 340)]]
WITH_EYE = [*HALVED, circle(120, 200, 40)]


def by_point(regions, x, y):
    hits = [
        a
        for a in regions.areas
        if inside_rings(np.array([[x, y]]), [cycle_points(regions.graph.edges, a.outline)])[0]
    ]
    return min(hits, key=lambda area: area.area_mm2)


def test_rings_nest_ten_deep_and_lie_bottom_to_top():
    regions = regions_of(drawn([circle(400, 400, 35 * k) for k in range(1, 11)], size=(800, 800)))
    assert len(regions.areas) == 10
    assert [area.parent for area in regions.areas] == [None, *range(9)]
    assert [area.order for area in regions.areas] == list(range(10))
    for outer, inner in pairwise(regions.areas):
        assert outer.area_mm2 > inner.area_mm2 or len(inner.holes) == 0
    assert len(regions.silhouettes) == 1
    # Rings between circles: pi (R^2 - r^2).
    sizes = [np.pi * ((3.5 * k) ** 2 - (3.5 * (k - 1)) ** 2) for k in range(10, 0, -1)]
    assert [area.area_mm2 for area in regions.areas] == pytest.approx(sizes, rel=0.02)


def test_an_outer_area_runs_on_under_the_one_inside_it():
    regions = regions_of(drawn(WITH_EYE))
    eye = by_point(regions, 12, 20)
    face = regions.areas[eye.parent]
    assert len(face.holes) == 1
    assert face.order < eye.order
    assert inside_rings(np.array([eye.inside]), [cycle_points(regions.graph.edges, face.outline)])[0]


def test_separate_parts_have_a_silhouette_each():
    regions = regions_of(drawn([circle(100, 200, 60), circle(300, 200, 60)]))
    assert len(regions.silhouettes) == 2


def test_loops_that_touch_at_a_point_are_simple_closed_shapes():
    regions = regions_of(drawn([circle(140, 200, 60), circle(260, 200, 60)]))
    for cycle in [*(area.outline for area in regions.areas), *regions.silhouettes]:
        starts = [
            regions.graph.edges[edge].start if forward else regions.graph.edges[edge].end
            for edge, forward in cycle
        ]
        assert len(set(starts)) == len(starts)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.integers(4, 20))
def test_cycles_close_exactly_and_neighbours_share_their_edges(seed, count):
    rng = np.random.default_rng(seed)
    regions = regions_of(drawn(rng.uniform(20, 380, (count, 3, 2)), width=6))
    edges = regions.graph.edges
    users: dict[tuple[int, bool], int] = {}
    for number, area in enumerate(regions.areas):
        for cycle in (area.outline, *area.holes):
            for (edge, forward), (following, onward) in zip(cycle, cycle[1:] + cycle[:1], strict=True):
                last = edges[edge].points[-1 if forward else 0]
                first = edges[following].points[0 if onward else -1]
                # Bit for bit.
                assert last.tobytes() == first.tobytes()
                # One direction of an edge bounds one area only; the other direction its neighbour.
                assert users.setdefault((edge, forward), number) == number
        x, y = cycle_points(edges, area.outline).T
        assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0


def test_without_lines_no_background_shows_along_inner_edges():
    regions = regions_of(drawn([*WITH_EYE, [(60, 150), (200, 230), (340, 140)]], mm_per_px=0.05))
    edges = regions.graph.edges

    def path(cycle, fill):
        points = " ".join(f"{x:.6f},{y:.6f}" for x, y in cycle_points(edges, cycle))
        return f'<polygon points="{points}" fill="{fill}"/>'

    shapes = [path(cycle, "#00ff00") for cycle in regions.silhouettes]
    shapes += [path(area.outline, ("#0000ff", "#00ffff")[n % 2]) for n, area in enumerate(regions.areas)]
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20">{"".join(shapes)}</svg>'
    picture = render_svg(svg, 20 * 40, background="#ff0000")  # 40 px/mm
    inner = np.zeros(picture.shape[:2], np.uint8)
    for cycle in regions.silhouettes:
        cv2.fillPoly(inner, [np.round(cycle_points(edges, cycle) * 40).astype(np.int32)], 1)
    inner = cv2.erode(inner, np.ones((5, 5), np.uint8))
    assert inner.sum() > 100_000
    assert picture[..., 0][inner == 1].max() == 0


def test_the_same_sketch_gives_the_same_names_and_a_new_line_renames_no_other_area():
    once, again = regions_of(drawn(WITH_EYE)), regions_of(drawn(WITH_EYE))
    assert [area.name for area in once.areas] == [area.name for area in again.areas]
    assert by_point(once, 12, 20).name.endswith("-in")
    more = regions_of(drawn([*WITH_EYE, [(200, 200), (340, 200)]]))
    for x, y in ((12, 20), (7, 8)):
        assert by_point(more, x, y).name == by_point(once, x, y).name


def test_names_are_unique_and_say_where():
    names = name_areas([(5, 5), (6, 6), (95, 45), (5, 5)], [0, 0, 1, 0], [9, 8, 7, 6], (100, 50), [None] * 4)
    assert names == ["area-a1", "area-a1-b", "area-l6-in", "area-a1-c"]
    assert name_areas([(5, 5), (6, 6)], [0, 0], [9, 8], (9, 9), ["shell", "shell"]) == ["shell", "shell-2"]


def test_neighbours_get_different_tints():
    lines = [BOX] + [[(60 + 40 * k, 60), (60 + 40 * k, 340)] for k in range(1, 7)]
    lines += [[(60, 60 + 40 * k), (340, 60 + 40 * k)] for k in range(1, 7)]
    regions = regions_of(drawn(lines, width=5))
    users: dict[int, list[int]] = {}
    for number, area in enumerate(regions.areas):
        for edge, _ in area.outline:
            users.setdefault(edge, []).append(number)
    pairs = [pair for pair in users.values() if len(pair) == 2]
    assert len(pairs) >= 84
    assert all(regions.areas[a].fill != regions.areas[b].fill for a, b in pairs)
    assert {area.fill for area in regions.areas} <= set(PALETTE)


def test_a_solid_black_stays_black_where_lines_are_left_out():
    y, x = np.mgrid[:400, :400] + 0.5
    disc = np.hypot(x - 200, y - 200) < 60
    box = drawn([BOX]).coverage
    regions = regions_of(clean_ink(np.maximum(box, disc), 8.0, 0.1, solid=disc))
    assert [area.fill == SOLID for area in regions.areas] == [False, True]
    assert [area.inked for area in regions.areas] == [False, True]


def test_a_coloured_sketch_keeps_its_colours():
    ink = drawn(HALVED)
    colour = np.full((*ink.coverage.shape, 3), 250, np.uint8)
    colour[60:340, 60:200] = (200, 80, 60)
    page = FlatPage(1 - ink.coverage, colour, 0.1, np.eye(3), "width", "test")
    regions = regions_of(ink, page=page)
    assert by_point(regions, 12, 20).fill == "#c8503c"
    assert by_point(regions, 28, 20).fill in PALETTE


def test_rules_name_fill_order_and_smooth_the_area_around_their_point():
    rules = (
        AreaRule((12, 20), name="eye", fill="#123456", smoothing_mm=0.3, nodes=12),
        AreaRule((28, 20), name="cheek", order=-1),
    )
    regions = regions_of(drawn(WITH_EYE), area_rules=rules)
    eye = by_point(regions, 12, 20)
    assert (eye.name, eye.fill, eye.smoothing_mm, eye.nodes) == ("eye", "#123456", 0.3, 12)
    assert regions.areas[0].name == "cheek"


def test_an_area_knows_the_rule_that_hit_it():
    rules = (AreaRule((12, 20), name="eye", number=4), AreaRule((8, 8), number=5))
    regions = regions_of(drawn(WITH_EYE), area_rules=rules)
    assert {area.name: area.rule for area in regions.areas}["eye"] == 4
    assert by_point(regions, 8, 8).rule == 5
    assert all(area.rule is None for area in regions_of(drawn(WITH_EYE)).areas)


def test_of_two_rules_for_an_area_the_one_that_fills_it_is_known():
    filled, named = AreaRule((12, 20), fill="#c8503c", number=0), AreaRule((12, 21), name="eye", number=1)
    for rules in ((filled, named), (named, filled)):
        eye = by_point(regions_of(drawn(WITH_EYE), area_rules=rules), 12, 20)
        assert (eye.name, eye.fill, eye.rule) == ("eye", "#c8503c", 0)


@pytest.mark.parametrize(
    ("one", "other"), [({"name": "eye"}, {"name": "iris"}), ({"fill": "#c8503c"}, {"fill": "#ffffff"})]
)
def test_two_rules_that_contradict_each_other_are_refused(one, other):
    rules = (
        AreaRule((12, 20), number=3, **one),
        AreaRule((8, 8), number=4),
        AreaRule((12, 21), number=5, **other),
    )
    with pytest.raises(InputError, match=r"\(12\.0 mm, 21\.0 mm\) lies in the same area") as caught:
        regions_of(drawn(WITH_EYE), area_rules=rules)
    assert (caught.value.about, caught.value.other) == (("area", 5, "at"), ("area", 3, "at"))


def test_two_areas_of_one_name_become_one():
    rules = (AreaRule((8, 8), name="body"), AreaRule((28, 20), name="body", fill="#abcdef"))
    (area,) = regions_of(drawn(HALVED), area_rules=rules).areas
    assert (area.name, area.fill) == ("body", "#abcdef")
    assert area.area_mm2 == pytest.approx(28**2, rel=0.01)


def test_a_skipped_area_is_not_filled():
    regions = regions_of(drawn(WITH_EYE), area_rules=(AreaRule((12, 20), skip=True),))
    assert len(regions.areas) == 2


def test_a_point_in_no_area_names_the_nearest_one_and_a_point_in_it():
    with pytest.raises(InputError, match=r"lies in no area") as caught:
        regions_of(drawn(HALVED), area_rules=(AreaRule((38, 20), name="ear"),))
    message = str(caught.value)
    name, x, y = re.search(
        r'nearest one is "([\w-]+)"; write \(([\d.]+) mm, ([\d.]+) mm\) instead', message
    ).groups()
    right = by_point(regions_of(drawn(HALVED)), 28, 20)
    assert name == right.name
    assert by_point(regions_of(drawn(HALVED)), float(x), float(y)).name == name
    with pytest.raises(InputError, match="encloses none"):
        regions_of(drawn([[(50, 50), (300, 300)]]), area_rules=(AreaRule((5, 5)),))


def test_tiny_areas_are_folded_into_their_neighbour():
    notch = [(200, 190), (206, 200), (200, 210)]
    plain, with_notch = regions_of(drawn(HALVED, width=6)), regions_of(drawn([*HALVED, notch], width=6))
    assert len(with_notch.areas) == len(plain.areas) == 2
    assert sum(a.area_mm2 for a in with_notch.areas) == pytest.approx(
        sum(a.area_mm2 for a in plain.areas), rel=1e-3
    )


# Paper one line width wide between the two strokes of an outline, and three: common practice, no source.
@pytest.mark.parametrize(("apart", "areas"), [(16, 1), (32, 3)])
def test_paper_inside_an_outline_that_was_drawn_twice_is_no_area(apart, areas):
    outline = [circle(800, 800, 150), circle(800, 800, 150 - apart)]
    # The two short lines make two long pieces of what would be a ring.
    ends = [[(650, 800), (650 + apart, 800)], [(950 - apart, 800), (950, 800)]]
    regions = regions_of(drawn([*outline, *ends], size=(1600, 1600)))
    whole = np.pi * 15.0**2
    assert len(regions.areas) == areas
    assert sum(area.area_mm2 for area in regions.areas) == pytest.approx(whole, rel=0.02)
    assert len(regions.silhouettes) == 1


def test_a_short_slim_area_is_a_shape():
    # One line width wide inside, four long.
    slit = [(160, 192), (216, 192), (216, 208), (160, 208), (160, 192)]
    assert len(regions_of(drawn([BOX, slit])).areas) == 2
