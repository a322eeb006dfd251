"""The cut line of one sticker: a closed path with promises.

Promises: one closed path without holes; the art, lines included, lies inside; nowhere nearer to the art
than the asked distance less `SLACK_MM`; no inner corner tighter than the smallest radius (to `SLACK_MM`
along the line); few nodes. Each is measured on the finished curve, not on what led to it; a fit that
breaks one is made again, tighter.

Limits: where few nodes and the distance cannot both be had, the distance is kept and the nodes exceed
`node_limit`; preflight tells.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from limner.errors import GeometryError
from limner.geometry.cubics import flatten, reverse, signed_area, transform
from limner.model.geometry import CubicPath
from limner.model.sheet import CutLine
from limner.sheet.art import covered_region, path_polygon
from limner.sheet.cut.forms import enclosing_circle, enclosing_ellipse, enclosing_rectangle
from limner.sheet.cut.offset import Neck, blade_outline, closing
from limner.sheet.settings import CurveFitter, CutSettings

__all__ = ["SLACK_MM", "Cut", "make_cut", "measure_cut", "move_cut", "node_limit"]

Region = Any

SLACK_MM = 0.05
"""How much nearer than asked a cut line may come: a tenth of what a hand-fed cutter is off by."""

# Tolerances to try, in this order: one that the slack allows without growing the offset; where it breaks a
# promise, a tighter one; where it takes too many nodes, looser ones (the offset grows by what they may be
# off); the tightest if all else breaks a promise.
_TOLERANCES_MM = (0.035, 0.02, 0.05, 0.07, 0.1, 0.13, 0.01)

# The part of the slack that the fitted curve may use up; the rest covers flattening.
_USABLE_SLACK_MM = 0.04

# Closing by the radius less the slack fills no hollow deeper than this: what preflight takes for a corner too
# tight is 0.02 mm deep.
_SLIVER_MM = 0.018

# What lies within a margin of this share of a disc's radius leaves no room for the disc.
_NARROW = 0.9

# Arcs of that measure, in segments a quarter: within 0.0003 mm for a radius of 1 mm.
_ARC_SEGMENTS = 32

# A curve within t of an arc of 90 degrees and radius R can be as tight as R - 2t / (sqrt(2) - 1): inner
# corners are made rounder by more than that, as a curve also bends most in the middle of a corner.
_RADIUS_PER_TOLERANCE = 8.0

# Points handed to the fitter lie this far apart: several on the tightest corner.
_SPACING_MM = 0.1

# Measuring: curves are flattened to this, and the farthest point is looked for in steps of that.
_FINE_MM = 0.002
_STEP_MM = 0.04


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A cut line and what was done to get it.

    Parameters
    ----------
    line : CutLine
        In the coordinates of the art.
    necks : tuple of Neck
        What joins parts that lie apart.
    """

    line: CutLine
    necks: tuple[Neck, ...] = ()


def node_limit(length_mm: float) -> int:
    """Most nodes that an outline of this length should need: 1.5 a centimetre and 8."""
    return int(0.15 * length_mm + 8)


def make_cut(art: Region | Iterable[CubicPath], settings: CutSettings, fit: CurveFitter) -> Cut:
    """Lay a cut line around a drawing.

    Parameters
    ----------
    art : Polygon, MultiPolygon or iterable of CubicPath
        What is drawn, lines included, in millimetres at true size.
    settings : CutSettings
        Distance, forms and radii.
    fit : CurveFitter
        Fits a closed smooth curve to points.

    Returns
    -------
    Cut

    Raises
    ------
    GeometryError
        There is no art.
    """
    region = art if hasattr(art, "geom_type") else covered_region(art)
    if shapely.is_empty(region) or shapely.area(region) <= 0.0:
        raise GeometryError("The drawing covers nothing: there is nothing to cut around.")
    if len(settings.forms) == 1 and settings.forms[0] != "outline":
        path = _form_path(settings.forms[0], region, settings)
        return Cut(measure_cut(path, region, settings))
    return _fitted_cut(region, settings, fit)


def measure_cut(path: CubicPath, region: Region, settings: CutSettings) -> CutLine:
    """A path as a cut line, with its distances from the art measured anew."""
    if signed_area(path) < 0:
        path = reverse(path)
    points = flatten(path, _FINE_MM)
    border = shapely.LinearRing(points)
    around = shapely.buffer(shapely.Polygon(points), 0.0)
    nearest = float(shapely.distance(border, region))
    if not shapely.contains(around, region):
        nearest = -float(shapely.distance(_dense(shapely.difference(region, around)), border).max())
    dense = _dense(border)
    shapely.prepare(region)
    farthest = float(shapely.distance(dense, region).max())
    return CutLine(
        path,
        " + ".join(settings.forms),
        settings.distance_mm,
        nearest,
        farthest,
        float(border.length),
        settings.smallest_radius_mm,
    )


