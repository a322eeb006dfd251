"""Motifs that are drawn once and placed again, in millimetres of the drawing."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import frozen

__all__ = ["MotifPlace", "Repeat"]


@dataclass(frozen=True, slots=True)
class MotifPlace:
    """Where a copy of a motif lies.

    Parameters
    ----------
    at_mm : tuple of float
        Where the middle of the motif's box comes to lie.
    turn_deg : float
        By how much it is turned about that, clockwise to the eye.
    scale : float
        How large it is beside the motif.
    flip : bool
        Whether left and right are exchanged, before it is turned.
    """

    at_mm: tuple[float, float]
    turn_deg: float = 0.0
    scale: float = 1.0
    flip: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Repeat:
    """A motif and its copies.

    Parameters
    ----------
    ring : ndarray of float64, shape (n, 2), n >= 3
        A closed polyline, its first point not repeated: the motif is every shape that lies inside.
    places : tuple of MotifPlace
        One for each copy, from bottom to top.
    """

    ring: NDArray[np.float64]
    places: tuple[MotifPlace, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "ring", frozen(self.ring, np.float64, (None, 2), "ring"))
