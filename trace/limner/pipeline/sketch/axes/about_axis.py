"""A figure about one of its axes: the axis found, the guide line erased, the missing half completed."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from limner.errors import GeometryError
from limner.geometry.cycles import cycle_points
from limner.model.arrays import Floats
from limner.model.geometry import Axis
from limner.model.regionmap import LineGraph
from limner.pipeline.sketch.axes.figure import Figure, Mirrored
from limner.pipeline.sketch.placing import PageFrame, area_rules
from limner.pipeline.sketch.settings import TraceSettings
from limner.regions import RegionSettings, build_graph, build_regions
from limner.symmetry import (
    FoundAxis,
    complete_half,
    erase_guide,
    find_axis,
    frame_of,
    is_half_drawn,
    keep_side,
    settle_side,
)

if TYPE_CHECKING:
    from limner.job import MirrorTable

__all__ = ["about_axis"]


def about_axis(figure: Figure, settings: TraceSettings, table: "MirrorTable") -> Figure:
    """The figure with one more axis; completed where only a half is drawn, and freed of a guide line.

    Parameters
    ----------
    figure : Figure
        The figure so far.
    settings : TraceSettings
        What the user decides; of it, the names of areas.
    table : MirrorTable
        What is known of the axis.

    Returns
    -------
    Figure

    Raises
    ------
    GeometryError
        No axis can be trusted, or nothing is drawn on the side to be kept.
    """
    graph = figure.graph or build_graph(figure.ink)
    one_sided = _outlines_of(figure, graph, settings, table.one_sided)
    within = None if table.box is None else (_box(figure.frame, table.box),)
    found = _axis(figure, graph, table, one_sided, within)
    axis = found.axis
    if axis.how not in ("half", "guide") and (within is not None or not is_half_drawn(graph, axis)):
        settled = settle_side(figure.ink, graph, axis)
        one = Mirrored(settled, within, table.one_sided, tuple(one_sided))
        return replace(figure, mirrored=(*figure.mirrored, one), graph=graph)
    bare = erase_guide(figure.ink, graph, axis, found.guide, one_sided=one_sided, within=within)
    if bare is not figure.ink:
        graph = build_graph(bare)
    done = complete_half(bare, graph, axis, one_sided=one_sided, within=within)
    left, top = (offset * figure.ink.mm_per_px for offset in done.offset_px)
    earlier = tuple(one.moved((left, top), 1.0) for one in figure.mirrored)
    if within is not None:
        within = (_with_reflection(within[0] + np.array([left, top]), done.axis),)
    as_drawn = tuple(ring + np.array([left, top]) for ring in one_sided)
    mirrored = (*earlier, Mirrored(done.axis, within, table.one_sided, as_drawn))
    origin = (figure.origin_mm[0] + left, figure.origin_mm[1] + top)
    return Figure(figure.page, done.ink, mirrored, origin)


def _box(frame: PageFrame, box: tuple[float, float, float, float]) -> Floats:
    left, top, width, height = frame
    corners = np.array([[box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]]])
    return np.asarray(np.array([left, top]) + corners * [width, height])


def _with_reflection(ring: Floats, axis: Axis) -> Floats:
    """Convex hull of a ring and its mirror image."""
    import shapely

    both = np.concatenate([ring, frame_of(axis).reflect(ring)])
    return np.asarray(shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(both)))[:-1])


def _axis(
    figure: Figure,
    graph: LineGraph,
    table: "MirrorTable",
    one_sided: Sequence[Floats],
    within: tuple[Floats, ...] | None,
) -> FoundAxis:
    if table.at is None or table.angle is None:
        found = find_axis(figure.ink, graph, within=within, without=one_sided)
    else:
        left, top, width, height = figure.frame
        x_mm, y_mm = left + table.at[0] * width, top + table.at[1] * height
        found = FoundAxis(Axis(x_mm, y_mm, table.angle % 180.0, 1.0, "by hand"))
    if table.keep is None:
        return found
    return replace(found, axis=replace(found.axis, keep=keep_side(found.axis, table.keep)))


def _outlines_of(
    figure: Figure, graph: LineGraph, settings: TraceSettings, names: Collection[str]
) -> list[Floats]:
    """Outlines of the areas of these names, as they are drawn."""
    if not names:
        return []
    rules = area_rules(settings, figure.frame)
    regions = build_regions(figure.ink, graph, RegionSettings(), figure.page, rules)
    outlines = {area.name: cycle_points(regions.graph.edges, area.outline) for area in regions.areas}
    for name in names:
        if name not in outlines:
            raise GeometryError(
                f'No area is called "{name}", so it cannot stay one-sided: '
                f"the areas are {', '.join(sorted(outlines)) or 'none'}."
            )
    return [outlines[name] for name in names]
