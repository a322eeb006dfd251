"""What became of each touch, in words and where it is: for reports and proofs."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Floats
from limner.model.drawing import Drawing
from limner.model.geometry import CubicPath
from limner.model.regionmap import RegionMap
from limner.model.touch import TouchOutcome
from limner.pipeline.sketch.axes.figure import Figure
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.touching import TouchedInk, points_of

if TYPE_CHECKING:
    from limner.job import TouchTable

__all__ = ["touch_outcomes"]

# A line is that of a touch where it lies within this of it, in line widths.
_BESIDE_LINE_WIDTHS = 1.0

# An edge is a line's where more than this share of it lies beside the line: others only meet it.
_LEAST_BESIDE = 0.5

# A node is at a corner within this, in line widths: outlines on both sides of a line have it.
_AT_CORNER_LINE_WIDTHS = 1.5

# How far a pull reaches without a reach of its own, in its own lengths, and in line widths at least: as in
# `limner.touches.pull`.
_REACH_LENGTHS, _REACH_LINE_WIDTHS = 4.0, 6.0


def touch_outcomes(
    settings: TraceSettings,
    figure: Figure,
    regions: RegionMap,
    drawing: Drawing,
    touched: TouchedInk,
) -> tuple[TouchOutcome, ...]:
    """What became of each touch.

    Parameters
    ----------
    settings : TraceSettings
        Of them, the touches.
    figure : Figure
        What was traced.
    regions : RegionMap
        Its map, as it was fitted.
    drawing : Drawing
        The result.
    touched : TouchedInk
        What touches did to the ink.

    Returns
    -------
    tuple of TouchOutcome
        In the order of the touches.
    """
    found = []
    for number, table in enumerate(settings.touches):
        line = points_of(table, figure.frame, figure.mirrored)
        if table.kind in ("draw", "rub", "part"):
            from limner.touches import smooth_line

            line = smooth_line(line, figure.ink.line_width_mm / 2.0)
        look = _Look(table, line, regions, drawing, touched.changed_mm2.get(number, 0.0))
        words = _of_two(number, touched.taken_back) or _WORDS[table.kind](look)
        found.append(TouchOutcome(table.kind, number, line, words))
    return tuple(found)


def _of_two(number: int, taken_back: Mapping[int, int]) -> str | None:
    """What is to be said of a line that was drawn and rubbed out again."""
    if number in taken_back:
        return f"took back number {taken_back[number] + 1}"
    by = next((rub for rub, draw in taken_back.items() if draw == number), None)
    return None if by is None else f"taken back by number {by + 1}"


class _Look:
    """What the words about one touch are made of."""

    def __init__(
        self, table: "TouchTable", line: Floats, regions: RegionMap, drawing: Drawing, changed_mm2: float
    ) -> None:
        self.line, self.changed_mm2, self.reach = line, changed_mm2, table.reach
        self.length = float(arc_lengths(line)[-1])
        self._regions, self._drawing = regions, drawing
        self._width = regions.graph.line_width_mm

    def areas(self, kind: str) -> int:
        """How many areas the line bounds, as edges of a kind."""
        reach = _BESIDE_LINE_WIDTHS * self._width
        beside = {
            number
            for number, edge in enumerate(self._regions.graph.edges)
            if edge.kind == kind and _share_beside(edge.points, self.line, reach) > _LEAST_BESIDE
        }
        return sum(
            any(edge in beside for cycle in (area.outline, *area.holes) for edge, _ in cycle)
            for area in self._regions.areas
        )

    def moved_nodes(self) -> int:
        """How many nodes lie within reach of the end of a pull."""
        usual = max(_REACH_LENGTHS * self.length, _REACH_LINE_WIDTHS * self._width)
        reach = self.reach or usual
        return sum(int((_away(path.nodes, self.line[-1]) < reach).sum()) for path in self._paths())

    def outlines(self, *, sharp: bool) -> int:
        """How many outlines have a corner at the place, or pass it without one."""
        reach = _AT_CORNER_LINE_WIDTHS * self._width
        count = 0
        for path in self._paths():
            corner = bool((_away(path.nodes[~path.smooth[: len(path.nodes)]], self.line[0]) < reach).any())
            passes = bool((_away(path.segments.reshape(-1, 2), self.line[0]) < reach).any())
            count += corner if sharp else passes and not corner
        return count

    def _paths(self) -> list[CubicPath]:
        return [path for shape in self._drawing.shapes for path in shape.paths]


def _share_beside(points: Floats, line: Floats, reach: float) -> float:
    """Share of points within reach of a line whose points lie closer than that."""
    if (points.max(axis=0) < line.min(axis=0) - reach).any():
        return 0.0
    if (points.min(axis=0) > line.max(axis=0) + reach).any():
        return 0.0
    return float((np.hypot(*(points[:, None] - line[None]).transpose(2, 0, 1)) < reach).any(axis=1).mean())


def _away(points: Floats, place: Floats) -> Floats:
    return np.asarray(np.hypot(*(points - place).T))


def _counted(count: int, what: str) -> str:
    return f"{count or 'no'} {what}{'' if count == 1 else 's'}"


def _rubbed(look: _Look) -> str:
    if look.changed_mm2 == 0.0:
        return "found no ink to rub out"
    return f"rubbed out {look.changed_mm2:.2f} mm² of ink"


_WORDS: dict[str, Callable[[_Look], str]] = {
    "draw": lambda look: f"drew {look.length:.1f} mm, a border of {_counted(look.areas('line'), 'area')}",
    "rub": _rubbed,
    "part": lambda look: f"parted {_counted(look.areas('parting'), 'fill')} along {look.length:.1f} mm",
    "open": lambda _: "left the nearest gap open",
    "pull": lambda look: (
        f"moved the line by {look.length:.2f} mm, and {_counted(look.moved_nodes(), 'node')}"
    ),
    "corner": lambda look: f"made a corner in {_counted(look.outlines(sharp=True), 'outline')}",
    "smooth": lambda look: f"left no corner in {_counted(look.outlines(sharp=False), 'outline')}",
}
