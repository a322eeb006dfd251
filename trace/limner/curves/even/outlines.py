"""Lines as an inker would draw them: rebuilt from their centrelines with a steady width.

Each stroke of the drawing (see `limner.curves.even.strokes`) gets a smooth centreline within the smoothing,
and the drawn width, freed from the blots at junctions and steadied along the stroke. Where the pencil was
lifted towards a free end the line tapers to a point, elsewhere it ends round, unless all free ends are to
run out into points. The outline of a connected piece of ink is the union of its strokes, so that joints are
clean whatever meets in them, fitted like any other outline. Solid blacks and dots stay as drawn.

Limits: a stroke's ink is taken to lie evenly on both sides of its centreline, so that a chisel-shaped mark
becomes a round-ended one.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from limner.curves.data.resampling import noise_of
from limner.curves.even.strokes import Stroke, find_strokes
from limner.curves.fit.kept import FitStore
from limner.curves.fit.polylines import Fit, Polyline
from limner.curves.fit.task import NOISE_SIGMAS
from limner.curves.marks.edit import edited_graph
from limner.curves.marks.places import smooth_marks_near
from limner.curves.settings import CurveSettings
from limner.curves.smoothing import FOLLOW_LINE_WIDTHS, gradual, smoothing_at
from limner.geometry.cubics import flatten
from limner.geometry.polylines import arc_lengths, heading
from limner.model.arrays import Floats
from limner.model.drawing import Shape, ShapeRole, Zone
from limner.model.regionmap import InkRing, RegionMap

__all__ = ["even_lines", "steady_width"]


# Widths are read apart from the blots at junctions, which reach about this far.
BLOT_LINE_WIDTHS = 1.2

# A hand presses evenly over a few line widths; shorter changes of width are the pencil's, not the hand's.
STEADY_LINE_WIDTHS = 4.0

# A width that only half of so many samples, four to a line width, share is a spike.
SPIKE_SAMPLES = 9

# How much of the hand's own slow changes of pressure stays: all of it looks unsteady once it is black.
KEPT_PRESSURE = 0.6

# A free end that has shrunk below this share of its stroke's width was lifted off: it tapers.
TAPER_BELOW = 0.72

# A taper takes at most this share of its stroke, and at least a length that looks like a lifted pencil.
LONGEST_TAPER = 0.4
SHORTEST_TAPER_LINE_WIDTHS = 3.0

# Where free ends are to run out into a point they do so over this share of their stroke, but over no more
# than so many line widths: a whisker thins all the way, a long contour only at its end.
RUN_OUT_OF_BOTH_ENDS, RUN_OUT_OF_ONE_END = 0.45, 0.6
LONGEST_RUN_OUT_LINE_WIDTHS = 12.0

# A mark that is no longer than this is a dot, which has no centreline worth rebuilding.
LONGEST_DOT_LINE_WIDTHS = 3.0

# Flattening errors far below what a press can show, and below any smoothing in use.
FLATTENING_MM = 0.004

# A disc of 32 corners lies within 0.5 % of its radius of the true circle: a micrometre for a pencil line.
DISC_CORNERS = 32

# Points along the outline handed to the fitter, per line width.
OUTLINE_STEP_LINE_WIDTHS = 0.12

# The rebuilt outline is free of noise: fitting it at a part of the smoothing costs few nodes, and keeps
# the two sides of a line parallel.
OUTLINE_SHARE_OF_SMOOTHING = 0.35
# ... and its centreline with the rest, so that both together hold the smoothing.
CENTRELINE_SHARE_OF_SMOOTHING = 1.0 - OUTLINE_SHARE_OF_SMOOTHING


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """Rings of one connected piece of ink, what it is, and how far it is from what was drawn."""

    rings: list[Floats]
    role: ShapeRole
    rebuilt: bool
    error_mm: float


def even_lines(
    regions: RegionMap,
    settings: CurveSettings,
    zones: tuple[Zone, ...] = (),
    known: FitStore | None = None,
) -> tuple[Shape, ...]:
    """Rebuild all drawn lines with a steady width.

    Parameters
    ----------
    regions : RegionMap
        Its lines and bridges in ink are rebuilt; pieces of ink without any stay as drawn.
    settings : CurveSettings
        Smoothing and colour.
    zones : tuple of Zone
        Parts of the page with their own smoothing.
    known : FitStore or None
        Fits that need not be worked out again.

    Returns
    -------
    tuple of Shape
        Lines first, then solid blacks, each from top to bottom of the page. The error of a line is that of
        its centreline and of its outline, added up.
    """
    known = known or FitStore()
    regions = replace(regions, graph=edited_graph(regions.graph, regions.marks))
    pieces = _pieces(regions, settings, zones, known)
    lines = [
        Polyline(
            ring,
            _tolerance(ring, piece, settings, zones, regions.graph.line_width_mm),
            True,
            0.0 if piece.rebuilt else None,
            nodes_at_changes=False,
            marks=smooth_marks_near(ring, regions.marks),
        )
        for piece in pieces
        for ring in piece.rings
    ]
    fits = iter(known.fits(lines))
    counts: Counter[str] = Counter()
    shapes = []
    for piece in pieces:
        mine = [next(fits) for _ in piece.rings]
        counts[piece.role] += 1
        name = f"{piece.role}-{counts[piece.role]}"
        shapes.append(_shape(name, piece, mine, settings.line_fill))
    return tuple(shapes)


def _shape(name: str, piece: _Piece, fits: Sequence[Fit], fill: str) -> Shape:
    error = piece.error_mm + max(fit.error_mm for fit in fits)
    return Shape(name, piece.role, tuple(fit.path for fit in fits), fill, error)


def _tolerance(
    ring: Floats, piece: _Piece, settings: CurveSettings, zones: tuple[Zone, ...], line_width_mm: float
) -> Floats:
    allowed = gradual(ring, smoothing_at(ring, settings.smoothing_mm, zones), True, line_width_mm)
    return allowed * OUTLINE_SHARE_OF_SMOOTHING if piece.rebuilt else allowed


def _pieces(
    regions: RegionMap, settings: CurveSettings, zones: tuple[Zone, ...], known: FitStore
) -> list[_Piece]:
    """All pieces of ink: those with strokes rebuilt, the others as drawn."""
    strokes = [stroke for stroke in find_strokes(regions.graph) if len(stroke.points) > 1]
    width = regions.graph.line_width_mm
    asked = [
        (s, gradual(s.points, smoothing_at(s.points, settings.smoothing_mm, zones), s.closed, width))
        for s in strokes
    ]
    follow_mm = CENTRELINE_SHARE_OF_SMOOTHING * FOLLOW_LINE_WIDTHS * regions.graph.line_width_mm
    centrelines = [_centreline(stroke, allowed) for stroke, allowed in asked]
    fits = known.fits([replace(line, follow_mm=follow_mm) for line in centrelines])
    runs_out = settings.lines == "tapered"
    drawn: dict[int, list[InkRing]] = {}
    for ring in regions.ink:
        drawn.setdefault(ring.piece, []).append(ring)
    home = _home_of(strokes, drawn)
    blacks = _solids(regions)
    pieces = []
    for number, rings in drawn.items():
        mine = [k for k, piece in enumerate(home) if piece == number]
        if rings[0].solid or not mine or _is_dot(rings[0].points, regions.graph.line_width_mm):
            role: ShapeRole = "solid" if rings[0].solid else "line"
            pieces.append(_Piece([ring.points for ring in rings], role, False, 0.0))
            continue
        parts = [part for k in mine for part in _capsules(strokes[k], fits[k], width, runs_out=runs_out)]
        inked = shapely.Polygon(rings[0].points)
        parts += [black for black in blacks if shapely.intersects(black, inked)]
        error = max(fits[k].error_mm for k in mine)
        step = OUTLINE_STEP_LINE_WIDTHS * width
        pieces += [_Piece(outlines, "line", True, error) for outlines in _outlines(parts, step)]
    return sorted(
        pieces, key=lambda piece: (piece.role == "solid", *piece.rings[0].min(axis=0)[::-1].tolist())
    )


def _centreline(stroke: Stroke, allowed: Floats) -> Polyline:
    """A stroke's centreline with its share of the smoothing, which noise must not stretch."""
    tolerance = CENTRELINE_SHARE_OF_SMOOTHING * allowed
    noise = min(noise_of(stroke.points, stroke.closed), float(tolerance.min()) / NOISE_SIGMAS)
    return Polyline(stroke.points, tolerance, stroke.closed, noise, nodes_at_changes=False)


