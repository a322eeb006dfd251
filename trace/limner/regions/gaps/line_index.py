"""Points of all lines, found by place."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from limner.model.arrays import Floats, Indices
from limner.model.regionmap import LineGraph
from limner.regions.gaps.ends import End

__all__ = ["LineIndex"]


# Spacing of the points by which lines are found, in line widths.
_SPACING_WIDTHS = 0.15


class LineIndex:
    """All points of all edges, found by place.

    Long segments are filled up with points, so that what is far from all points is far from all lines.
    """

    def __init__(self, graph: LineGraph) -> None:
        counts = np.array([len(edge.points) for edge in graph.edges])
        points = np.concatenate([edge.points for edge in graph.edges])
        # A bridge stands for a line of the usual width.
        width = np.concatenate(
            [
                np.full(len(edge.points), graph.line_width_mm) if edge.kind == "bridge" else edge.width_mm
                for edge in graph.edges
            ]
        )
        edge = np.repeat(np.arange(len(counts)), counts)
        place = np.arange(len(points)) - np.repeat(np.cumsum(counts) - counts, counts)
        step = np.zeros_like(points)
        step[:-1] = np.where((edge[1:] == edge[:-1])[:, None], np.diff(points, axis=0), 0.0)
        length = np.hypot(step[:, 0], step[:, 1])
        spacing = _SPACING_WIDTHS * graph.line_width_mm
        pieces = np.maximum(np.ceil(length / spacing).astype(int), 1)
        source = np.repeat(np.arange(len(points)), pieces)
        share = (np.arange(len(source)) - np.repeat(np.cumsum(pieces) - pieces, pieces)) / pieces[source]
        self.points = points[source] + share[:, None] * step[source]
        self.width = width[source]
        self.edge = edge[source]
        # A point between two of the edge's own belongs to the nearer one.
        self.place = place[source] + (share > 0.5)
        self._tree = cKDTree(self.points)
        self.is_tip = np.zeros(len(self.points), bool)

    def mark_tips(self, ends: Sequence[End], radius: float) -> None:
        """Note which points lie within `radius` of the free end of their own line."""
        for end in ends:
            near = self.near(end.point, radius)
            self.is_tip[near[self.edge[near] == end.edge]] = True

    def near(self, point: Floats, radius: float) -> Indices:
        """Indices of all points within `radius`, ascending."""
        return np.array(self._tree.query_ball_point(point, radius, return_sorted=True), np.int64)

    def any_near(self, points: Floats, radius: float) -> NDArray[np.bool_]:
        """Whether any point of a line lies within `radius` of each of the given ones."""
        return np.asarray(self._tree.query_ball_point(points, radius, return_length=True) > 0)
