"""What the search for an axis looks at: points along the centrelines, and the free ends of lines."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats
from limner.model.raster import ScaledInk
from limner.model.regionmap import Edge, LineGraph

__all__ = ["Ends", "Samples", "line_ends", "line_samples"]


# Edges that are drawn, as against borders and bridges.
_DRAWN = ("line", "solid")

# Points along the whole drawing: enough for a hundredth of its size, few enough for all pairs.
SAMPLE_COUNT = 1400

# The direction of a line at its end is taken over this many line widths: less is ruled by how the pencil was
# set down, more by the bend of the line.
DIRECTION_WIDTHS = 3.0

# A tip is looked for up to this many line widths beyond the end of the centreline.
TIP_WIDTHS = 1.5


# A stroke shorter than this many of its own widths is a dot.
DOT_WIDTHS = 1.5

# Two ends that face each other nearer than this are a gap in one line, not ends of two.
FACING_WIDTHS, FACING_COS = 5.0, 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Points along all drawn lines, evenly spaced.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Millimetres.
    tangents : ndarray of float64, shape (n, 2)
        Unit directions of the lines there.
    widths : ndarray of float64, shape (n,)
        Width of the ink there, millimetres.
    size : float
        Larger side of the box around the drawing, millimetres.
    step : float
        Spacing, millimetres.
    """

    points: Floats
    tangents: Floats
    widths: Floats
    size: float
    step: float

    def only(self, use: NDArray[np.bool_]) -> "Samples":
        """Some of them, as a drawing of their own."""
        points = self.points[use]
        size = float(np.ptp(points, axis=0).max()) if len(points) else 0.0
        return Samples(points, self.tangents[use], self.widths[use], size, self.step)


@dataclass(frozen=True, slots=True, eq=False)
class Ends:
    """Free ends of lines.

    Parameters
    ----------
    tips : ndarray of float64, shape (n, 2)
        Where the ink ends, on the centreline, millimetres.
    outward : ndarray of float64, shape (n, 2)
        Unit direction in which the line was going.
    weight : ndarray of float64, shape (n,)
        0 to 1: less for short strokes, whose direction and meaning are doubtful; none for the two sides of
        a gap in a line.
    width : ndarray of float64, shape (n,)
        Width of the line there, millimetres.
    """

    tips: Floats
    outward: Floats
    weight: Floats
    width: Floats

    def only(self, use: NDArray[np.bool_]) -> "Ends":
        """Some of them."""
        return Ends(self.tips[use], self.outward[use], self.weight[use], self.width[use])


def line_samples(graph: LineGraph, count: int = SAMPLE_COUNT) -> Samples:
    """Spread points evenly along the drawn edges.

    Parameters
    ----------
    graph : LineGraph
        Centrelines.
    count : int
        About how many points.

    Returns
    -------
    Samples
        Empty where nothing is drawn.
    """
    edges = [_ringed(edge) for edge in graph.edges if edge.kind in _DRAWN]
    lengths = np.array([_length(edge.points) for edge in edges])
    total = float(lengths.sum()) if len(edges) else 0.0
    if total <= 0:
        return Samples(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), 0.0, 0.0)
    step = max(total / count, 1e-9)
    chord = max(step, graph.line_width_mm)
    parts = [
        _along(edge, (np.arange(amount) + 0.5) * (length / amount), chord)
        for edge, length in zip(edges, lengths.tolist(), strict=True)
        if (amount := round(length / step)) > 0
    ]
    points, tangents, widths = (np.concatenate([part[k] for part in parts]) for k in range(3))
    corners = np.concatenate([edge.points for edge in edges])
    return Samples(points, tangents, widths, float(np.ptp(corners, axis=0).max()), step)


def _ringed(edge: Edge) -> Edge:
    """A dot as the ring around it: the centreline of a dot has no direction of its own."""
    width = float(edge.width_mm.max())
    if edge.start == edge.end or _length(edge.points) > DOT_WIDTHS * width:
        return edge
    turn = np.linspace(0.0, 2 * np.pi, 25)
    middle = (edge.points.min(axis=0) + edge.points.max(axis=0)) / 2
    ring = middle + width / 2 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    ring[-1] = ring[0]
    return Edge(ring, np.full(len(ring), width), edge.start, edge.start, edge.kind)


