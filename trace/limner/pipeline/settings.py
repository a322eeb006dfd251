"""What the user decides about one sketch."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from limner.model.geometry import Axis

__all__ = ["TraceSettings"]


@dataclass(frozen=True, slots=True)
class TraceSettings:
    """Everything that the user decides about one sketch.

    Parameters
    ----------
    width_mm : float or None
        True width of the whole page (the photograph, or the paper once straightened).
    drawing_width_mm : float or None
        True width of the drawn part instead; it wins over every other scale.
    smoothing_mm : float or None
        Largest distance between curve and drawn line; None: a share of the line's width.
    nodes : int or None
        Budget of nodes for the whole drawing.
    mirror : {"off", "auto"} or Axis
        Whether to complete or even out the drawing about an axis.
    paper : str
        "auto", "none" or an ISO 216 size.
    lines : {"drawn", "even", "none"}
        How the ink is drawn.
    zones_file : Path or None
        A TOML file with `[[area]]` and `[[zone]]` tables.
    """

    width_mm: float | None = None
    drawing_width_mm: float | None = None
    smoothing_mm: float | None = None
    nodes: int | None = None
    mirror: Literal["off", "auto"] | Axis = "off"
    paper: str = "auto"
    lines: Literal["drawn", "even", "none"] = "drawn"
    zones_file: Path | None = None
