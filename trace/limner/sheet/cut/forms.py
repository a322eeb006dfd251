"""The smallest circle, ellipse and rounded rectangle around a region, as exact paths of few nodes.

Circle: smallest enclosing circle (shapely). Ellipse: the one of least area, by Khachiyan's algorithm
(L. G. Khachiyan, "Rounding of polytopes in the real number model of computation", 1996; from memory),
scaled at the end so that it truly encloses. A circle or ellipse is four cubics with the classical arm,
which leave the true curve outwards only, by at most 2.7e-4 of the radius.
"""

from typing import Any

import numpy as np
import shapely

from limner.geometry.cubics import QUARTER_ARM, ellipse_segments
from limner.model.arrays import Floats
from limner.model.geometry import CubicPath
from limner.sheet.art import path_polygon
from limner.sheet.settings import PlacedForm

__all__ = ["enclosing_circle", "enclosing_ellipse", "enclosing_rectangle", "placed_form"]

Region = Any

# The ellipse's area is within about this share of the least; many points on arcs of equal merit make the
# last digits slow.
_ELLIPSE_ACCURACY = 1e-4
_ELLIPSE_ROUNDS = 2000

# Growing a rectangle stops when its size is known to this.
_SIZE_STEP_MM = 1e-3


def enclosing_circle(region: Region, distance_mm: float) -> CubicPath:
    """The smallest circle that keeps `distance_mm` from a region: four cubics."""
    circle = shapely.minimum_bounding_circle(region)
    centre = shapely.centroid(circle)
    x, y = float(centre.x), float(centre.y)
    # Measured from the centre anew: the polygon that shapely returns is only about the circle.
    hull = shapely.get_coordinates(shapely.convex_hull(region))
    radius = float(np.hypot(hull[:, 0] - x, hull[:, 1] - y).max()) + distance_mm
    return _ellipse_path(np.array([x, y]), np.eye(2) * radius)


def enclosing_ellipse(region: Region, distance_mm: float, radius_mm: float = 0.0) -> CubicPath:
    """The ellipse of least area that keeps `distance_mm` from a region: four cubics.

    Its ends are no tighter than `radius_mm`: a slim one becomes wider instead.
    """
    grown = shapely.buffer(shapely.convex_hull(region), distance_mm, quad_segs=32)
    points = shapely.get_coordinates(shapely.convex_hull(grown))[:-1]
    centre, matrix = _least_ellipse(points)
    # The grown polygon's arcs lie inside the true ones by d (1 - cos(pi / 128)).
    matrix = matrix * (1.0 + distance_mm * 3.1e-4 / max(float(np.linalg.norm(matrix, 2)), 1e-9))
    # With half axes a and b the ends have the radius b^2 / a.
    along, axes, across = np.linalg.svd(matrix)
    axes[1] = max(axes[1], min(np.sqrt(radius_mm * axes[0]), axes[0]))
    return _ellipse_path(centre, along * axes @ across)


def enclosing_rectangle(region: Region, distance_mm: float, corner_mm: float) -> CubicPath:
    """The smallest upright rectangle with rounded corners that keeps `distance_mm` from a region.

    Parameters
    ----------
    region : Polygon or MultiPolygon
        What is to lie inside.
    distance_mm : float
        Distance from the region.
    corner_mm : float
        Radius of the corners; at most half the shorter side.

    Returns
    -------
    CubicPath
        Four lines and four arcs; lines of no length are left out.
    """
    x0, y0, x1, y1 = shapely.bounds(region)
    box = np.array([x0 - distance_mm, y0 - distance_mm, x1 + distance_mm, y1 + distance_mm])
    outward = np.array([-1.0, -1.0, 1.0, 1.0])
    if corner_mm <= distance_mm:
        return _rounded_rectangle(box, corner_mm)
    # The corners cut off what a square corner would keep: grow until the distance is kept.
    low, high = 0.0, corner_mm
    while high - low > _SIZE_STEP_MM:
        middle = (low + high) / 2
        path = _rounded_rectangle(box + outward * middle, corner_mm)
        inside = path_polygon(path, 1e-3)
        fits = shapely.contains(inside, region) and (
            shapely.distance(shapely.boundary(inside), region) >= distance_mm
        )
        low, high = (low, middle) if fits else (middle, high)
    return _rounded_rectangle(box + outward * high, corner_mm)


def placed_form(form: PlacedForm, region: Region, corner_mm: float) -> CubicPath:
    """A form of a given size at its place on the art; `corner_mm` is the radius of a rectangle's corners."""
    x0, y0, x1, y1 = shapely.bounds(region)
    centre = np.array([x0 + form.at[0] * (x1 - x0), y0 + form.at[1] * (y1 - y0)])
    half = np.array([form.width_mm, form.height_mm]) / 2
    if form.form == "rectangle":
        return _rounded_rectangle(np.concatenate([centre - half, centre + half]), corner_mm)
    return _ellipse_path(centre, np.diag(half))