def move_cut(line: CutLine, matrix: NDArray[np.float64]) -> CutLine:
    """The same cut line turned and shifted; `matrix`, shape (2, 3), must not scale."""
    return CutLine(
        transform(line.path, matrix),
        line.form,
        line.asked_mm,
        line.min_distance_mm,
        line.max_distance_mm,
        line.length_mm,
        line.smallest_radius_mm,
    )


def _form_path(form: str, region: Region, settings: CutSettings) -> CubicPath:
    if form == "circle":
        return enclosing_circle(region, settings.distance_mm)
    if form == "ellipse":
        return enclosing_ellipse(region, settings.distance_mm)
    corner = settings.distance_mm if settings.corner_mm is None else settings.corner_mm
    return enclosing_rectangle(region, settings.distance_mm, corner)


def _fitted_cut(region: Region, settings: CutSettings, fit: CurveFitter) -> Cut:
    """Outlines and unions of forms: offset, then fit, then measure; again if a promise is broken."""
    kept: list[Cut] = []
    for tolerance in _TOLERANCES_MM:
        if kept and tolerance < _TOLERANCES_MM[0]:
            continue
        extra = max(tolerance - _USABLE_SLACK_MM, 0.0)
        outline, necks = _outline(region, settings, extra, tolerance)
        line = measure_cut(fit(_ring_points(outline), tolerance), region, settings)
        if not _keeps_promises(line, settings):
            continue
        kept.append(Cut(line, necks))
        if line.path.node_count <= node_limit(line.length_mm):
            return kept[-1]
    if kept:
        return min(kept, key=lambda cut: cut.line.path.node_count)
    return _polygonal_cut(region, settings)


def _outline(
    region: Region, settings: CutSettings, extra_mm: float, tolerance_mm: float
) -> tuple[Region, tuple[Neck, ...]]:
    radius = settings.smallest_radius_mm + _RADIUS_PER_TOLERANCE * tolerance_mm
    distance = settings.distance_mm + extra_mm
    outline, necks = blade_outline(region, distance, radius, settings.neck_mm)
    others = [form for form in settings.forms if form != "outline"]
    if not others:
        return outline, necks
    shapes = [path_polygon(_form_path(form, region, settings)) for form in others]
    if "outline" in settings.forms:
        shapes.append(outline)
    # Every enclosing form holds all of the art, so that necks are no longer needed.
    return closing(shapely.union_all(shapes), radius), ()


def _ring_points(outline: Region) -> NDArray[np.float64]:
    ring = outline.exterior
    count = max(int(np.ceil(ring.length / _SPACING_MM)), 16)
    places = np.arange(count) * (ring.length / count)
    return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(ring, places)))


def _dense(geometry: Region) -> NDArray[np.object_]:
    """Points along all lines and borders of a geometry."""
    return np.asarray(shapely.points(shapely.get_coordinates(shapely.segmentize(geometry, _STEP_MM))))


def _keeps_promises(line: CutLine, settings: CutSettings) -> bool:
    polygon = shapely.Polygon(flatten(line.path, _FINE_MM))
    if not polygon.is_valid or line.min_distance_mm < settings.distance_mm - SLACK_MM:
        return False
    radius = settings.smallest_radius_mm
    return _fills_less(polygon, radius, SLACK_MM) and _fills_less(polygon, radius - SLACK_MM, _SLIVER_MM)


def _fills_less(polygon: Region, radius_mm: float, depth_mm: float) -> bool:
    """Whether closing by a radius, which fills inner corners tighter than that, fills less than a depth."""
    if radius_mm <= 0.0:
        return True
    grown = shapely.buffer(polygon, radius_mm, quad_segs=_ARC_SEGMENTS)
    closed = shapely.buffer(grown, -radius_mm, quad_segs=_ARC_SEGMENTS)
    # Where all of it lies within a narrower margin; found out ten times as fast as what is filled.
    if shapely.covers(shapely.buffer(polygon, _NARROW * depth_mm / 2, quad_segs=1), closed):
        return True
    return bool(shapely.is_empty(shapely.buffer(shapely.difference(closed, polygon), -depth_mm / 2)))


def _polygonal_cut(region: Region, settings: CutSettings) -> Cut:
    """The offset itself as a polygon: many nodes, but every promise of distance kept."""
    from limner.geometry.cubics import polygon_path

    outline, necks = _outline(region, settings, 0.0, 0.0)
    points = shapely.get_coordinates(shapely.simplify(outline, 0.01).exterior)[:-1]
    return Cut(measure_cut(polygon_path(points), region, settings), necks)
