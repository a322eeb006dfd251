"""Settings of the sheet's own stage, and what it asks of a curve fitter."""

from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from limner.model.geometry import CubicPath

__all__ = ["CurveFitter", "CutForm", "CutSettings", "LayoutSettings"]

CutForm = Literal["outline", "circle", "ellipse", "rectangle"]
"""Form of a cut line."""


class CurveFitter(Protocol):
    """What fits smooth curves to points: the sheet does not know how."""

    def __call__(self, points: NDArray[np.float64], tolerance_mm: float) -> CubicPath:
        """Fit a closed path.

        Parameters
        ----------
        points : ndarray of float64, shape (n, 2)
            Closed polyline in millimetres, first point not repeated, densely and evenly spaced.
        tolerance_mm : float
            Largest distance between the points and the path.

        Returns
        -------
        CubicPath
            Closed.
        """
        ...


@dataclass(frozen=True, slots=True)
class CutSettings:
    """How one sticker is cut.

    Parameters
    ----------
    distance_mm : float
        Distance between the art, its lines included, and the cut line.
    forms : tuple of CutForm
        Its form; several are united.
    smallest_radius_mm : float
        No inner corner is tighter, and concavities narrower than twice this are bridged.
    corner_mm : float or None
        Radius of a rectangle's corners; None: the distance.
    neck_mm : float
        Width of the necks that join parts which lie apart.
    """

    distance_mm: float = 2.5
    forms: tuple[CutForm, ...] = ("outline",)
    smallest_radius_mm: float = 1.0
    corner_mm: float | None = None
    neck_mm: float = 3.0


@dataclass(frozen=True, slots=True)
class LayoutSettings:
    """How free stickers find their places.

    Parameters
    ----------
    gap_mm : float
        Smallest distance between neighbouring cut lines.
    clearance_mm : float
        Smallest distance between a cut line and lettering.
    rounds : int
        How long the first search goes on before it gives up, in moves per sticker.
    starts : int
        How many searches there are, each twice as long as the one before.
    """

    gap_mm: float = 2.0
    clearance_mm: float = 2.0
    rounds: int = 60
    starts: int = 3
