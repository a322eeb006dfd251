"""The cut line of one sticker: a closed path with promises.

Promises: one closed path without holes; the art, lines included, lies inside; nowhere nearer to the art than
the asked distance; smooth at every node, with no inner bend tighter than the smallest radius, and no outer
one tighter than that or the distance, whichever is less; few nodes. Each is measured on the finished curve,
not on what led to it; a fit that breaks one is made again, in a wider band or farther from the art.

Limits: where few nodes and the distance cannot both be had, the distance is kept and the nodes exceed
`node_limit`; preflight tells. Where no smooth curve keeps the promises at all, the cut line is a polygon,
whose corners preflight tells of.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from limner.errors import GeometryError
from limner.geometry.cubics import flatten, polygon_path, reverse, signed_area, transform
from limner.model.geometry import CubicPath
from limner.model.sheet import CutLine
from limner.sheet.art import FLATTEN_MM, covered_region, path_polygon
from limner.sheet.cut.band_fit import Band, curvatures, fit_ring
from limner.sheet.cut.forms import enclosing_circle, enclosing_ellipse, enclosing_rectangle, placed_form
from limner.sheet.cut.offset import ART_DETAIL_MM, Neck, blade_outline, closing, join_parts, opening
from limner.sheet.settings import CutForm, CutSettings, PlacedForm

__all__ = ["Cut", "make_cut", "measure_cut", "move_cut", "node_limit", "tightest_bends"]

Region = Any

# The art that is measured lies inside the drawn one by this at most.
_UNSEEN_MM = FLATTEN_MM + ART_DETAIL_MM

# Fits to try, in this order: how far the curve may come nearer to the art than the ring that it is fitted
# to, which lies farther away by as much; how far it may keep off; and how much rounder than asked the
# ring's inner corners are. The first one halves the error of a hand-fed cutter; wider and rounder ones save
# nodes, as a cubic that goes through a corner bends more in its middle than an arc; narrow ones help where
# a wide one breaks a promise.
_TRIALS = ((0.04, 0.055, 1.5), (0.04, 0.1, 1.8), (0.04, 0.15, 2.0), (0.02, 0.03, 1.3), (0.01, 0.02, 1.2))

# The fit looks at bends in steps and keeps a little more than what is promised.
_SEEN_RADIUS, _KEPT_RADIUS = 0.97, 0.95

# Even around art that is to touch its cut line the ring keeps off by this, as a blade cannot turn on a point;
# outer bends have this share of it at least.
_LEAST_ROOM_MM, _LEAST_OUTER_RADIUS = 0.15, 0.5

# Measuring: curves are flattened to this, and the farthest point is looked for in steps of that.
_FINE_MM = 0.002
_STEP_MM = 0.1

# Arcs of forms that are shrunk, in segments a quarter.
_ARC_SEGMENTS = 64

# Places along each cubic at which its bends are measured.
_BEND_PLACES = 129


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


def make_cut(art: Region | Iterable[CubicPath], settings: CutSettings) -> Cut:
    """Lay a cut line around a drawing.

    Parameters
    ----------
    art : Polygon, MultiPolygon or iterable of CubicPath
        What is drawn, lines included, in millimetres at true size.
    settings : CutSettings
        Distance, forms and radii.

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
    form = settings.forms[0]
    if len(settings.forms) == 1 and form != "outline" and not isinstance(form, PlacedForm):
        path = _form_path(form, region, settings)
        return Cut(measure_cut(path, region, settings))
    return _fitted_cut(region, settings)


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
        " + ".join(form.form if isinstance(form, PlacedForm) else form for form in settings.forms),
        settings.distance_mm,
        nearest,
        farthest,
        float(border.length),
        settings.smallest_radius_mm,
    )


def move_cut(line: CutLine, matrix: NDArray[np.float64]) -> CutLine:
    """The same cut line turned and shifted; `matrix`, shape (2, 3), must not scale."""
    return replace(line, path=transform(line.path, matrix))


def tightest_bends(path: CubicPath) -> tuple[float, float]:
    """Smallest radius in millimetres where a positive path bends inwards, and where it bends outwards."""
    bends = curvatures(path.segments, np.linspace(0.0, 1.0, _BEND_PLACES))
    tiny = np.finfo(np.float64).tiny
    return 1.0 / max(-float(bends.min()), tiny), 1.0 / max(float(bends.max()), tiny)


def _form_path(form: CutForm, region: Region, settings: CutSettings) -> CubicPath:
    distance = settings.distance_mm + _UNSEEN_MM
    if form == "circle":
        return enclosing_circle(region, distance)
    if form == "ellipse":
        return enclosing_ellipse(region, distance, settings.smallest_radius_mm)
    return enclosing_rectangle(region, distance, _corner_mm(settings))


def _corner_mm(settings: CutSettings) -> float:
    """Radius of a rectangle's corners."""
    if settings.corner_mm is not None:
        return settings.corner_mm
    return max(settings.distance_mm, settings.smallest_radius_mm)


