"""Silhouettes: what a sticker's white base covers.

Method: the outer boundaries of the areas. Areas that are left open, so that what lies under the drawing
shows, are no part of it: at its rim the boundary goes around them, inside it they are openings.

Where the outline of a drawing stays open, the ink is closed by a generous radius (dilated by a disc, then
eroded by it: a morphological closing) and holes are filled. Where most of the ink of such a closed patch lies
outside all silhouettes that the lines themselves bound, the patch becomes a silhouette, too, closed by ever
larger discs until it is more than the lines themselves, and drawn in so that it ends under the lines. Its
outline is one edge of kind "guess", used by nothing else. Silhouettes that lie wholly in it are left out.

Limits: the silhouette of an open drawing is a guess: where the opening is wider than the disc, it runs along
the inside of the lines. A lone stroke gets one as wide as itself.
"""

from collections.abc import Collection, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.geometry.cycles import cycle_points
from limner.geometry.polylines import arc_lengths, points_at
from limner.geometry.rasters import fill_rings
from limner.geometry.rings import inside_rings
from limner.model.arrays import Flags, Floats
from limner.model.raster import ScaledInk
from limner.model.regionmap import Cycle, Edge, LineGraph
from limner.regions.faces.merging import outlines_of
from limner.regions.faces.walk import Faces
from limner.regions.ink_outlines import iso_lines

__all__ = ["add_silhouettes"]


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


def add_silhouettes(
    graph: LineGraph, faces: Faces, left_open: Collection[int], ink: ScaledInk
) -> tuple[LineGraph, tuple[Cycle, ...], tuple[Cycle, ...]]:
    """Find the silhouettes of a drawing.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    faces : Faces
        Faces of the graph.
    left_open : collection of int
        Faces that show what lies under the drawing.
    ink : ScaledInk
        The ink.

    Returns
    -------
    graph : LineGraph
        With an edge of kind "guess" at the end for each silhouette that no lines bound.
    silhouettes : tuple of Cycle
        Outer boundaries, positive.
    openings : tuple of Cycle
        Boundaries of what stays open inside them, negative.
    """
    bounded, holes = _bounded(graph, faces, left_open)
    outlines = [cycle_points(graph.edges, cycle) for cycle in bounded]
    guesses = _guesses(graph, [cycle_points(graph.edges, cycle) for cycle in faces.silhouettes], ink)
    kept = [
        cycle
        for cycle, outline in zip(bounded, outlines, strict=True)
        if not any(inside_rings(outline, [guess]).all() for guess in guesses)
    ]
    graph, guessed = _with_guesses(graph, guesses)
    silhouettes = (*kept, *guessed)
    rings = [cycle_points(graph.edges, cycle) for cycle in silhouettes]
    openings = [hole for hole in holes if _in_any(cycle_points(graph.edges, hole), rings)]
    return graph, silhouettes, tuple(openings)


def _bounded(graph: LineGraph, faces: Faces, left_open: Collection[int]) -> tuple[list[Cycle], list[Cycle]]:
    """Boundaries of what the areas cover, positive, and of what they leave open, negative."""
    if not left_open:
        return faces.silhouettes, []
    is_open = np.zeros(len(faces.faces) + 1, bool)
    is_open[list(left_open)] = True
    covered = ~is_open
    covered[-1] = False
    holes = [
        tuple((edge, not forward) for edge, forward in reversed(cycle))
        for cycle in outlines_of(graph, faces, is_open)
    ]
    return outlines_of(graph, faces, covered), holes


def _in_any(hole: Floats, rings: Sequence[Floats]) -> bool:
    """Whether a ring lies in one of several others, of whose sides some of its own may be parts."""
    return any(inside_rings(hole, [ring]).mean() > 0.5 for ring in rings)


def _guesses(graph: LineGraph, outlines: Sequence[Floats], ink: ScaledInk) -> list[Floats]:
    """Outlines, in millimetres, of the parts of a drawing that have no silhouette worth the name."""
    height, width = ink.coverage.shape
    factor = min(1.0, _WORKING_PX / max(height, width))
    size = (max(1, round(width * factor)), max(1, round(height * factor)))
    px_per_mm = np.array(size) / (np.array([width, height]) * ink.mm_per_px)
    drawn = cv2.resize(ink.coverage, size, interpolation=cv2.INTER_AREA) > _TOUCHED
    if not drawn.any():
        return []
    line_px = graph.line_width_mm * float(px_per_mm.mean())
    held = _held([outline * px_per_mm for outline in outlines], drawn.shape, line_px)
    spacing = _SPACING_WIDTHS * graph.line_width_mm
    return [_spaced(ring / px_per_mm, spacing) for ring in _patches(drawn, held, line_px)]


def _held(outlines: list[Floats], shape: tuple[int, int], line_px: float) -> Flags:
    """Pixels in the silhouettes or on their lines."""
    canvas = np.zeros(shape, np.uint8)
    for outline in outlines:
        fill_rings(canvas, [outline])
    reach = 2 * int(np.ceil(line_px)) + 1
    return cv2.dilate(canvas, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))) > 0


def _held_share(drawn: Flags, held: Flags) -> float:
    return float((drawn & held).sum() / max(int(drawn.sum()), 1))


def _patches(drawn: Flags, held: Flags, line_px: float) -> list[Floats]:
    """Outlines, in pixels, of the closed patches whose ink is mostly not held."""
    if _is_all_held(drawn, held):
        return []
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


def _is_all_held(drawn: Flags, held: Flags) -> bool:
    """Whether so much of each piece of ink is held that no patch of several can be mostly not."""
    _, piece = cv2.connectedComponents(drawn.view(np.uint8), connectivity=4)
    size = np.bincount(piece[drawn])
    return bool((np.bincount(piece[drawn & held], minlength=len(size)) >= _HELD_SHARE * size).all())


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
            rings = [points - 1.5 for points in iso_lines(values)]
            rings = [ring for ring in rings if _size(ring) > line_px**2]
            if rings:
                return rings
    return []


def _size(ring: Floats) -> float:
    x, y = ring.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2.0


def _spaced(ring: Floats, spacing: float) -> Floats:
    """The same closed polyline with evenly spaced points."""
    closed = np.concatenate([ring, ring[:1]])
    lengths = arc_lengths(closed)
    count = max(int(lengths[-1] / spacing), 12)
    return points_at(closed, lengths, np.linspace(0.0, lengths[-1], count + 1)[:-1])


def _with_guesses(graph: LineGraph, guesses: Sequence[Floats]) -> tuple[LineGraph, list[Cycle]]:
    """The graph with an edge around each guess, and the cycles along these."""
    nodes, edges = graph.nodes, list(graph.edges)
    cycles: list[Cycle] = []
    for guess in guesses:
        node = len(nodes)
        nodes = np.concatenate([nodes, guess[:1]])
        cycles.append(((len(edges), True),))
        points = np.concatenate([guess, guess[:1]])
        edges.append(Edge(points, np.zeros(len(points)), node, node, "guess"))
    return LineGraph(nodes, tuple(edges), graph.line_width_mm), cycles
