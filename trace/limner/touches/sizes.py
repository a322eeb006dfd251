"""What areas have gained or lost as their lines moved."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from limner.geometry.cycles import cycle_points
from limner.model.regionmap import Area, Cycle, LineGraph

__all__ = ["resized"]


def resized(areas: Sequence[Area], before: LineGraph, after: LineGraph) -> tuple[Area, ...]:
    """Areas with the sizes that they have with other lines.

    Parameters
    ----------
    areas : sequence of Area
        As they were.
    before, after : LineGraph
        The same edges, before and after points of them were moved.
    """
    moved = {k for k, edge in enumerate(after.edges) if edge is not before.edges[k]}
    return tuple(
        replace(area, area_mm2=max(0.0, area.area_mm2 + _size(area, after) - _size(area, before)))
        if moved & {edge for cycle in (area.outline, *area.holes) for edge, _ in cycle}
        else area
        for area in areas
    )


def _size(area: Area, graph: LineGraph) -> float:
    return sum(_signed(cycle, graph) for cycle in (area.outline, *area.holes))


def _signed(cycle: Cycle, graph: LineGraph) -> float:
    x, y = cycle_points(graph.edges, cycle).T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2.0
