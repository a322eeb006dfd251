"""What can be set about areas: how far gaps are closed, and rules for single areas."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

__all__ = ["AreaRule", "RegionSettings"]


def _in_millimetres(point: tuple[float, float]) -> str:
    return f"({point[0]:.1f} mm, {point[1]:.1f} mm)"


@dataclass(frozen=True, slots=True)
class RegionSettings:
    """How a drawing is divided into areas.

    Parameters
    ----------
    largest_gap_mm : float or None
        Gaps in the pencil up to this are bridged; 0 bridges none; None: chosen from the width of the lines
        and the size of the drawing.
    bridges : {"inked", "open"}
        Whether a gap within one line is closed in ink, too, or in fills alone.
    """

    largest_gap_mm: float | None = None
    bridges: Literal["inked", "open"] = "inked"


@dataclass(frozen=True, slots=True)
class AreaRule:
    """What the user wants of one area.

    Parameters
    ----------
    at_mm : tuple of float
        A point (x, y) in it.
    name : str or None
        Its name; two rules with the same name join their areas.
    fill : str or None
        Screen colour "#rrggbb".
    order : int or None
        Its place in the stack: areas with an order lie in that order among each other, and above all
        others if it is positive, below if it is negative; 0 and None leave it where it is.
    smoothing_mm : float or None
        Its own smoothing.
    nodes : int or None
        Its own budget of nodes.
    skip : bool
        Leave it unfilled: what lies under it shows.
    number : int or None
        What its areas are marked with, so that the rule that made them is known later on.
    shown : callable
        How a point in millimetres is written where the rule comes from, for messages.
    """

    at_mm: tuple[float, float]
    name: str | None = None
    fill: str | None = None
    order: int | None = None
    smoothing_mm: float | None = None
    nodes: int | None = None
    skip: bool = False
    number: int | None = None
    shown: Callable[[tuple[float, float]], str] = field(default=_in_millimetres, compare=False)
