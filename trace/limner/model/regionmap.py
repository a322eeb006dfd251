"""The planar map: centrelines of the drawn lines, and the areas that they enclose."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import frozen

__all__ = ["Area", "CornerMark", "Cycle", "Edge", "EdgeKind", "InkRing", "LineGraph", "RegionMap"]

EdgeKind = Literal["line", "solid", "bridge", "parting", "guess"]
"""What an edge is: a drawn line; a line through or along a solid black; a bridge over a gap; a line that
parts an area for its fills alone; a guess around a part of the drawing that stays open."""

Cycle = tuple[tuple[int, bool], ...]
"""A closed walk along edges: (index of the edge, whether it is walked from its start to its end)."""


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """One edge of the map, from junction to junction (or to a free end).

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Centreline in millimetres, n >= 2; its first and last rows are exactly those of its nodes.
        A loop without a junction starts and ends at the same node.
    width_mm : ndarray of float64, shape (n,)
        Width of the ink at each point; 0 on guesses, and on bridges that are not inked.
    start, end : int
        Indices of its nodes.
    kind : EdgeKind
        What the edge is.
    """

    points: NDArray[np.float64]
    width_mm: NDArray[np.float64]
    start: int
    end: int
    kind: EdgeKind = "line"

    def __post_init__(self) -> None:
        points = frozen(self.points, np.float64, (None, 2), "points")
        if len(points) < 2:
            raise ValueError("an edge needs at least two points")
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "width_mm", frozen(self.width_mm, np.float64, (len(points),), "width_mm"))

    @property
    def inked(self) -> bool:
        """Whether it shows as a line: drawn, or a bridge in ink."""
        return self.kind == "line" or (self.kind == "bridge" and bool(self.width_mm.max() > 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class LineGraph:
    """Centrelines of the ink, before gaps are closed and areas are found.

    Parameters
    ----------
    nodes : ndarray of float64, shape (n, 2)
        Junctions and ends, in millimetres.
    edges : tuple of Edge
        Every line of the drawing.
    line_width_mm : float
        Typical width of the lines.
    """

    nodes: NDArray[np.float64]
    edges: tuple[Edge, ...]
    line_width_mm: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "nodes", frozen(self.nodes, np.float64, (None, 2), "nodes"))


@dataclass(frozen=True, slots=True, eq=False)
class InkRing:
    """A closed outline of the ink, at the 0.5 iso-line of its coverage.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        Closed polyline in millimetres, first point not repeated; outer rings are positive, holes
        negative (see `limner.model.geometry`).
    piece : int
        Which connected piece of ink it bounds; rings of one piece form one shape (even-odd).
    solid : bool
        Whether that piece is a solid black rather than lines.
    width_mm : ndarray of float64, shape (n,), or None
        Width of the line at each point, where thin lines stand beside bold ones; None: that of the drawing.
    """

    points: NDArray[np.float64]
    piece: int
    solid: bool
    width_mm: NDArray[np.float64] | None = None

    def __post_init__(self) -> None:
        points = frozen(self.points, np.float64, (None, 2), "points")
        object.__setattr__(self, "points", points)
        if self.width_mm is not None:
            object.__setattr__(
                self, "width_mm", frozen(self.width_mm, np.float64, (len(points),), "width_mm")
            )


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """An enclosed area of the drawing.

    Parameters
    ----------
    name : str
        Stable name, or the one that the user gave.
    outline : Cycle
        Its outer boundary, positive.
    holes : tuple of Cycle
        Boundaries of what lies inside it and is not it, negative.
    parent : int or None
        Index of the area in which it lies; None directly on the page.
    inside : tuple of float
        A point (x, y) well inside it, millimetres.
    area_mm2 : float
        Its visible size, holes taken off.
    fill : str or None
        Colour that the user or the sketch gives it; None: a default tint is chosen.
    order : int
        Position in the stack, 0 at the bottom.
    bridged_gaps : int
        How many bridges its boundary crosses.
    smoothing_mm : float or None
        Its own smoothing; None: the drawing's.
    nodes : int or None
        Its own budget of nodes; None: no limit of its own.
    rule : int or None
        Number of the rule that the user gave for it (of several, of the one that gives its fill); None:
        no rule hit it.
    inked : bool
        Whether it is the inside of a solid black, and nobody gave it another colour.
    """

    name: str
    outline: Cycle
    holes: tuple[Cycle, ...]
    parent: int | None
    inside: tuple[float, float]
    area_mm2: float
    fill: str | None = None
    order: int = 0
    bridged_gaps: int = 0
    smoothing_mm: float | None = None
    nodes: int | None = None
    rule: int | None = None
    inked: bool = False


@dataclass(frozen=True, slots=True)
class CornerMark:
    """A place at which outlines are told whether they have a corner.

    Parameters
    ----------
    at_mm : tuple of float
        The place (x, y).
    reach_mm : float
        How far around it there is no corner (no other one, where it is sharp itself).
    sharp : bool
        Whether outlines that have it as one of their points have a corner there.
    """

    at_mm: tuple[float, float]
    reach_mm: float
    sharp: bool


@dataclass(frozen=True, slots=True, eq=False)
class RegionMap:
    """The whole planar map of one drawing.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the page.
    graph : LineGraph
        Edges, among them the bridges; areas and silhouettes refer to them by index.
    areas : tuple of Area
        Bottom to top.
    silhouettes : tuple of Cycle
        The outer boundary of each separate part of the drawing, positive: the base that a sticker
        stands on; of a part that stays open a guess, by an edge of kind "guess", which areas may
        reach beyond: together they cover all of these. Empty where nothing is drawn.
    ink : tuple of InkRing
        Outlines of the drawn ink.
    openings : tuple of Cycle
        Boundaries of what the base leaves open inside the silhouettes, negative.
    marks : tuple of CornerMark
        Where somebody said that there is a corner, or none; of two that contradict the later one counts.
    """

    width_mm: float
    height_mm: float
    graph: LineGraph
    areas: tuple[Area, ...]
    silhouettes: tuple[Cycle, ...]
    ink: tuple[InkRing, ...] = field(default=())
    openings: tuple[Cycle, ...] = ()
    marks: tuple[CornerMark, ...] = ()
