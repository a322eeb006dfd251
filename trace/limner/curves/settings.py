"""Settings of the stage that turns the planar map into curves."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["CurveSettings"]


@dataclass(frozen=True, slots=True)
class CurveSettings:
    """How curves are fitted.

    Parameters
    ----------
    smoothing_mm : float
        Largest distance between the curves and what was drawn, millimetres, where no area or zone says
        otherwise. Above a fifth of the line's width the hand's tremor is taken out within it.
    nodes : int or None
        Budget of nodes for the whole drawing; None: as few as the smoothing allows.
    lines : {"drawn", "even", "tapered", "none"}
        Lines as the pencil drew them, rebuilt with an even width, the same with free ends that run out into a
        point, or left out.
    line_fill : str
        Screen colour of lines and solid blacks, "#rrggbb".
    silhouette_fill : str
        Screen colour of silhouettes, "#rrggbb".
    """

    # 0.15 mm is about the width of a sharp pencil's waver, and below what a viewer of a sticker sees.
    smoothing_mm: float = 0.15
    nodes: int | None = None
    lines: Literal["drawn", "even", "tapered", "none"] = "drawn"
    line_fill: str = "#000000"
    silhouette_fill: str = "#ffffff"
