"""What lies inside an area: its deepest point, and how much of it is ink.

Method: each area is painted into a small raster of its own and the distance of every pixel from the outline
measured there.

Limits: a place is known to about a seventieth of the area's size.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.geometry.cycles import cycle_points
from limner.geometry.rasters import fill_rings
from limner.model.arrays import Floats, Indices
from limner.model.raster import ScaledInk
from limner.model.regionmap import Edge
from limner.regions.faces.walk import Face

__all__ = ["deepest_point", "is_mostly_inked"]

# Longer side of an area's raster.
_RASTER_PX = 72

# Paper and ink count from so far inside of an area's lines: half their width lies in the area, and their
# edges waver by a fraction of it.
_BEYOND_LINES_WIDTHS = 0.25

# Where an area is nowhere so deep, its middle counts: what is deeper than this share of the deepest.
_MIDDLE_SHARE = 0.5

# A solid black is ink all over, but for paper that shines through the pencil; dense hatching, and an eye that
# its pupil all but fills, leave a third or more.
_INKED_SHARE = 0.75


@dataclass(frozen=True, slots=True, eq=False)
class _Raster:
    """Distance of each pixel from an area's outline, in pixels; 0 outside. `low` and `scale` lead back."""

    depth: NDArray[np.float32]
    low: Floats
    scale: float

    def to_mm(self, pixels: Indices) -> Floats:
        """Centres (x, y) of pixels (row, column), both of shape (n, 2)."""
        return np.asarray((pixels[:, ::-1] - 1.0) / self.scale + self.low)


def deepest_point(edges: Sequence[Edge], face: Face) -> tuple[float, float]:
    """The point (x, y) of a face that is farthest from its boundary, millimetres."""
    raster = _rastered(edges, face)
    x, y = raster.to_mm(np.array([np.unravel_index(raster.depth.argmax(), raster.depth.shape)]))[0]
    return float(x), float(y)


def is_mostly_inked(edges: Sequence[Edge], face: Face, ink: ScaledInk) -> bool:
    """Whether nearly all of a face, its own lines left aside, is ink: the inside of a solid black.

    Parameters
    ----------
    edges : sequence of Edge
        Edges of the map, millimetres.
    face : Face
        A face of it.
    ink : ScaledInk
        The ink of the whole page.
    """
    raster = _rastered(edges, face)
    width = np.mean([edges[edge].width_mm.mean() for edge, _ in face.outline])
    beyond = (width / 2.0 + _BEYOND_LINES_WIDTHS * ink.line_width_mm) * raster.scale
    inner = raster.depth > min(beyond, _MIDDLE_SHARE * float(raster.depth.max()))
    x, y = (raster.to_mm(np.argwhere(inner)) / ink.mm_per_px).astype(int).T
    height, width_px = ink.coverage.shape
    covered = ink.coverage[np.clip(y, 0, height - 1), np.clip(x, 0, width_px - 1)]
    return bool(len(covered) and covered.mean() >= _INKED_SHARE)


def _rastered(edges: Sequence[Edge], face: Face) -> _Raster:
    outline = cycle_points(edges, face.outline)
    low, high = outline.min(axis=0), outline.max(axis=0)
    scale = _RASTER_PX / max(float((high - low).max()), 1e-9)
    size = np.ceil((high - low) * scale).astype(int) + 3
    canvas = np.zeros((size[1], size[0]), np.uint8)
    fill_rings(canvas, [(outline - low) * scale + 1.5], 1)
    for hole in face.holes:
        fill_rings(canvas, [(cycle_points(edges, hole) - low) * scale + 1.5], 0)
    depth = cv2.distanceTransform(canvas, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return _Raster(np.asarray(depth, np.float32), low, scale)
