"""Corrections that the illustrator makes on her sketch, in millimetres of the drawing."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import frozen

__all__ = ["InkTouch", "Pull", "TouchOutcome"]


@dataclass(frozen=True, slots=True, eq=False)
class InkTouch:
    """A line added to the ink, or taken out of it.

    Parameters
    ----------
    adds : bool
        Whether ink is drawn; otherwise it is rubbed out.
    points : ndarray of float64, shape (n, 2), n >= 2
        What the line goes through, smoothly.
    width_mm : float or None
        Its width; None: the drawing's line width for what is drawn, three of it for what is rubbed out.
    """

    adds: bool
    points: NDArray[np.float64]
    width_mm: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", frozen(self.points, np.float64, (None, 2), "points"))


@dataclass(frozen=True, slots=True)
class Pull:
    """A line moved over.

    Parameters
    ----------
    from_mm, to_mm : tuple of float
        The point of the line nearest to the first comes to lie on the second.
    reach_mm : float or None
        Distance along the line over which that fades out; None: four times the way it moves, but not less
        than six line widths.
    """

    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    reach_mm: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class TouchOutcome:
    """What became of one correction.

    Parameters
    ----------
    kind : str
        What it does.
    number : int
        Which of the corrections it is, from 0.
    points : ndarray of float64, shape (n, 2)
        Its line, or its place, in millimetres of the drawing; of a mirrored one on the side that is kept.
    words : str
        What it did.
    """

    kind: str
    number: int
    points: NDArray[np.float64]
    words: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", frozen(self.points, np.float64, (None, 2), "points"))
