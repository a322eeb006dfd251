"""Settings of the sheet's own stage."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["Alike", "CutForm", "CutSettings", "LayoutSettings", "PlacedForm"]

CutForm = Literal["outline", "circle", "ellipse", "rectangle"]
"""Form of a cut line."""

Alike = Literal["apart", "together"]
"""Whether free stickers of one sketch are to lie apart from one another, or side by side."""


@dataclass(frozen=True, slots=True)
class PlacedForm:
    """A form of a given size at a given place, as one of several that are united.

    Parameters
    ----------
    form : CutForm
        Circle, ellipse or rectangle.
    width_mm, height_mm : float
        Its size.
    at : tuple of float
        Its centre, as fractions of the width and height of the art.
    """

    form: CutForm
    width_mm: float
    height_mm: float
    at: tuple[float, float] = (0.5, 0.5)


@dataclass(frozen=True, slots=True)
class CutSettings:
    """How one sticker is cut.

    Parameters
    ----------
    distance_mm : float
        Distance between the art, its lines included, and the cut line.
    forms : tuple of CutForm or PlacedForm
        Its form; several are united. With forms of a given size, forms without one enclose only what those
        leave out, and an outline goes around that where there are no others.
    smallest_radius_mm : float
        No inner bend is tighter, and concavities narrower than twice this are bridged. Outer bends are no
        tighter than this or the distance, whichever is less.
    corner_mm : float or None
        Radius of a rectangle's corners; None: the distance, or the smallest radius where that is more.
    neck_mm : float
        Width of the necks that join parts which lie apart.
    """

    distance_mm: float = 2.5
    forms: tuple[CutForm | PlacedForm, ...] = ("outline",)
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
    alike : Alike
        Whether stickers of one sketch lie apart, or together, as far as that can be had.
    """

    gap_mm: float = 2.0
    clearance_mm: float = 2.0
    rounds: int = 60
    starts: int = 3
    alike: Alike = "apart"