def _length(points: Floats) -> float:
    step = np.diff(points, axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


def _along(edge: Edge, at: Floats, span: float) -> tuple[Floats, Floats, Floats]:
    """Points at arc lengths `at` of an edge, unit chords of length `span` about them, and widths."""
    step = np.diff(edge.points, axis=0)
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])

    def spot(where: Floats) -> Floats:
        return np.stack([np.interp(where, arc, edge.points[:, axis]) for axis in (0, 1)], axis=1)

    chord = spot(at + span / 2) - spot(at - span / 2)
    norm = np.hypot(chord[:, 0], chord[:, 1])
    flat = norm < 1e-12
    chord[flat], norm[flat] = (1.0, 0.0), 1.0
    return spot(at), chord / norm[:, None], np.interp(at, arc, edge.width_mm)


def line_ends(ink: ScaledInk, graph: LineGraph) -> Ends:
    """Free ends of the drawn lines, with the tips of their ink.

    Parameters
    ----------
    ink : ScaledInk
        Where the ink ends is read from its coverage.
    graph : LineGraph
        Centrelines in millimetres of the same raster.
    """
    degree = np.zeros(len(graph.nodes), int)
    for edge in graph.edges:
        np.add.at(degree, [edge.start, edge.end], 1)
    found = []
    for edge in graph.edges:
        if edge.kind in _DRAWN:
            found += [
                _end(edge, graph.line_width_mm, at_end)
                for at_end in (False, True)
                if degree[edge.end if at_end else edge.start] == 1
            ]
    if not found:
        return Ends(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    points, outward = np.array([f[0] for f in found]), np.array([f[1] for f in found])
    weight, width = np.array([f[2] for f in found]), np.array([f[3] for f in found])
    tips = _tips(ink, points, outward, TIP_WIDTHS * graph.line_width_mm)
    weight[_facing(tips, outward, FACING_WIDTHS * graph.line_width_mm)] = 0.0
    return Ends(tips, outward, weight, width)


def _end(edge: Edge, line_width: float, at_end: bool) -> tuple[Floats, Floats, float, float]:
    """Tip of the centreline, outward direction, weight and width at one end of an edge."""
    points = edge.points[::-1] if at_end else edge.points
    widths = edge.width_mm[::-1] if at_end else edge.width_mm
    step = np.diff(points, axis=0)
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
    # The very end of a centreline veers off in a rounded or cut tip: look a little behind it.
    behind = min(0.5 * line_width, 0.25 * float(arc[-1]))
    span = float(np.clip(arc[-1] - behind, 1e-9, DIRECTION_WIDTHS * line_width))
    at = behind + np.linspace(0.0, span, 13)
    spots = np.stack([np.interp(at, arc, points[:, axis]) for axis in (0, 1)], axis=1)
    # A parabola through what lies behind tells the heading at the tip of a line that bends.
    basis = np.stack([np.ones_like(at), at / span, (at / span) ** 2], axis=1)
    slope = np.linalg.lstsq(basis, spots, rcond=None)[0][1]
    norm = float(np.hypot(slope[0], slope[1]))
    outward = -slope / norm if norm > 1e-12 else (points[0] - points[-1]) / max(float(arc[-1]), 1e-9)
    weight = min(1.0, float(arc[-1]) / (4.0 * line_width))
    near = (arc >= behind) & (arc <= behind + span)
    # As far out as the centreline reaches, but sideways where the line behind was heading.
    tip = spots[0] + outward * float((points[0] - spots[0]) @ outward)
    return tip, outward, weight, float(np.median(widths[near] if near.any() else widths))


def _facing(tips: Floats, outward: Floats, apart_mm: float) -> NDArray[np.bool_]:
    """Ends that face another one close by: the two sides of a gap."""
    gap = tips[None] - tips[:, None]
    distance = np.hypot(gap[..., 0], gap[..., 1])
    opposed = outward @ outward.T < -FACING_COS
    ahead = (gap * outward[:, None]).sum(axis=2) > FACING_COS * distance
    # Tips that all but touch may lie a little past each other.
    faces = opposed & (distance < apart_mm) & (ahead | (distance < 0.2 * apart_mm))
    np.fill_diagonal(faces, False)
    return np.asarray((faces & faces.T).any(axis=1))


def _tips(ink: ScaledInk, points: Floats, outward: Floats, beyond_mm: float) -> Floats:
    """Where the coverage falls to one half, going outwards from each end, to a quarter of a pixel."""
    scale = ink.mm_per_px
    steps = np.arange(0.0, beyond_mm / scale + 0.25, 0.25)
    where = (points[:, None] + outward[:, None] * (steps * scale)[None, :, None]) / scale - 0.5
    across = where.astype(np.float32)
    cover = cv2.remap(
        ink.coverage, across[..., 0].copy(), across[..., 1].copy(), cv2.INTER_LINEAR, borderValue=0.0
    )
    inside = np.cumprod(cover >= 0.5, axis=1).sum(axis=1)
    return np.asarray(points + outward * (inside * 0.25 * scale)[:, None])
