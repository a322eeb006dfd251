"""From ink to the graph of its centrelines.

Method: the ink is reduced until its lines are a few pixels wide (topology needs no more, and the coverage
keeps their edges known far below a pixel), pinholes of the grain are filled, solid blacks are hollowed out
so that their rim is a line like any other, and the rest is thinned (`limner.regions.centrelines.thinning`),
read as a graph and simplified (`limner.regions.centrelines.skeleton`) and drawn towards the middle of the
ink (`limner.regions.centrelines.middle`). The rim of a solid runs half a line width inside of its outline:
what is filled beside the solid is thus tucked under it.

Limits: two lines nearer than about a tenth of a line width become one.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats, Indices
from limner.model.raster import ScaledInk
from limner.model.regionmap import Edge, EdgeKind, LineGraph
from limner.regions.centrelines.middle import (
    CUT_END_RADII,
    CUT_RADII,
    DIRECTION_WIDTHS,
    Strands,
    centre,
    meet,
    tips,
)
from limner.regions.centrelines.skeleton import PixelGraph, pixel_graph
from limner.regions.centrelines.thinning import thin
from limner.regions.edits import without_points

__all__ = ["build_graph"]


_LEVEL = np.float32(0.5)

# Width of a line in pixels after reduction. At 8 pixels the edges are known to under a hundredth of a line
# width, and thinning costs next to nothing.
_WORKING_WIDTH_PX = 8.0

# Paper left inside the ink smaller than this is grain, in square line widths.
_PINHOLE_WIDTHS2 = 0.25

# The same in a solid black, where nothing so small is drawn.
_SOLID_HOLE_WIDTHS2 = 3.0

# A solid black is hollowed out where it is deeper than this: what remains is a rim as wide as a line.
_RIM_WIDTHS = 1.0

# Rays that put arms in order around a node, in line widths: too short to be seen.
_STAR_WIDTHS = 0.02

_MARGIN_PX = 3


@dataclass(frozen=True, slots=True, eq=False)
class _Working:
    """The reduced ink. `origin` and `factor` lead back: full = origin + factor * reduced."""

    coverage: NDArray[np.float32]
    solid: NDArray[np.bool_]
    line_width: float
    origin: Floats
    factor: int


def build_graph(ink: ScaledInk) -> LineGraph:
    """Find the centrelines of the ink.

    Parameters
    ----------
    ink : ScaledInk
        The ink.

    Returns
    -------
    LineGraph
        Nodes are junctions, free ends (at the tip of the ink) and one point of each loop without junction;
        edges run from node to node, spaced about a tenth of a line width, and never cross.
    """
    line_width_mm = ink.line_width_mm
    work = _reduce(ink)
    if work is None:
        return LineGraph(np.zeros((0, 2)), (), line_width_mm)
    coverage, mask = _without_pinholes(work)
    radius = _radius(mask)
    deep = work.solid & (radius > _RIM_WIDTHS * work.line_width)
    if deep.any():
        coverage, mask, radius = _hollow(coverage, mask, radius, work.line_width)
    graph = pixel_graph(thin(mask), radius)
    graph.prune(work.line_width)
    graph.merge_crossings(work.line_width)
    nodes, edges = _draw(graph, coverage, radius, work)
    scale = ink.mm_per_px
    limit = np.array([ink.coverage.shape[1], ink.coverage.shape[0]], dtype=np.float64)

    def to_mm(points: Floats) -> Floats:
        return np.clip(work.origin + work.factor * points, 0.0, limit) * scale

    edges_mm = (
        Edge(to_mm(points), width * work.factor * scale, start, end, kind)
        for points, width, start, end, kind in edges
    )
    return without_points(LineGraph(to_mm(nodes), tuple(edges_mm), line_width_mm))


def _reduce(ink: ScaledInk) -> _Working | None:
    """Cut the ink out and reduce it; None where there is none."""
    mask = ink.mask
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if len(rows) == 0:
        return None
    factor = max(1, int(ink.line_width_px / _WORKING_WIDTH_PX))
    top, bottom, left, right = int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1
    height, width = -(-(bottom - top) // factor), -(-(right - left) // factor)
    margin = _MARGIN_PX * factor

    def cut(field: NDArray[np.float32]) -> NDArray[np.float32]:
        padded = np.zeros((height * factor + 2 * margin, width * factor + 2 * margin), np.float32)
        padded[margin : margin + bottom - top, margin : margin + right - left] = field
        size = (width + 2 * _MARGIN_PX, height + 2 * _MARGIN_PX)
        return np.asarray(cv2.resize(padded, size, interpolation=cv2.INTER_AREA), np.float32)

    coverage = cut(ink.coverage[top:bottom, left:right])
    solid = cut(ink.solid[top:bottom, left:right].astype(np.float32)) >= _LEVEL
    origin = np.array([left - margin, top - margin], dtype=np.float64)
    return _Working(coverage, solid, ink.line_width_px / factor, origin, factor)


def _without_pinholes(work: _Working) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Coverage and mask with the paper's grain filled up: pinholes in lines, larger ones in solid blacks."""
    mask = work.coverage >= _LEVEL
    count, labels, stats, _ = cv2.connectedComponentsWithStats((~mask).view(np.uint8), connectivity=4)
    if count <= 1:
        return work.coverage, mask
    size = stats[:, cv2.CC_STAT_AREA]
    square = work.line_width**2
    small = size < _SOLID_HOLE_WIDTHS2 * square
    # Neither the ink, nor the rim without any that is all around: so a hole has neighbours on all sides.
    small[[0, labels[0, 0]]] = False
    if not small.any():
        return work.coverage, mask
    holes = np.flatnonzero(small[labels])
    hole = labels.ravel()[holes]
    beside, solid = np.zeros(count), np.zeros(count)
    flat_mask, flat_solid = mask.ravel(), work.solid.ravel()
    for step in (1, -1, mask.shape[1], -mask.shape[1]):
        there = holes + step
        edge = flat_mask[there]
        beside += np.bincount(hole[edge], minlength=count)
        solid += np.bincount(hole[edge], flat_solid[there[edge]], minlength=count)
    in_solid = solid > 0.5 * beside
    filled = small & (size < np.where(in_solid, _SOLID_HOLE_WIDTHS2, _PINHOLE_WIDTHS2) * square)
    if not filled.any():
        return work.coverage, mask
    grain = holes[filled[hole]]
    coverage = work.coverage.copy()
    coverage.ravel()[grain] = 1.0
    flat_mask[grain] = True
    return coverage, mask


