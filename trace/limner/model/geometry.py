"""Points, paths and axes, and the one convention for coordinates.

The convention
--------------
* **Raster**: arrays are (H, W[, C]); pixel (row r, column c) covers the square from (c, r) to
  (c + 1, r + 1), so that its centre is at x = c + 0.5, y = r + 0.5.
* **Vector**: float64 millimetres on the page, origin at the top left corner of the page, x to the
  right, y **down**; `x_mm = x_px * mm_per_px`. Pixels become millimetres once, where polylines leave
  the raster.
* **Points** are rows (x, y). A polyline is (n, 2); a *closed* polyline does not repeat its first point.
* **Angles** are in degrees, measured from the x axis towards the y axis, thus clockwise to the eye.
* **Orientation**: a closed path is *positive* when its signed area, sum of (x0 y1 - x1 y0) / 2, is
  positive: it then runs clockwise to the eye, as y runs down. Outer cycles are positive, holes negative.
* Only the PDF writer turns y upwards.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import frozen

__all__ = ["Axis", "CubicPath"]


@dataclass(frozen=True, slots=True, eq=False)
class CubicPath:
    """A chain of cubic Bezier segments, open or closed.

    Parameters
    ----------
    segments : ndarray of float64, shape (n, 4, 2)
        Control points in millimetres; segment i ends exactly (bit for bit) where segment i + 1 starts.
        A straight segment carries its handles at the thirds of its length.
    straight : ndarray of bool, shape (n,)
        Which segments are straight lines.
    smooth : ndarray of bool, shape (n,)
        Whether the path is meant to run smoothly through the *start* node of each segment.
        Always False for the first segment of an open path.
    closed : bool
        Whether the last segment ends exactly where the first one starts.

    Notes
    -----
    A node is an on-curve point: a closed path of n segments has n nodes, an open one n + 1.
    """

    segments: NDArray[np.float64]
    straight: NDArray[np.bool_]
    smooth: NDArray[np.bool_]
    closed: bool

    def __post_init__(self) -> None:
        segments = frozen(self.segments, np.float64, (None, 4, 2), "segments")
        count = len(segments)
        if count == 0:
            raise ValueError("a path needs at least one segment")
        if not np.isfinite(segments).all():
            raise ValueError("the coordinates of a path must be finite")
        if not np.array_equal(segments[:-1, 3], segments[1:, 0]):
            raise ValueError("each segment must start exactly where the one before it ends")
        if self.closed and not np.array_equal(segments[-1, 3], segments[0, 0]):
            raise ValueError("a closed path must end exactly where it starts")
        object.__setattr__(self, "segments", segments)
        object.__setattr__(self, "straight", frozen(self.straight, np.bool_, (count,), "straight"))
        object.__setattr__(self, "smooth", frozen(self.smooth, np.bool_, (count,), "smooth"))

    @property
    def nodes(self) -> NDArray[np.float64]:
        """On-curve points, shape (node_count, 2), millimetres."""
        starts = self.segments[:, 0]
        return starts if self.closed else np.concatenate([starts, self.segments[-1:, 3]])

    @property
    def node_count(self) -> int:
        """Number of on-curve points."""
        return len(self.segments) + (0 if self.closed else 1)


@dataclass(frozen=True, slots=True)
class Axis:
    """A line of symmetry.

    Parameters
    ----------
    x_mm, y_mm : float
        A point on the axis.
    angle_deg : float
        Its direction, 0 <= angle < 180; 90 is vertical, clockwise to the eye from the x axis.
    score : float
        How sure the finding is, 0 to 1; 1 for an axis set by hand.
    how : str
        How it was found: "half", "guide", "whole" or "by hand".
    keep : {"left", "right"} or None
        The side that is reflected onto the other one, as seen looking along the axis's direction
        (cos, sin of the angle) with y down; None until it is decided.
    """

    x_mm: float
    y_mm: float
    angle_deg: float
    score: float
    how: str
    keep: str | None = None
