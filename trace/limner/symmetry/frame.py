"""The axis as a coordinate frame: distances from it, feet on it, reflection about it.

Sums of products are written out term by term rather than as matrix products: a linear algebra library
may add in another order for another array length, and then the same point would not always be reflected
to the same bits.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from limner.errors import GeometryError
from limner.model.arrays import Floats
from limner.model.geometry import Axis

__all__ = [
    "Frame",
    "Line",
    "Side",
    "direction",
    "frame_of",
    "in_pixels",
    "keep_side",
    "kept_side",
    "seen_sides",
]


# An axis within this angle of lying level has no left and no right.
NO_SIDE_DEG = 3.0

Side = Literal["left", "right", "top", "bottom"]
"""A side of the axis as the viewer sees it."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line that may be an axis: the points x for which normal . x = offset.

    Parameters
    ----------
    normal_rad : float
        Direction of its normal, radians.
    offset : float
        Distance from the origin along the normal, in the unit of the points.
    """

    normal_rad: float
    offset: float

    @property
    def normal(self) -> Floats:
        """Unit vector across it, shape (2,)."""
        return np.array([math.cos(self.normal_rad), math.sin(self.normal_rad)])

    @property
    def along(self) -> Floats:
        """Unit vector of its direction, shape (2,)."""
        return np.array([-math.sin(self.normal_rad), math.cos(self.normal_rad)])

    @property
    def angle_deg(self) -> float:
        """Its direction, 0 <= angle < 180."""
        return (math.degrees(self.normal_rad) + 90.0) % 180.0

    def distance(self, points: Floats) -> Floats:
        """Signed distance of points, positive on the side of the normal; shape (n, 2) to (n,)."""
        return np.asarray(points @ self.normal - self.offset)


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """An axis with a kept side.

    Parameters
    ----------
    origin : tuple of float
        A point (x, y) on the axis, millimetres.
    along : tuple of float
        Unit vector of its direction.
    normal : tuple of float
        Unit vector across it, towards the side that is kept.
    """

    origin: tuple[float, float]
    along: tuple[float, float]
    normal: tuple[float, float]

    def distance(self, points: Floats) -> Floats:
        """Signed distance from the axis, positive on the kept side; shape (..., 2) to (...)."""
        x, y = points[..., 0] - self.origin[0], points[..., 1] - self.origin[1]
        return np.asarray(x * self.normal[0] + y * self.normal[1])

    def position(self, points: Floats) -> Floats:
        """Position along the axis, millimetres from its origin; shape (..., 2) to (...)."""
        x, y = points[..., 0] - self.origin[0], points[..., 1] - self.origin[1]
        return np.asarray(x * self.along[0] + y * self.along[1])

    def foot(self, points: Floats) -> Floats:
        """Nearest points on the axis, shape (..., 2)."""
        return np.asarray(points - self.distance(points)[..., None] * np.array(self.normal))

    def reflect(self, points: Floats) -> Floats:
        """Mirror images of the points, shape (..., 2)."""
        return np.asarray(points - 2.0 * self.distance(points)[..., None] * np.array(self.normal))


def direction(angle_deg: float) -> tuple[float, float]:
    """Unit vector (cos, sin) of an angle in degrees, exact at multiples of 90 degrees."""
    angle = angle_deg % 360.0
    exact = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    radians = math.radians(angle)
    return exact.get(angle, (math.cos(radians), math.sin(radians)))


def frame_of(axis: Axis) -> Frame:
    """Frame of an axis; without a decided side, the one to the left of its direction counts as kept."""
    x, y = direction(axis.angle_deg)
    sign = -1.0 if axis.keep == "right" else 1.0
    # Left of the direction (x, y), with y down, is the direction turned anticlockwise to the eye.
    return Frame((axis.x_mm, axis.y_mm), (x, y), (sign * y, -sign * x))


def in_pixels(frame: Frame, mm_per_px: float) -> Frame:
    """The same frame with distances in pixels of a raster."""
    x, y = frame.origin
    return Frame((x / mm_per_px, y / mm_per_px), frame.along, frame.normal)


def seen_sides(axis: Axis) -> tuple[Side, Side]:
    """Names, as the viewer sees them, of the sides to the left and to the right of the axis's direction."""
    if 45.0 <= axis.angle_deg % 180.0 < 135.0:
        # The axis runs down the page: the left hand of one who walks along it is to the viewer's right.
        return "right", "left"
    upward = axis.angle_deg % 180.0 < 45.0
    return ("top", "bottom") if upward else ("bottom", "top")


def kept_side(axis: Axis) -> Side | None:
    """The side that is kept, as the viewer sees it; None where that is open."""
    if axis.keep is None:
        return None
    left, right = seen_sides(axis)
    return left if axis.keep == "left" else right


def keep_side(axis: Axis, side: Side) -> Literal["left", "right"]:
    """Value of `Axis.keep` that keeps the side which the viewer calls `side`.

    Parameters
    ----------
    axis : Axis
        The axis.
    side : {"left", "right", "top", "bottom"}
        What the viewer calls it; "left" and "right" also stand for the sides of a lying axis, by where
        most of each lies (a tilted one), "top" and "bottom" for those of a standing one.

    Returns
    -------
    {"left", "right"}

    Raises
    ------
    GeometryError
        The axis has no such side: it runs that way itself.
    """
    x, y = direction(axis.angle_deg)
    left_of_it = (y, -x)
    towards = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "top": (0.0, -1.0), "bottom": (0.0, 1.0)}[side]
    faces = left_of_it[0] * towards[0] + left_of_it[1] * towards[1]
    if abs(faces) < math.sin(math.radians(NO_SIDE_DEG)):
        first, second = seen_sides(axis)
        raise GeometryError(
            f"The axis at {axis.angle_deg:.0f} degrees has no {side} side to keep: "
            f'write keep = "{first}" or keep = "{second}".'
        )
    return "left" if faces > 0 else "right"
