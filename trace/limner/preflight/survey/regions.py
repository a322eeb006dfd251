"""What shapes cover, and which colour lies on top where.

Regions are shapely polygons made of polylines within a hundredth of a millimetre of the curves.
"""

from collections.abc import Iterable, Sequence
from typing import Any

import shapely

from limner.geometry.cubics import flatten_all
from limner.model.colour import PressColour
from limner.model.geometry import CubicPath
from limner.model.sheet import ColouredShape

__all__ = ["Layer", "Region", "colours_under", "even_odd_region", "is_overprinting", "layers_of"]

Region = Any
"""A shapely polygon or several; shapely publishes no types."""

Layer = tuple[PressColour, Region]
"""A colour and where it prints."""

_FLAT_MM = 0.01  # a tenth of the smallest width that is looked for

_BLACK = (0.0, 0.0, 0.0, 100.0)

# What touches over less than a tenth of a millimetre square is a matter of rounding.
_LEAST_MM2 = 0.01


def even_odd_region(paths: Sequence[CubicPath]) -> Region:
    """What closed paths cover together by the even-odd rule."""
    rings = [ring for ring in flatten_all(paths, _FLAT_MM) if len(ring) > 2]
    if not rings:
        return shapely.Polygon()
    # GEOS makes a valid region of the lines; what an odd number of rings goes around lies inside of it.
    made = shapely.make_valid(shapely.MultiPolygon([shapely.Polygon(ring) for ring in rings]))
    return shapely.union_all([part for part in _parts(made) if part.area > 0])


def _parts(region: Region) -> list[Region]:
    """The polygons, lines and points of a region, however deep its collections nest."""
    if not hasattr(region, "geoms"):
        return [region]
    return [part for inner in region.geoms for part in _parts(inner)]


def is_overprinting(colour: PressColour) -> bool:
    """Whether lines and lettering of this colour print over what lies under them: full black of one ink."""
    return colour.cmyk == _BLACK


def layers_of(shapes: Iterable[ColouredShape]) -> list[Layer]:
    """Colours and regions of shapes that cover what lies under them, bottom to top."""
    return [(item.colour, even_odd_region(item.shape.paths)) for item in shapes]


def colours_under(region: Region, layers: Sequence[Layer]) -> dict[PressColour, Region]:
    """The parts of a region by the colour that lies right under them.

    Parameters
    ----------
    region : Polygon or MultiPolygon
        What lies above all layers.
    layers : sequence of Layer
        Bottom to top.

    Returns
    -------
    dict of PressColour to region
        Without those that hardly touch it.
    """
    rest, found = region, dict[PressColour, list[Region]]()
    for colour, covered in reversed(layers):
        part = rest.intersection(covered)
        if part.area > 0:
            found.setdefault(colour, []).append(part)
            rest = rest.difference(covered)
        if rest.is_empty:
            break
    joined = {colour: shapely.union_all(parts) for colour, parts in found.items()}
    return {colour: part for colour, part in joined.items() if part.area > _LEAST_MM2}
