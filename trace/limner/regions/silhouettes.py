"""The base of a drawing whose outline stays open: the last resort after bridges.

Method: the ink is closed by a generous radius (dilated by a disc, then eroded by it: a morphological closing)
and holes are filled. Where most of the ink of such a closed patch lies outside all silhouettes that the lines
themselves bound, the patch becomes a silhouette in their stead, closed by ever larger discs until it is more
than the lines themselves, and drawn in so that it ends under the lines. Its outline is
one edge of kind "bridge", used by nothing else.

Limits: the base of an open drawing is a guess: where the opening is wider than the disc, it runs along the
inside of the lines. A lone stroke gets a base as wide as itself.
"""

from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Flags, Floats
from limner.model.raster import ScaledInk
from limner.model.regionmap import Cycle, Edge, LineGraph
from limner.regions.faces.walk import Faces, cycle_points, inside_polygon
from limner.regions.ink_outlines import iso_lines

__all__ = ["with_base"]


# Radii of the disc as shares of the diagonal of the ink's bounding box. The first one closes openings up to a
# fifth of the drawing, four times what bridges span, and says what belongs together.
_RADIUS_SHARES = (0.1, 0.2, 0.3, 0.5, 1.0)

# A patch is more than its lines once what is left of it without all that is no wider than this ...
_BODY_WIDTHS = 3.0
# ... holds this share of them: beyond it are whiskers and limbs.
_BODY_SHARE = 0.9

# Silhouettes that hold less than this share of the ink hold the details rather than the drawing.
_HELD_SHARE = 0.5

# Longer side of the raster, in pixels: a pixel is then a fraction of a line width.
_WORKING_PX = 700

# Ink on the coarse raster: a pixel that a thin line crosses is covered by more than this.
_TOUCHED = 0.3

# How far inside of the outer side of a line the base ends, in line widths: beyond its middle, so that a line
# that sticks out leaves no thread, and short of its other side.
_INSET_WIDTHS = 0.65

# Points of the outline lie about this far apart, in line widths.
_SPACING_WIDTHS = 0.25


def with_base(graph: LineGraph, faces: Faces, ink: ScaledInk) -> tuple[LineGraph, list[Cycle]]:
    """Silhouettes for the parts of a drawing that have none worth the name.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    faces : Faces
        Faces of the graph, with the silhouettes that its edges bound.
    ink : ScaledInk
        The ink.

    Returns
    -------
    LineGraph
        With an edge of kind "bridge" at the end for each new silhouette.
    list of Cycle
        All silhouettes: those that lie in a new one are left out.
    """
    height, width = ink.coverage.shape
    factor = min(1.0, _WORKING_PX / max(height, width))
    size = (max(1, round(width * factor)), max(1, round(height * factor)))
    px_per_mm = np.array(size) / (np.array([width, height]) * ink.mm_per_px)
    drawn = cv2.resize(ink.coverage, size, interpolation=cv2.INTER_AREA) > _TOUCHED
    outlines = [cycle_points(graph.edges, cycle) for cycle in faces.silhouettes]
    line_px = graph.line_width_mm * float(px_per_mm.mean())
    if not drawn.any():
        return graph, faces.silhouettes
    new = _new_bases(drawn, _held(outlines, drawn.shape, px_per_mm, line_px), line_px)
    rings = [_spaced(ring / px_per_mm, _SPACING_WIDTHS * graph.line_width_mm) for ring in new]
    return _added(graph, faces.silhouettes, outlines, rings)


def _held(outlines: list[Floats], shape: tuple[int, int], px_per_mm: Floats, line_px: float) -> Flags:
    """Pixels in the silhouettes or on their lines."""
    canvas = np.zeros(shape, np.uint8)
    for outline in outlines:
        points = np.round((outline * px_per_mm - 0.5) * 16.0).astype(np.int32)
        cv2.fillPoly(canvas, [points], 1, cv2.LINE_8, 4)
    reach = 2 * int(np.ceil(line_px)) + 1
    return cv2.dilate(canvas, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))) > 0


def _held_share(drawn: Flags, held: Flags) -> float:
    return float((drawn & held).sum() / max(int(drawn.sum()), 1))


