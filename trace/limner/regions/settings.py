"""What can be set about areas: how far gaps are closed, what is too small, and rules for single areas."""

from dataclasses import dataclass

__all__ = ["AreaRule", "RegionSettings"]


@dataclass(frozen=True, slots=True)
class RegionSettings:
    """How a drawing is divided into areas.

    Parameters
    ----------
    largest_gap_mm : float or None
        Gaps in the pencil up to this are bridged; 0 bridges none; None: chosen from the width of the lines
        and the size of the drawing.
    smallest_area_mm2 : float or None
        Areas that show less than this between their lines are folded into a neighbour; None: three
        square line widths, or 0.05 % of the page if that is less.
    border_closes : bool
        Whether lines that run off the page are closed by its border.
    """

    largest_gap_mm: float | None = None
    smallest_area_mm2: float | None = None
    border_closes: bool = False


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
    """

    at_mm: tuple[float, float]
    name: str | None = None
    fill: str | None = None
    order: int | None = None
    smoothing_mm: float | None = None
    nodes: int | None = None
    skip: bool = False
    number: int | None = None
