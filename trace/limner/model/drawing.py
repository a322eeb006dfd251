"""The traced drawing: closed, filled shapes on named layers."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import frozen
from limner.model.geometry import Axis, CubicPath

__all__ = ["Drawing", "Shape", "ShapeRole", "Zone"]

ShapeRole = Literal["silhouette", "area", "line", "solid"]
"""What a shape is: the base under a whole figure, one area's fill, lines of ink, a solid black."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One closed, filled shape.

    Parameters
    ----------
    name : str
        Unique within its drawing; becomes the id in the SVG.
    role : ShapeRole
        What it is.
    paths : tuple of CubicPath
        Closed paths, filled by the even-odd rule.
    fill : str
        Screen colour "#rrggbb".
    error_mm : float
        Largest distance, measured densely both ways, between the shape's curves and the data fitted.
    area_mm2 : float
        Visible size of the area; 0 where it does not apply (lines).
    bridged_gaps : int
        How many gaps in the pencil its outline bridges.
    rule : int or None
        Number of the rule that the user gave for the area (of several, of the one that gives its fill);
        None: no rule hit it.
    inked : bool
        Whether the area is the inside of a solid black, and nobody gave it another colour.
    """

    name: str
    role: ShapeRole
    paths: tuple[CubicPath, ...]
    fill: str
    error_mm: float
    area_mm2: float = 0.0
    bridged_gaps: int = 0
    rule: int | None = None
    inked: bool = False

    def __post_init__(self) -> None:
        if not self.paths or not all(path.closed for path in self.paths):
            raise ValueError("a shape is made of closed paths")

    @property
    def node_count(self) -> int:
        """Number of on-curve points of all its paths."""
        return sum(path.node_count for path in self.paths)


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A traced drawing.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the page.
    fills : tuple of Shape
        Silhouettes and areas, bottom to top.
    lines : tuple of Shape
        Ink, above the fills, bottom to top.
    line_width_mm : float
        Typical width of the drawn lines.
    axis : Axis or None
        Axis about which it was mirrored.
    """

    width_mm: float
    height_mm: float
    fills: tuple[Shape, ...]
    lines: tuple[Shape, ...]
    line_width_mm: float
    axis: Axis | None = None

    @property
    def shapes(self) -> tuple[Shape, ...]:
        """All shapes, bottom to top."""
        return self.fills + self.lines

    @property
    def node_count(self) -> int:
        """Number of nodes of all shapes: what a budget counts."""
        return sum(shape.node_count for shape in self.shapes)

    @property
    def error_mm(self) -> float:
        """Largest error of all shapes."""
        return max((shape.error_mm for shape in self.shapes), default=0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A part of the page with its own smoothing or budget.

    Parameters
    ----------
    rings : tuple of ndarray of float64, shape (n, 2)
        Closed polylines in millimetres; a point is in the zone by the even-odd rule.
    smoothing_mm : float or None
        Smoothing inside; None: as outside.
    nodes : int or None
        Budget of nodes inside; None: no limit of its own.
    name : str
        For messages.
    """

    rings: tuple[NDArray[np.float64], ...]
    smoothing_mm: float | None = None
    nodes: int | None = None
    name: str = "zone"

    def __post_init__(self) -> None:
        rings = tuple(frozen(ring, np.float64, (None, 2), "a ring of a zone") for ring in self.rings)
        object.__setattr__(self, "rings", rings)
