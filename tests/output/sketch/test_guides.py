"""The ruler of fractions and the names on a proof."""

import re

import numpy as np
import pytest

from limner.geometry.cubics import polygon_path
from limner.model.drawing import Shape
from limner.output.sketch.guides import names, ruler

PX = 0.1


def numbers(svg, anchor):
    """Places and numbers along the top ("middle") or the left edge ("start")."""
    found = re.findall(r'<text x="([^"]*)" y="([^"]*)" text-anchor="(\w+)">([\d.]+)</text>', svg)
    return [(float(x), float(y), float(n)) for x, y, how, n in found if how == anchor]


def test_numbers_stand_at_their_fraction_of_the_page():
    svg = ruler((0.0, 0.0, 120.0, 100.0), (20.0, 0.0, 100.0, 100.0), PX)
    along_top = numbers(svg, "middle")
    assert [n for *_, n in along_top] == [round(0.05 * k, 2) for k in range(21)]
    for x, _, fraction in along_top:
        assert x == pytest.approx(20.0 + 100.0 * fraction)
    assert [n for *_, n in numbers(svg, "start")] == [round(0.05 * k, 2) for k in range(21)]


def test_only_what_is_shown_is_numbered():
    svg = ruler((40.0, 30.0, 30.0, 20.0), (0.0, 0.0, 100.0, 100.0), 0.025)
    assert [n for *_, n in numbers(svg, "middle")] == [round(0.4 + 0.02 * k, 2) for k in range(16)]
    assert [n for *_, n in numbers(svg, "start")] == [round(0.3 + 0.02 * k, 2) for k in range(11)]


def square(name, x, y, side, role="area"):
    ring = np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]], float)
    return Shape(name, role, (polygon_path(ring),), "#ffffff", 0.0, side * side)


def test_large_areas_are_named_in_their_middle_and_small_ones_are_not():
    svg = names(
        [square("shell", 10, 10, 20), square("eye", 50, 50, 0.5), square("ink", 0, 0, 90, "line")], PX
    )
    texts = re.findall(r'<text x="(.*?)" y="(.*?)">(.*?)</text>', svg)
    assert [text for *_, text in texts] == ["shell"]
    assert float(texts[0][0]) == pytest.approx(20.0, abs=0.5)


def test_names_never_become_markup():
    assert "&lt;b&gt;" in names([square("<b>", 10, 10, 20)], PX)