def _new_bases(drawn: Flags, held: Flags, line_px: float) -> list[Floats]:
    """Outlines, in pixels, of the closed patches whose ink is mostly not held."""
    rows, columns = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    diagonal = float(np.hypot(np.ptp(rows) + 1, np.ptp(columns) + 1))
    count, patch = cv2.connectedComponents(
        (_closing(drawn, _RADIUS_SHARES[0] * diagonal) > 0.0).view(np.uint8), connectivity=4
    )
    rings = []
    for number in range(1, count):
        mine = drawn & (patch == number)
        if mine.any() and _held_share(mine, held) < _HELD_SHARE:
            rings += _outline(_grown(mine, line_px), line_px)
    return rings


def _grown(drawn: Flags, line_px: float) -> NDArray[np.float32]:
    """Depth in the closing by the smallest disc that makes more of the lines than they are."""
    rows, columns = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    diagonal = float(np.hypot(np.ptp(rows) + 1, np.ptp(columns) + 1))
    half = _BODY_WIDTHS / 2.0 * line_px
    for share in _RADIUS_SHARES:
        depth = _closing(drawn, share * diagonal)
        core = depth > half
        if core.any() and _held_share(drawn, _distance(~core) <= half + 1.0) >= _BODY_SHARE:
            break
    return depth


def _closing(drawn: Flags, radius: float) -> NDArray[np.float32]:
    """Depth in the closing of some ink, without holes; negative outside."""
    margin = int(np.ceil(radius)) + 3
    near = _distance(~np.pad(drawn, margin)) <= radius
    depth = _distance(_filled(near)) - np.float32(radius)
    return depth[margin:-margin, margin:-margin]


def _distance(region: Flags) -> NDArray[np.float32]:
    """Distance of every pixel of a region from what is outside of it."""
    distance = cv2.distanceTransform(region.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(distance, np.float32)


def _filled(region: Flags) -> Flags:
    """A region without holes; its rim must be empty."""
    _, labels = cv2.connectedComponents((~region).view(np.uint8), connectivity=4)
    return np.asarray(labels != labels[0, 0])


def _outline(depth: NDArray[np.float32], line_px: float) -> list[Floats]:
    """Rings under the lines around a patch; at its edge where it is no wider than a line."""
    depth = np.pad(depth, 2, constant_values=-1.0)
    for inset in (_INSET_WIDTHS * line_px, 0.0):
        # The level lies half way up a slope two pixels wide.
        values = np.clip((depth - np.float32(inset)) / 2.0 + 0.5, 0.0, 1.0)
        values[[0, -1], :] = 0.0
        values[:, [0, -1]] = 0.0
        if (values >= 0.5).any():
            points, offsets, _ = iso_lines(values)
            rings = [points[a:b] - 1.5 for a, b in pairwise(offsets)]
            rings = [ring for ring in rings if _size(ring) > line_px**2]
            if rings:
                return rings
    return []


def _size(ring: Floats) -> float:
    x, y = ring.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2.0


def _spaced(ring: Floats, spacing: float) -> Floats:
    """Closed polyline with evenly spaced points, its first point repeated at the end."""
    closed = np.concatenate([ring, ring[:1]])
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    places = np.linspace(0.0, walked[-1], max(int(walked[-1] / spacing), 12) + 1)
    points = np.stack([np.interp(places, walked, closed[:, k]) for k in (0, 1)], axis=1)
    points[-1] = points[0]
    return points


def _added(
    graph: LineGraph, silhouettes: list[Cycle], outlines: list[Floats], rings: list[Floats]
) -> tuple[LineGraph, list[Cycle]]:
    kept = [
        cycle
        for cycle, outline in zip(silhouettes, outlines, strict=True)
        if not any(inside_polygon(outline[0], ring[:-1]) for ring in rings)
    ]
    nodes, edges = graph.nodes, list(graph.edges)
    for ring in rings:
        node = len(nodes)
        nodes = np.concatenate([nodes, ring[:1]])
        kept.append(((len(edges), True),))
        edges.append(Edge(ring, np.zeros(len(ring)), node, node, "bridge"))
    return LineGraph(nodes, tuple(edges), graph.line_width_mm), kept