def _fitted_cut(region: Region, settings: CutSettings) -> Cut:
    """Outlines and unions of forms: offset, then fit, then measure; again if a promise is broken."""
    waiting: list[tuple[CubicPath, tuple[Neck, ...]]] = []
    for inward, outward, rounder in _TRIALS:
        if waiting and outward < _TRIALS[0][1]:
            continue
        outline, necks = _outline(region, settings, inward + _UNSEEN_MM, rounder)
        path = fit_ring(_ring(outline), _band(settings, inward, outward))
        if path is None:
            continue
        if path.node_count <= node_limit(outline.exterior.length):
            cut = Cut(measure_cut(path, region, settings), necks)
            if _keeps_promises(cut.line, settings):
                return cut
        else:
            waiting.append((path, necks))
    for path, necks in sorted(waiting, key=lambda fitted: fitted[0].node_count):
        cut = Cut(measure_cut(path, region, settings), necks)
        if _keeps_promises(cut.line, settings):
            return cut
    return _polygonal_cut(region, settings)


def _band(settings: CutSettings, inward_mm: float, outward_mm: float) -> Band:
    return Band(
        inward_mm,
        outward_mm,
        _SEEN_RADIUS * settings.smallest_radius_mm,
        max(_SEEN_RADIUS * _outer_radius(settings), _LEAST_OUTER_RADIUS * _LEAST_ROOM_MM),
    )


def _outer_radius(settings: CutSettings) -> float:
    """The smallest radius of outer bends."""
    return min(settings.smallest_radius_mm, settings.distance_mm)


def _outline(
    region: Region, settings: CutSettings, extra_mm: float, rounder: float
) -> tuple[Region, tuple[Neck, ...]]:
    """What the cut line is fitted to: farther from the art than asked, its inner corners so much rounder."""
    radius = rounder * settings.smallest_radius_mm
    distance = max(settings.distance_mm + extra_mm, _LEAST_ROOM_MM)
    if settings.forms == ("outline",):
        outline, necks = blade_outline(region, distance, radius, settings.neck_mm)
    else:
        shapes = _united(region, settings, distance, radius, extra_mm)
        outline, necks = closing(shapely.union_all(shapes), radius), ()
        if shapely.get_num_geometries(outline) > 1:
            outline, necks = join_parts(outline, settings.neck_mm)
            outline = closing(outline, radius)
    outline = max(shapely.get_parts(outline), key=shapely.area)
    return opening(outline, min(settings.smallest_radius_mm, distance, 0.49 * settings.neck_mm)), necks


def _united(
    region: Region, settings: CutSettings, distance_mm: float, radius_mm: float, extra_mm: float
) -> list[Region]:
    """The shapes that several forms give, which together hold all of the art at its distance."""
    placed = [form for form in settings.forms if isinstance(form, PlacedForm)]
    plain = [form for form in settings.forms if not isinstance(form, PlacedForm)]
    shapes = [path_polygon(placed_form(form, region, _corner_mm(settings))) for form in placed]
    rest = region
    if placed and "outline" not in plain:
        held = shapely.buffer(shapely.union_all(shapes), -distance_mm, quad_segs=_ARC_SEGMENTS)
        rest = shapely.difference(region, held)
    if shapely.is_empty(rest):
        return shapes
    enclosing = [_form_path(form, rest, settings) for form in plain if form != "outline"]
    shapes += [shapely.buffer(path_polygon(path), extra_mm) for path in enclosing]
    if "outline" in plain or not plain:
        shapes.append(blade_outline(rest, distance_mm, radius_mm, settings.neck_mm)[0])
    return shapes


def _ring(outline: Region) -> NDArray[np.float64]:
    """Border of a polygon, shape (n, 2), positive, its first point not repeated."""
    ring = outline.exterior
    points = np.asarray(shapely.get_coordinates(ring))[:-1]
    return points if ring.is_ccw else points[::-1]


def _dense(geometry: Region) -> NDArray[np.object_]:
    """Points along all lines and borders of a geometry."""
    return np.asarray(shapely.points(shapely.get_coordinates(shapely.segmentize(geometry, _STEP_MM))))


def _keeps_promises(line: CutLine, settings: CutSettings) -> bool:
    polygon = shapely.Polygon(flatten(line.path, _FINE_MM))
    if not polygon.is_valid or line.min_distance_mm < settings.distance_mm:
        return False
    inner, outer = tightest_bends(line.path)
    wanted = _KEPT_RADIUS * settings.smallest_radius_mm, _KEPT_RADIUS * _outer_radius(settings)
    return inner >= wanted[0] and outer >= wanted[1]


def _polygonal_cut(region: Region, settings: CutSettings) -> Cut:
    """The offset itself as a polygon: many nodes and corners, but the distance kept."""
    outline, necks = _outline(region, settings, 2 * _UNSEEN_MM, 1.0)
    points = shapely.get_coordinates(shapely.simplify(outline, _UNSEEN_MM).exterior)[:-1]
    return Cut(measure_cut(polygon_path(points), region, settings), necks)