def _least_ellipse(points: Floats) -> tuple[Floats, Floats]:
    """Centre and matrix A of the least ellipse {c + A u, |u| <= 1} around points, shape (n, 2)."""
    scale = np.ptp(points, axis=0).max()
    origin = points.mean(axis=0)
    unit = (points - origin) / scale
    lifted = np.column_stack([unit, np.ones(len(unit))])
    # Few extreme points to start with, as few carry weight at the end (Kumar and Yildirim, 2005, from
    # memory): that many times fewer rounds.
    weights = np.zeros(len(unit))
    diagonals = np.column_stack([unit, unit.sum(axis=1), unit[:, 0] - unit[:, 1]])
    weights[[*diagonals.argmin(axis=0), *diagonals.argmax(axis=0)]] = 1.0
    weights /= weights.sum()
    for _ in range(_ELLIPSE_ROUNDS):
        inverse = np.linalg.inv(lifted.T @ (weights[:, None] * lifted))
        spread = np.einsum("ij,jk,ik->i", lifted, inverse, lifted)
        if not _shift_weights(weights, spread):
            break
    centre = weights @ unit
    covariance = (weights[:, None] * (unit - centre)).T @ (unit - centre)
    axes, turn = np.linalg.eigh(2.0 * covariance)
    matrix = turn @ np.diag(np.sqrt(np.maximum(axes, 1e-12)))
    reach = np.linalg.norm(np.linalg.solve(matrix, (unit - centre).T), axis=0).max()
    return origin + scale * centre, scale * matrix * reach


def _shift_weights(weights: Floats, spread: Floats) -> bool:
    """One step of Khachiyan's ascent with Wolfe's steps away from idle points; False at the end."""
    dimension = 3.0
    far = int(np.argmax(spread))
    used = np.where(weights > 0, spread, np.inf)
    near = int(np.argmin(used))
    gain, loss = spread[far] / dimension - 1.0, 1.0 - spread[near] / dimension
    if max(gain, loss) < _ELLIPSE_ACCURACY:
        return False
    which = far if gain > loss else near
    dropped = -weights[near] / (1.0 - weights[near])
    if which == near and spread[near] <= 1.0:
        step = dropped
    else:
        step = (spread[which] - dimension) / (dimension * (spread[which] - 1.0))
        step = max(step, dropped) if which == near else step
    weights *= 1.0 - step
    weights[which] = max(weights[which] + step, 0.0)
    return True


def _ellipse_path(centre: Floats, matrix: Floats) -> CubicPath:
    """Image of the unit circle under an affine map, as four cubics, positive."""
    if np.linalg.det(matrix) < 0:
        matrix = matrix[:, ::-1]
    segments = ellipse_segments(centre, matrix.T)
    return CubicPath(segments, np.zeros(4, bool), np.ones(4, bool), closed=True)


def _rounded_rectangle(box: Floats, corner_mm: float) -> CubicPath:
    """Clockwise to the eye from the top left, positive."""
    x0, y0, x1, y1 = box
    radius = min(corner_mm, (x1 - x0) / 2, (y1 - y0) / 2)
    # Centre of each corner's arc, and the directions in which it is entered and left.
    left, right, top, bottom = x0 + radius, x1 - radius, y0 + radius, y1 - radius
    centres = [(right, top), (right, bottom), (left, bottom), (left, top)]
    turns = [((0, -1), (1, 0)), ((1, 0), (0, 1)), ((0, 1), (-1, 0)), ((-1, 0), (0, -1))]
    arcs = []
    for centre, (first, last) in zip(np.array(centres), np.array(turns, dtype=float), strict=True):
        arc = np.stack([first, first + QUARTER_ARM * last, last + QUARTER_ARM * first, last])
        arcs.append(centre + radius * arc)
    pieces: list[tuple[Floats, bool]] = []
    for arc, after in zip(arcs, arcs[1:] + arcs[:1], strict=True):
        if radius > 0:
            pieces.append((arc, False))
        if np.linalg.norm(after[0] - arc[3]) > 1e-9:
            pieces.append((arc[3] + np.linspace(0, 1, 4)[:, None] * (after[0] - arc[3]), True))
    segments = np.stack([piece for piece, _ in pieces])
    segments[:, 3] = np.roll(segments[:, 0], -1, axis=0)
    straight = np.array([is_line for _, is_line in pieces])
    smooth = np.full(len(pieces), radius > 0)
    return CubicPath(segments, straight, smooth, closed=True)
