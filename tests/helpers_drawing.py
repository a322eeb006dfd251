"""Small drawings made by hand, and checks of SVG files, for the tests of several parts."""

import re
from xml.etree import ElementTree

import numpy as np

from limner.geometry.cubics import polygon_path
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import CubicPath

SVG = "{http://www.w3.org/2000/svg}"
NUMBER = r"-?\d+(?:\.\d{1,3})?"
PAIR = rf"{NUMBER} {NUMBER}"
# The contract of `limner trace`: absolute M, C, L, closed subpaths, at most three decimals.
CONTRACT_PATH = re.compile(rf"(?:M{PAIR}(?:C{PAIR} {PAIR} {PAIR}|L{PAIR})+Z)+")


def square(x: float, y: float, side: float) -> CubicPath:
    """Axis-parallel square with its top left corner at (x, y)."""
    return polygon_path(np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]]))


def tide_pool_drawing(**changes: object) -> Drawing:
    """A base, one area and a frame of ink, 20 x 20 mm."""
    frame = (square(1, 1, 18), square(2, 2, 16))
    values: dict[str, object] = {
        "width_mm": 20.0,
        "height_mm": 20.0,
        "fills": (
            Shape("silhouette", "silhouette", (square(1.5, 1.5, 17),), "#ffffff", 0.01),
            Shape("shell", "area", (square(1.5, 1.5, 17),), "#e8b08a", 0.02, area_mm2=289.0, bridged_gaps=1),
        ),
        "lines": (Shape("line-1", "line", frame, "#1d1d1b", 0.03),),
        "line_width_mm": 1.0,
    }
    return Drawing(**{**values, **changes})  # type: ignore[arg-type]


def svg_paths(data: bytes, layer: str) -> list[ElementTree.Element]:
    """The paths in the layer of that id."""
    root = ElementTree.fromstring(data)
    return root.findall(f".//{SVG}g[@id='{layer}']/{SVG}path")


def node_count(path_data: str) -> int:
    """Number of segments, thus of nodes, that path data of the contract holds."""
    return len(re.findall("[CL]", path_data))
