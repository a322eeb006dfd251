"""How wide the faces of a planar map are inside: the radius of the largest disc between their lines.

Method: the lines are drawn on a small raster and every pixel gets its distance to them; a face's radius is
the largest distance among its pixels. Bridges are no lines here: a face that was merged with its neighbour
has the larger of the two radii, and taking a bridge out changes no other one.

Limits: radii are known to about a pixel of the raster.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.geometry.cycles import cycle_points
from limner.model.arrays import Floats
from limner.model.regionmap import LineGraph
from limner.regions.faces.walk import Faces

__all__ = ["inner_radii"]


# Longer side of the raster in pixels: a pixel is then a fraction of a line width.
_LONGER_SIDE_PX = 1000

# Fractional bits of the coordinates in which polygons and lines are drawn.
_SHIFT = 6


def inner_radii(graph: LineGraph, faces: Faces) -> Floats:
    """Radius of the largest disc inside of each face.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    faces : Faces
        Its faces.

    Returns
    -------
    ndarray of float64, shape (faces,)
        Millimetres, between the ink of the lines.
    """
    if not faces.faces:
        return np.zeros(0)
    points = np.concatenate([edge.points for edge in graph.edges])
    low, span = points.min(axis=0), np.ptp(points, axis=0)
    scale = _LONGER_SIDE_PX / max(float(span.max()), 1e-9)
    width, height = (int(side) + 3 for side in np.ceil(span * scale))
    paper = np.ones((height, width), np.uint8)
    for edge in graph.edges:
        if edge.kind != "bridge":
            cv2.polylines(paper, [_pixels(edge.points, low, scale)], False, 0, 1, cv2.LINE_8, _SHIFT)
    depth = cv2.distanceTransform(paper, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    labels = np.zeros((height, width), np.int32)
    for number in sorted(range(len(faces.faces)), key=lambda n: (faces.depth(n), n)):
        outline = _pixels(cycle_points(graph.edges, faces.faces[number].outline), low, scale)
        cv2.fillPoly(labels, [outline], number + 1, cv2.LINE_8, _SHIFT)
    deepest = np.zeros(len(faces.faces) + 1, np.float32)
    np.maximum.at(deepest, labels.ravel(), depth.ravel())
    return np.maximum(deepest[1:].astype(np.float64) / scale - graph.line_width_mm / 2.0, 0.0)


def _pixels(points: Floats, low: Floats, scale: float) -> NDArray[np.int32]:
    # A rim of one pixel; cv2 has pixel centres at whole numbers.
    return np.round(((points - low) * scale + 1.0) * 2.0**_SHIFT).astype(np.int32)
