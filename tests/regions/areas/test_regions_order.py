"""The stack of areas: what the user says comes first, then nesting, then size; and areas left out."""

import pytest

from helpers_regions import drawn, regions_of
from limner.regions.settings import AreaRule

# A box of 28 mm with a box of 10 mm in it, and beside it one of 5 mm: 40 mm wide.
OUTER = [(20, 60), (300, 60), (300, 340), (20, 340), (20, 60)]
INNER = [(60, 100), (160, 100), (160, 200), (60, 200), (60, 100)]
BESIDE = [(330, 60), (380, 60), (380, 110), (330, 110), (330, 60)]
POINTS = {"outer": (25.0, 30.0), "inner": (11.0, 15.0), "beside": (35.5, 8.5)}


def stack(lines=(OUTER, INNER, BESIDE), **rules):
    """Names from bottom to top; each rule is that of one area or of several."""
    given = []
    for name, point in POINTS.items():
        asked = rules.get(name, {})
        given += [
            AreaRule(point, **{"name": name, **one})
            for one in (asked if isinstance(asked, list) else [asked])
        ]
    return [area.name for area in regions_of(drawn(lines), area_rules=tuple(given)).areas]


def test_inner_ones_lie_above_outer_ones_and_small_ones_above_large_ones():
    # The box beside lies as deep as the outer one and is smaller; the inner one is the deepest.
    assert stack() == ["outer", "beside", "inner"]


def test_of_areas_side_by_side_the_larger_one_lies_below():
    left, right = (
        [(x, 60), (x + side, 60), (x + side, 60 + side), (x, 60 + side), (x, 60)]
        for x, side in ((20, 90), (200, 150))
    )
    areas = regions_of(drawn([left, right])).areas
    assert [area.area_mm2 for area in areas] == pytest.approx([225, 81], rel=0.02)


@pytest.mark.parametrize(
    ("rules", "wanted"),
    [
        ({"outer": {"order": 1}}, ["beside", "inner", "outer"]),
        ({"inner": {"order": -1}}, ["inner", "outer", "beside"]),
        ({"outer": {"order": 2}, "inner": {"order": 1}}, ["beside", "inner", "outer"]),
        ({"outer": {"order": 0}}, ["outer", "beside", "inner"]),
    ],
)
def test_an_order_wins_over_nesting_and_size(rules, wanted):
    assert stack(**rules) == wanted


@pytest.mark.parametrize("order", [1, -1])
def test_an_area_that_one_of_two_rules_leaves_out_is_left_out(order):
    rules = [{"skip": True}, {"fill": "#c04030"}][::order]
    assert stack(inner=rules) == ["outer", "beside"]