def _hollow(
    coverage: NDArray[np.float32], mask: NDArray[np.bool_], radius: NDArray[np.float32], line_width: float
) -> tuple[NDArray[np.float32], NDArray[np.bool_], NDArray[np.float32]]:
    """Take the inside out of solid blacks; what is left of them is as wide as a line."""
    # Half a pixel to each side of the new edge: coverage stays smooth across it.
    rim = np.clip(_RIM_WIDTHS * line_width - radius + 0.5, 0.0, 1.0).astype(np.float32)
    coverage = np.minimum(coverage, rim)
    mask = mask & (rim >= _LEVEL)
    return coverage, mask, _radius(mask)


_DrawnEdge = tuple[Floats, Floats, int, int, EdgeKind]


def _radius(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Distance from each ink pixel to the nearest paper, in pixels."""
    distance = cv2.distanceTransform(mask.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(distance, np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class _Ends:
    """Both ends of every strand that is no loop: arms of junctions, or free."""

    node: Indices
    base: Floats
    direction: Floats
    weight: Floats


def _draw(
    graph: PixelGraph, coverage: NDArray[np.float32], radius: NDArray[np.float32], work: _Working
) -> tuple[Floats, list[_DrawnEdge]]:
    """Turn the pixel graph into sub-pixel polylines."""
    numbers = sorted(graph.branches)
    branches = [graph.branches[number] for number in numbers]
    if not branches:
        return np.zeros((0, 2)), []
    used, ends = np.unique([(b.start, b.end) for b in branches], return_inverse=True)
    ends = ends.reshape(-1, 2)
    degree = np.bincount(ends.ravel(), minlength=len(used))
    loop = (ends[:, 0] == ends[:, 1]) & (degree[ends[:, 0]] == 2)
    pixels = np.concatenate([branch.pixels for branch in branches])
    offsets = np.concatenate([[0], np.cumsum([len(branch.pixels) for branch in branches])])
    column, row = pixels % coverage.shape[1], pixels // coverage.shape[1]
    raw = Strands(np.stack([column + 0.5, row + 0.5], axis=1), offsets, loop)
    centres, node_radius = graph.centres[used], graph.node_radius[used]
    trusted = _trusted(raw, ends, degree, centres, node_radius)
    strands, width, good = centre(
        raw, coverage, radius.ravel()[pixels].astype(np.float64), trusted, work.line_width
    )
    first, last = _sure_range(strands, good)
    arms = _ends(strands, ends, first, last, work.line_width)
    nodes = _place_nodes(strands, ends, arms, degree, centres, node_radius, coverage)
    solid = work.solid.ravel()[pixels]
    edges: list[_DrawnEdge] = []
    for number in range(len(branches)):
        low, high = int(first[number]), int(last[number])
        start, end = (int(node) for node in ends[number])
        whole = slice(int(offsets[number]), int(offsets[number + 1]))
        kind: EdgeKind = "solid" if solid[whole].mean() > 0.5 else "line"
        points, widths = _between(
            nodes[start],
            nodes[end],
            strands.points[low : high + 1],
            width[low : high + 1],
            float(np.mean(width[whole])),
            0.25 * work.line_width,
        )
        edges.append((points, widths, start, end, kind))
    rank = {number: place for place, number in enumerate(numbers)}
    around = [[2 * rank[half >> 1] + half % 2 for half in graph.around[node]] for node in used.tolist()]
    _keep_order(nodes, edges, around, _STAR_WIDTHS * work.line_width)
    return nodes, edges


def _keep_order(nodes: Floats, edges: list[_DrawnEdge], around: list[list[int]], radius: float) -> None:
    """Make edges leave every node in the order in which the skeleton's branches do.

    Arms that run side by side may come out in the wrong order once they are drawn: such a node gets a tiny
    star whose rays have the right one.
    """
    for node, halves in enumerate(around):
        if len(halves) < 3:
            continue
        angles = []
        for half in halves:
            points = edges[half >> 1][0]
            x, y = points[1] - points[0] if half % 2 == 0 else points[-2] - points[-1]
            angles.append(np.arctan2(y, x))
        turns = np.diff(angles, append=angles[0]) % (2.0 * np.pi)
        if turns.min() > 1e-6 and turns.sum() < 2.0 * np.pi + 1e-6:
            continue
        for place, half in enumerate(halves):
            angle = angles[0] + 2.0 * np.pi * place / len(halves)
            ray = nodes[node] + radius * np.array([np.cos(angle), np.sin(angle)])
            points, width, start, end, kind = edges[half >> 1]
            at = 1 if half % 2 == 0 else len(points) - 1
            edges[half >> 1] = (
                np.insert(points, at, ray, axis=0),
                np.insert(width, at, width[at - 1]),
                start,
                end,
                kind,
            )


def _trusted(
    strands: Strands, ends: Indices, degree: Indices, centres: Floats, node_radius: Floats
) -> NDArray[np.bool_]:
    """Points that lie outside the discs of ink of their strand's two nodes."""
    strand = strands.strand
    trusted = np.ones(len(strand), bool)
    step = np.zeros(len(strand))
    step[1:] = np.hypot(*np.diff(strands.points, axis=0).T)
    step[strands.offsets[:-1]] = 0.0
    walked = np.cumsum(step)
    walked_from = walked - walked[strands.first]
    walked_to = walked[strands.last] - walked
    factor = np.where(degree == 1, CUT_END_RADII, CUT_RADII)
    for side, walk in ((0, walked_from), (1, walked_to)):
        node = ends[strand, side]
        cut = factor[node] * node_radius[node]
        away = np.hypot(*(strands.points - centres[node]).T)
        trusted &= (away > cut) | (walk > 3.0 * cut)
    return trusted | strands.loop[strand]


def _sure_range(strands: Strands, good: NDArray[np.bool_]) -> tuple[Indices, Indices]:
    """First and last sure point of each strand; first > last where there is none."""
    index = np.arange(len(good))
    starts = strands.offsets[:-1]
    first = np.minimum.reduceat(np.where(good, index, len(good)), starts)
    last = np.maximum.reduceat(np.where(good, index, -1), starts)
    return (
        np.where(strands.loop, starts, first),
        np.where(strands.loop, strands.offsets[1:] - 1, last),
    )


def _ends(strands: Strands, ends: Indices, first: Indices, last: Indices, line_width: float) -> _Ends:
    """Bases and directions of the ends of all strands that have sure points."""
    number = np.flatnonzero(~strands.loop & (last > first))
    span = np.minimum(last - first, max(2, round(DIRECTION_WIDTHS * line_width)))[number]
    parts = []
    for side, base, sign in ((0, first[number], 1), (1, last[number], -1)):
        near = strands.points[base]
        middle = strands.points[base + sign * (span // 2)]
        far = strands.points[base + sign * span]
        # The chord, turned half way towards the tangent of the parabola through the three points: a
        # full turn would follow the grain.
        bend = 2.0 * middle - near - far
        direction = near - far - np.where(span[:, None] >= 4, bend, 0.0)
        length = np.hypot(direction[:, 0], direction[:, 1])
        direction = direction / np.maximum(length, 1e-9)[:, None]
        parts.append((ends[number, side], near, direction))
    full = max(2, round(DIRECTION_WIDTHS * line_width))
    return _Ends(
        np.concatenate([part[0] for part in parts]),
        np.concatenate([part[1] for part in parts]),
        np.concatenate([part[2] for part in parts]),
        np.concatenate([span, span]) / full,
    )


def _place_nodes(
    strands: Strands,
    ends: Indices,
    arms: _Ends,
    degree: Indices,
    centres: Floats,
    node_radius: Floats,
    coverage: NDArray[np.float32],
) -> Floats:
    nodes = centres.copy()
    free = degree[arms.node] == 1
    junction = ~free
    nodes = meet(
        nodes,
        node_radius,
        arms.node[junction],
        arms.base[junction],
        arms.direction[junction],
        arms.weight[junction],
    )
    # The skeleton ends about a radius short of the tip; the base lies another half radius back.
    reach = 3.0 * node_radius[arms.node[free]] + 2.0
    nodes[arms.node[free]] = tips(arms.base[free], arms.direction[free], coverage, reach)
    loops = np.flatnonzero(strands.loop)
    nodes[ends[loops, 0]] = strands.points[strands.offsets[loops]]
    return nodes


def _between(
    start: Floats, end: Floats, points: Floats, width: Floats, typical: float, clearance: float
) -> tuple[Floats, Floats]:
    """Polyline from node to node through the sure points that are clear of both."""
    if len(points):
        from_start = np.hypot(*(points - start).T) >= clearance
        from_end = np.hypot(*(points - end).T) >= clearance
        low = int(from_start.argmax()) if from_start.any() else len(points)
        high = len(points) - int(from_end[::-1].argmax()) if from_end.any() else 0
        points, width = points[low:high], width[low:high]
    if len(points) == 0:
        return np.stack([start, end]), np.full(2, typical)
    return (
        np.concatenate([start[None], points, end[None]]),
        np.concatenate([width[:1], width, width[-1:]]),
    )
