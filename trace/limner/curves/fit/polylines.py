"""What is fitted, and what comes of it."""

from dataclasses import dataclass
from hashlib import blake2b

import numpy as np

from limner.errors import GeometryError
from limner.model.arrays import Flags, Floats
from limner.model.geometry import CubicPath
from limner.model.regionmap import CornerMark

__all__ = ["Fit", "Polyline", "checked"]


@dataclass(frozen=True, slots=True, eq=False)
class Polyline:
    """What is to be fitted.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Millimetres; a closed one does not repeat its first point.
    tolerance : ndarray of float64, shape (n,)
        Largest distance allowed at each point, millimetres.
    closed : bool
    noise : float or None
        Standard deviation of the data across the curve, millimetres; None: estimated.
    start_tangent, end_tangent : tuple of float or None
        Unit directions of travel asked for at the ends of an open path.
    follow_mm : float or None
        A path within this distance follows the points; where the tolerance is larger, they are calmed first
        (`limner.curves.calm`). None: they never are.
    marks : tuple of CornerMark
        Where it has a corner, or none, whatever it looks like.
    firm : ndarray of bool, shape (n,), or None
        Points at which its form is kept when it is calmed; None: nowhere.
    nodes_at_changes : bool
        Whether a node is set where the tolerance changes.
    asked : tuple of CornerMark
        Marks by which it is to be changed first (`limner.curves.marks`).
    """

    points: Floats
    tolerance: Floats
    closed: bool
    noise: float | None = None
    start_tangent: tuple[float, float] | None = None
    end_tangent: tuple[float, float] | None = None
    follow_mm: float | None = None
    marks: tuple[CornerMark, ...] = ()
    firm: Flags | None = None
    nodes_at_changes: bool = True
    asked: tuple[CornerMark, ...] = ()

    @property
    def key(self) -> bytes:
        """Digest of all that its fit depends on."""
        digest = blake2b(self.points.tobytes(), digest_size=20)
        digest.update(self.tolerance.tobytes())
        ends = (self.closed, self.start_tangent, self.end_tangent)
        rest = (*ends, self.noise, self.follow_mm, self.marks, self.asked, self.nodes_at_changes)
        digest.update(repr(rest).encode())
        if self.firm is not None:
            digest.update(self.firm.tobytes())
        return digest.digest()


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A fitted path.

    Parameters
    ----------
    path : CubicPath
    error_mm : float
        Largest distance between path and data, measured densely both ways.
    """

    path: CubicPath
    error_mm: float


def checked(polyline: Polyline) -> tuple[Floats, Floats, Flags | None]:
    """Points, none twice in a row, tolerances and what is firm of a polyline that can be fitted.

    Raises
    ------
    GeometryError
        It cannot.
    """
    points = np.asarray(polyline.points, dtype=np.float64)
    tolerance = np.asarray(polyline.tolerance, dtype=np.float64)
    if points.ndim != 2 or points.shape[1:] != (2,) or not np.isfinite(points).all():
        raise GeometryError("A line to be fitted must be rows of finite x and y: check the coordinates.")
    if not (tolerance > 0).all():
        raise GeometryError("The tolerance of a fit must be above zero: ask for a larger smoothing.")
    keep = np.append(True, (np.diff(points, axis=0) != 0).any(axis=1))
    if polyline.closed and len(points) > 1 and (points[0] == points[-1]).all():
        keep[-1] = False
    if int(keep.sum()) < 2:
        raise GeometryError("A line to be fitted has too few separate points: leave it out.")
    return points[keep], tolerance[keep], None if polyline.firm is None else polyline.firm[keep]
