"""The proof of one sketch says the truth: its scale bar, its nodes, its bridges, its axis."""

import re
from dataclasses import dataclass
from xml.etree import ElementTree

import numpy as np
import pytest
import resvg_py

from helpers_drawing import SVG, square, tide_pool_drawing
from helpers_render import Pixels, decoded
from helpers_sheet import ellipse
from limner.model.drawing import Shape
from limner.model.geometry import Axis
from limner.model.raster import FlatPage
from limner.output.sketch.proof import trace_proof

# The drawing is 18 mm wide, and with the air around it its page of 20 mm is shown, on panels of 1200 pixels.
PX_PER_MM = 60.0
MARGIN_PX = 28.0

ORANGE = [0xF0, 0x8C, 0x00]
VIOLET = [0x70, 0x48, 0xE8]
WHITE = [255, 255, 255]
TEXT = [0x33, 0x31, 0x2C]

ROUND = ellipse(10.0, 10.0, 3.0, 2.0)
BRIDGE = np.array([[5.0, 16.5], [8.0, 16.5], [8.0, 14.0]])


@dataclass(frozen=True)
class Proof:
    """The picture, and the markup that it was rendered from."""

    picture: Pixels
    svg: ElementTree.Element

    def at(self, x_mm: float, y_mm: float, panel: int = 0) -> list[int]:
        """The pixel at a place of the drawing in the left panel (0) or in the right one (1)."""
        left = MARGIN_PX + panel * (20 * PX_PER_MM + MARGIN_PX)
        return self.picture[int(MARGIN_PX + y_mm * PX_PER_MM), int(left + x_mm * PX_PER_MM)].tolist()


@pytest.fixture(scope="module")
def proof():
    """A shape with smooth nodes, ink with corners, a bridge, an axis; a grey photograph at the right."""
    shell = Shape("shell", "area", (ROUND,), "#e8b08a", 0.01)
    frame = Shape("line-1", "line", (square(1, 1, 18), square(2, 2, 16)), "#1d1d1b", 0.0)
    axis = Axis(7.0, 3.0, 90.0, 1.0, "whole")
    drawing = tide_pool_drawing(fills=(shell,), lines=(frame,), axis=axis)
    grey = np.full((200, 100), 128, np.uint8)
    page = FlatPage(
        grey=grey.astype(np.float32) / 255,
        colour=np.dstack([grey] * 3),
        to_photo=np.eye(3),
        mm_per_px=0.1,
        scale_from="given",
        source="page.png",
    )
    texts = []
    with pytest.MonkeyPatch.context() as patch:
        render = resvg_py.svg_to_bytes
        patch.setattr(
            resvg_py, "svg_to_bytes", lambda **given: texts.append(given["svg_string"]) or render(**given)
        )
        picture = decoded(trace_proof(page, drawing, bridges=[BRIDGE], page_origin_mm=(10.0, 0.0)))
    return Proof(picture, ElementTree.fromstring(texts[0]))


def test_the_scale_bar_is_as_long_as_it_says(proof):
    said = [text.text for text in proof.svg.iter(f"{SVG}text") if re.fullmatch(r"[\d.]+ mm", text.text or "")]
    assert said == ["2 mm"]
    # Its horizontal stroke is the longest run of the text's colour at the right below the panels.
    below = proof.picture[int(2 * MARGIN_PX + 20 * PX_PER_MM) :, -400:]
    dark = np.abs(below.astype(int) - TEXT).max(axis=2) < 40
    # A pen of 2.4 pixels is added at the ends.
    assert dark.sum(axis=1).max() == pytest.approx(2 * PX_PER_MM + 2.4, abs=1.1)


def test_corners_are_squares_and_smooth_nodes_dots(proof):
    assert ROUND.smooth.all()
    (marks,) = (group for group in proof.svg.iter(f"{SVG}g") if group.get("stroke") == "#d6336c")
    dots = {(float(c.get("cx")), float(c.get("cy"))) for c in marks.iter(f"{SVG}circle")}
    squares = {
        tuple(round(float(r.get(side)) + float(r.get("width")) / 2, 3) for side in "xy")
        for r in marks.iter(f"{SVG}rect")
    }
    assert dots == {tuple(node) for node in np.round(ROUND.nodes, 3).tolist()}
    assert squares == {(x, y) for low, high in ((1, 19), (2, 18)) for x in (low, high) for y in (low, high)}


def test_the_legend_names_the_marks_as_they_are_drawn(proof):
    legend = [e for e in proof.svg.iter() if e.tag in (f"{SVG}circle", f"{SVG}rect", f"{SVG}text")]
    names = [e.text or e.tag.removeprefix(SVG) for e in legend]
    assert names[names.index("smooth node") - 1] == "circle"
    assert names[names.index("corner") - 1] == "rect"
    assert names[names.index("bridged gap") - 1] == "rect"
    assert legend[names.index("bridged gap") - 1].get("fill") == "#f08c00"


def test_bridges_are_drawn_over_the_sketch_alone(proof):
    for x, y in ((5.5, 16.5), (6.2, 16.5), (8.0, 16.0)):
        assert proof.at(x, y) == ORANGE
        assert proof.at(x, y, panel=1) == WHITE


def test_the_axis_is_drawn_where_it_is(proof):
    dashes = [proof.at(7.0, y) for y in np.linspace(3, 16, 400)]
    # Of its pattern of 14, 5, 3 and 5 pixels two parts are drawn: more than half of it.
    assert 200 < dashes.count(VIOLET) < 320
    assert [proof.at(13.0, y) for y in np.linspace(3, 16, 400)].count(VIOLET) == 0


def test_the_sketch_lies_where_its_page_does(proof):
    """A completed half needs a larger page: here the photograph begins in the middle of the drawing."""
    assert proof.at(9.5, 16.5) == WHITE
    assert proof.at(10.5, 16.5) == pytest.approx([128] * 3, abs=2)
