"""From the skeleton's branches to sub-pixel edges.

Method: each branch is drawn towards the middle of the ink (`limner.regions.centrelines.middle`) and cut back
where a node's own disc of ink spoils that; nodes go to the point that their arms lead to, free ends to the
tip of the ink, and the sure part of each branch is joined to its two nodes.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Flags, Floats, Indices
from limner.model.regionmap import EdgeKind
from limner.regions.centrelines.middle import (
    CUT_END_RADII,
    CUT_RADII,
    DIRECTION_WIDTHS,
    Strands,
    centre,
    meet,
    tips,
)
from limner.regions.centrelines.skeleton import PixelGraph
from limner.regions.centrelines.working_ink import WorkingInk

__all__ = ["DrawnEdge", "DrawnGraph", "draw_edges"]

# Points nearer to a node than this, in line widths, are left to the straight way to it.
_CLEARANCE_WIDTHS = 0.25


class DrawnEdge(NamedTuple):
    """An edge in pixels of the working ink: its points and widths, its nodes, and what it is."""

    points: Floats
    width: Floats
    start: int
    end: int
    kind: EdgeKind


@dataclass(frozen=True, slots=True, eq=False)
class DrawnGraph:
    """A graph in pixels of the working ink.

    Parameters
    ----------
    nodes : ndarray of float64, shape (n, 2)
        Places (x, y).
    edges : list of DrawnEdge
        From node to node.
    around : list of list of int
        For each node its half-edges in clockwise order: 2 e where edge e starts, 2 e + 1 where it ends.
    """

    nodes: Floats
    edges: list[DrawnEdge]
    around: list[list[int]]


@dataclass(frozen=True, slots=True, eq=False)
class _Branches:
    """Branches of a skeleton end to end, and their nodes, counted anew.

    `raw` are the pixels' centres, `pixels` their flat indices, `ends` the two nodes of each branch, `degree`,
    `centres` and `node_radius` those of the nodes.
    """

    raw: Strands
    pixels: Indices
    ends: Indices
    degree: Indices
    centres: Floats
    node_radius: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Ends:
    """Both ends of every strand that is no loop: arms of junctions, or free."""

    node: Indices
    base: Floats
    direction: Floats
    weight: Floats


def draw_edges(graph: PixelGraph, radius: NDArray[np.float32], work: WorkingInk) -> DrawnGraph:
    """Turn the pixel graph into sub-pixel polylines.

    Parameters
    ----------
    graph : PixelGraph
        Skeleton of the ink.
    radius : ndarray of float32, shape (h, w)
        Distance from each ink pixel to the nearest paper.
    work : WorkingInk
        The ink.

    Returns
    -------
    DrawnGraph
    """
    numbers = sorted(graph.branches)
    if not numbers:
        return DrawnGraph(np.zeros((0, 2)), [], [])
    used, branches = _branches(graph, numbers, work.coverage.shape[1])
    raw, pixels, ends = branches.raw, branches.pixels, branches.ends
    local = radius.ravel()[pixels].astype(np.float64)
    strands, width, good = centre(raw, work.coverage, local, _trusted(branches), work.line_width)
    first, last = _sure_range(strands, good)
    nodes = _place_nodes(strands, branches, _ends(strands, ends, first, last, work.line_width), work.coverage)
    solid = work.solid.ravel()[pixels]
    edges: list[DrawnEdge] = []
    for number, (start, end) in enumerate(ends.tolist()):
        sure = slice(int(first[number]), int(last[number]) + 1)
        whole = slice(int(raw.offsets[number]), int(raw.offsets[number + 1]))
        points, widths = _between(
            nodes[[start, end]],
            strands.points[sure],
            width[sure],
            float(np.mean(width[whole])),
            _CLEARANCE_WIDTHS * work.line_width,
        )
        edges.append(DrawnEdge(points, widths, start, end, "solid" if solid[whole].mean() > 0.5 else "line"))
    rank = {number: place for place, number in enumerate(numbers)}
    around = [[2 * rank[half >> 1] + half % 2 for half in graph.around[node]] for node in used]
    return DrawnGraph(nodes, edges, around)


def _branches(graph: PixelGraph, numbers: list[int], width: int) -> tuple[list[int], _Branches]:
    """The branches of these numbers, and the graph's numbers of their nodes."""
    branches = [graph.branches[number] for number in numbers]
    used, ends = np.unique([(b.start, b.end) for b in branches], return_inverse=True)
    ends = ends.reshape(-1, 2)
    degree = np.bincount(ends.ravel(), minlength=len(used))
    loop = (ends[:, 0] == ends[:, 1]) & (degree[ends[:, 0]] == 2)
    pixels = np.concatenate([branch.pixels for branch in branches])
    offsets = np.concatenate([[0], np.cumsum([len(branch.pixels) for branch in branches])])
    row, column = np.divmod(pixels, width)
    raw = Strands(np.stack([column + 0.5, row + 0.5], axis=1), offsets, loop)
    centres, node_radius = graph.centres[used], graph.node_radius[used]
    return used.tolist(), _Branches(raw, pixels, ends, degree, centres, node_radius)


def _trusted(branches: _Branches) -> Flags:
    """Points that lie outside the discs of ink of their strand's two nodes."""
    strands, ends = branches.raw, branches.ends
    strand = strands.strand
    trusted = np.ones(len(strand), bool)
    step = np.zeros(len(strand))
    step[1:] = np.hypot(*np.diff(strands.points, axis=0).T)
    step[strands.offsets[:-1]] = 0.0
    walked = np.cumsum(step)
    walked_from = walked - walked[strands.first]
    walked_to = walked[strands.last] - walked
    factor = np.where(branches.degree == 1, CUT_END_RADII, CUT_RADII)
    for side, walk in ((0, walked_from), (1, walked_to)):
        node = ends[strand, side]
        cut = factor[node] * branches.node_radius[node]
        away = np.hypot(*(strands.points - branches.centres[node]).T)
        trusted &= (away > cut) | (walk > 3.0 * cut)
    return trusted | strands.loop[strand]


def _sure_range(strands: Strands, good: Flags) -> tuple[Indices, Indices]:
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


def _place_nodes(strands: Strands, branches: _Branches, arms: _Ends, coverage: NDArray[np.float32]) -> Floats:
    free = branches.degree[arms.node] == 1
    junction = ~free
    nodes = meet(
        branches.centres.copy(),
        branches.node_radius,
        arms.node[junction],
        arms.base[junction],
        arms.direction[junction],
        arms.weight[junction],
    )
    # The skeleton ends about a radius short of the tip; the base lies another half radius back.
    reach = 3.0 * branches.node_radius[arms.node[free]] + 2.0
    nodes[arms.node[free]] = tips(arms.base[free], arms.direction[free], coverage, reach)
    loops = np.flatnonzero(strands.loop)
    nodes[branches.ends[loops, 0]] = strands.points[strands.offsets[loops]]
    return nodes


def _between(
    nodes: Floats, points: Floats, width: Floats, typical: float, clearance: float
) -> tuple[Floats, Floats]:
    """Polyline from node to node through the sure points that are clear of both."""
    start, end = nodes
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