def _is_dot(ring: Floats, line_width_mm: float) -> bool:
    size = ring.max(axis=0) - ring.min(axis=0)
    return bool(np.hypot(*size) <= LONGEST_DOT_LINE_WIDTHS * line_width_mm)


def _home_of(strokes: Sequence[Stroke], drawn: dict[int, list[InkRing]]) -> list[int]:
    """The piece of ink that each stroke runs in."""
    if not strokes or not drawn:
        return []
    numbers = list(drawn)
    tree = shapely.STRtree([_polygon(rings) for rings in drawn.values()])
    middles = shapely.points([stroke.points[len(stroke.points) // 2] for stroke in strokes])
    return [numbers[k] for k in tree.nearest(middles).tolist()]


def _polygon(rings: Sequence[InkRing]) -> shapely.Geometry:
    outer, *holes = (ring.points for ring in rings)
    return shapely.make_valid(shapely.Polygon(outer, [hole for hole in holes if len(hole) > 2]))


def _solids(regions: RegionMap) -> list[shapely.Geometry]:
    """Solid blacks inside of pieces that hold lines too, out to the outline of their ink."""
    rims = [edge for edge in regions.graph.edges if edge.kind == "solid"]
    if not rims:
        return []
    half_width = float(np.median(np.concatenate([edge.width_mm for edge in rims]))) / 2
    filled = shapely.polygonize([shapely.LineString(edge.points) for edge in rims])
    return [shapely.buffer(shapely.Polygon(part.exterior), half_width) for part in shapely.get_parts(filled)]


def steady_width(stroke: Stroke, line_width_mm: float, *, runs_out: bool = False) -> Floats:
    """Width along a stroke as a steady hand would have drawn it.

    Parameters
    ----------
    stroke : Stroke
        The drawn stroke.
    line_width_mm : float
        Typical width of the drawing's lines.
    runs_out : bool
        Whether every free end tapers, not only one that was lifted off.

    Returns
    -------
    ndarray, shape (n,)
        Millimetres; falls to zero at a tapered end.
    """
    along = arc_lengths(stroke.points)
    step = line_width_mm / 4
    even = np.arange(0.0, along[-1] + step, step)
    width = np.interp(even, *_away_from_blots(along, stroke, line_width_mm))
    padded = _padded(width, SPIKE_SAMPLES // 2, stroke.closed)
    width = np.median(np.lib.stride_tricks.sliding_window_view(padded, SPIKE_SAMPLES), axis=1)
    drawn = _smooth(width, STEADY_LINE_WIDTHS * line_width_mm / step, stroke.closed)
    middle = float(np.median(width))
    steady = middle + KEPT_PRESSURE * (drawn - middle)
    for at_start, free in zip((True, False), stroke.free, strict=True):
        if free and not stroke.closed:
            if runs_out:
                steady = steady * _run_out(along[-1], even, stroke.free, line_width_mm, at_start=at_start)
            else:
                steady = steady * _taper(width, even, line_width_mm, at_start=at_start)
    return np.asarray(np.interp(along, even, steady))


def _padded(values: Floats, by: int, closed: bool) -> Floats:
    """Values with so many more at both ends: from the other end where they are closed, else the last ones."""
    index = np.arange(-by, len(values) + by)
    return values[index % len(values) if closed else np.clip(index, 0, len(values) - 1)]


def _smooth(values: Floats, sigma: float, closed: bool) -> Floats:
    """Values smoothed by a Gaussian with so many of them as its standard deviation."""
    reach = int(4.0 * sigma + 0.5)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    return np.convolve(_padded(values, reach, closed), kernel / kernel.sum(), "valid")


def _away_from_blots(along: Floats, stroke: Stroke, line_width_mm: float) -> tuple[Floats, Floats]:
    """Positions and widths without those near ends that are junctions (or all, if that is all)."""
    reach = BLOT_LINE_WIDTHS * line_width_mm
    first = 0.0 if stroke.closed or stroke.free[0] else reach
    last = along[-1] if stroke.closed or stroke.free[1] else along[-1] - reach
    keep = (along >= first) & (along <= last)
    if not keep.any():
        return along, np.minimum(stroke.width_mm, line_width_mm)
    return along[keep], stroke.width_mm[keep]


def _taper(width: Floats, even: Floats, line_width_mm: float, *, at_start: bool) -> Floats:
    """Factor along the stroke that brings a lifted end to a point; 1 where the end was not lifted."""
    profile = width if at_start else width[::-1]
    middle = float(np.median(width))
    # The last half line width of any mark is its round end: the width is read behind it.
    behind = round(0.75 * line_width_mm / even[1]) if len(even) > 1 else len(even)
    if len(profile) <= behind + 1 or profile[behind] > TAPER_BELOW * middle:
        return np.ones(len(width))
    full = int(np.argmax(profile[behind:] >= 0.95 * middle)) + behind
    reach = max(float(even[full]), SHORTEST_TAPER_LINE_WIDTHS * line_width_mm)
    reach = min(reach, LONGEST_TAPER * float(even[-1]))
    return _thinned(even, reach, at_start=at_start)


def _run_out(
    length: float, even: Floats, free: tuple[bool, bool], line_width_mm: float, *, at_start: bool
) -> Floats:
    """Factor along a stroke of that length that lets one end of it run out into a point."""
    share = RUN_OUT_OF_BOTH_ENDS if all(free) else RUN_OUT_OF_ONE_END
    return _thinned(even, min(share * length, LONGEST_RUN_OUT_LINE_WIDTHS * line_width_mm), at_start=at_start)


def _thinned(even: Floats, reach: float, *, at_start: bool) -> Floats:
    """Factor that falls to zero at one end over a reach."""
    # Half a sine: a pencil leaves the paper in a smooth move, and the tip keeps some body.
    factor = np.sin(0.5 * np.pi * np.clip(even / reach, 0.0, 1.0))
    return np.asarray(factor if at_start else factor[::-1])


def _capsules(stroke: Stroke, fit: Fit, line_width_mm: float, *, runs_out: bool) -> list[shapely.Geometry]:
    """Discs along the smooth centreline, each hulled with the next one."""
    centre = flatten(fit.path, FLATTENING_MM)
    if stroke.closed:
        centre = np.concatenate([centre, centre[:1]])
    elif runs_out:
        centre = _to_the_tips(centre, stroke, line_width_mm)
    # What is straight has a width along it all the same.
    centre = shapely.get_coordinates(shapely.segmentize(shapely.LineString(centre), line_width_mm))
    drawn, fitted = arc_lengths(stroke.points), arc_lengths(centre)
    steady = steady_width(stroke, line_width_mm, runs_out=runs_out)
    width = np.interp(fitted * (drawn[-1] / fitted[-1]), drawn, steady)
    radius = np.maximum(width / 2, FLATTENING_MM)
    angle = np.linspace(0.0, 2 * np.pi, DISC_CORNERS, endpoint=False)
    discs = centre[:, None] + radius[:, None, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return list(shapely.convex_hull(shapely.multipoints(np.concatenate([discs[:-1], discs[1:]], axis=1))))


def _to_the_tips(centre: Floats, stroke: Stroke, line_width_mm: float) -> Floats:
    """A centreline led on to where the ink of its free ends ends: half a width farther."""
    beyond = 0.5 * float(np.median(stroke.width_mm))
    first, last = (row[:1] - beyond * heading(row, line_width_mm) for row in (centre, centre[::-1]))
    parts = [first] * stroke.free[0] + [centre] + [last] * stroke.free[1]
    return np.concatenate(parts)


def _outlines(parts: Sequence[shapely.Geometry], step_mm: float) -> list[list[Floats]]:
    """Rings of the union, a list per piece: the outer one first and positive, then its holes, negative."""
    outlines = []
    for polygon in shapely.get_parts(shapely.union_all(list(parts))):
        upright = shapely.geometry.polygon.orient(polygon, sign=1.0)
        rings = [upright.exterior, *upright.interiors]
        outlines.append([shapely.get_coordinates(shapely.segmentize(ring, step_mm))[:-1] for ring in rings])
    return outlines
