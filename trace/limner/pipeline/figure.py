"""The figure that is traced: the drawn ink, completed about its axis where that is asked for."""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from limner.errors import GeometryError
from limner.model.drawing import Drawing
from limner.model.geometry import Axis
from limner.model.raster import FlatPage, InkMap
from limner.model.regionmap import LineGraph
from limner.pipeline.progress import Stopwatch
from limner.pipeline.scale import drawn_width_mm, rescale
from limner.pipeline.settings import TraceSettings
from limner.pipeline.tables import PageFrame, area_rules, cycle_points
from limner.regions.build import build_regions
from limner.regions.graph import build_graph
from limner.regions.settings import RegionSettings
from limner.symmetry.axis import find_axis, is_half_drawn, settle_side
from limner.symmetry.complete import complete_half
from limner.symmetry.erase import erase_guide
from limner.symmetry.frame import frame_of, keep_side
from limner.symmetry.mirror import mirror_drawing

if TYPE_CHECKING:
    from limner.job.tables import MirrorTable

__all__ = ["Figure", "Mirrored", "complete_figure", "even_out"]

Ring = NDArray[np.float64]

_SIDE = re.compile(r"-(left|right|top|bottom)$")


@dataclass(frozen=True, slots=True, eq=False)
class Mirrored:
    """One figure that is mirrored.

    Parameters
    ----------
    axis : Axis
        Its axis in millimetres of the ink's raster.
    within : tuple of ndarray, shape (n, 2), or None
        Closed rings in millimetres around the figure and its reflection; None: all of the drawing.
    one_sided : tuple of str
        Names of areas that stay as they are drawn.
    """

    axis: Axis
    within: tuple[Ring, ...] | None = None
    one_sided: tuple[str, ...] = ()

    def moved(self, by: tuple[float, float], factor: float) -> "Mirrored":
        """The same on a page that was enlarged and then grown at the left and at the top."""
        axis = replace(self.axis, x_mm=self.axis.x_mm * factor + by[0], y_mm=self.axis.y_mm * factor + by[1])
        rings = None if self.within is None else tuple(ring * factor + np.array(by) for ring in self.within)
        return replace(self, axis=axis, within=rings)


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """Ink to be traced.

    Parameters
    ----------
    page : FlatPage
        The page, scale set.
    ink : InkMap
        Its ink, or that of the completed figures on a larger page.
    mirrored : tuple of Mirrored
        What is to be symmetric.
    origin_mm : tuple of float
        Where the page's top left corner lies on the ink's raster.
    """

    page: FlatPage
    ink: InkMap
    mirrored: tuple[Mirrored, ...] = ()
    origin_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def frame(self) -> PageFrame:
        """Left, top, width and height of the page on the ink's raster."""
        assert self.page.mm_per_px is not None
        height, width = self.page.grey.shape
        return (*self.origin_mm, width * self.page.mm_per_px, height * self.page.mm_per_px)


def complete_figure(page: FlatPage, ink: InkMap, settings: TraceSettings, watch: Stopwatch) -> Figure:
    """Find the axis where one is asked for, complete a half-drawn figure, and set the drawing's width.

    Raises
    ------
    GeometryError
        No axis can be trusted, or nothing is drawn on the side to be kept.
    """
    figure = Figure(page, ink)
    tables = _tables(settings)
    if tables:
        with watch.stage("symmetry"):
            for table in tables:
                figure = _about_axis(figure, settings, table)
    if settings.drawing_width_mm is None:
        return figure
    return _scaled(figure, settings.drawing_width_mm / drawn_width_mm(figure.ink))


def _tables(settings: TraceSettings) -> "tuple[MirrorTable, ...]":
    if settings.mirror == "off":
        return ()
    if settings.mirror == "auto":
        from limner.job.tables import MirrorTable

        return (MirrorTable(),)
    return settings.mirror


def _scaled(figure: Figure, factor: float) -> Figure:
    page, ink = rescale(figure.page, figure.ink, factor)
    mirrored = tuple(one.moved((0.0, 0.0), factor) for one in figure.mirrored)
    return Figure(page, ink, mirrored, (figure.origin_mm[0] * factor, figure.origin_mm[1] * factor))


def _about_axis(figure: Figure, settings: TraceSettings, table: "MirrorTable") -> Figure:
    """The figure with one more axis; completed where only a half is drawn, and freed of a guide line."""
    graph = build_graph(figure.ink)
    stay = _outlines_of(figure, graph, settings, table.one_sided)
    within = None if table.box is None else (_box(figure.frame, table.box),)
    axis = _axis(figure, graph, table, stay, within)
    if axis.how not in ("half", "guide") and (within is not None or not is_half_drawn(graph, axis)):
        one = Mirrored(settle_side(figure.ink, graph, axis), within, table.one_sided)
        return replace(figure, mirrored=(*figure.mirrored, one))
    bare = erase_guide(figure.ink, graph, axis, one_sided=stay, within=within)
    if bare is not figure.ink:
        graph = build_graph(bare)
    done = complete_half(bare, graph, axis, one_sided=stay, within=within)
    assert figure.ink.mm_per_px is not None
    left, top = (offset * figure.ink.mm_per_px for offset in done.offset_px)
    earlier = tuple(one.moved((left, top), 1.0) for one in figure.mirrored)
    if within is not None:
        within = (_with_reflection(within[0] + np.array([left, top]), done.axis),)
    mirrored = (*earlier, Mirrored(done.axis, within, table.one_sided))
    origin = (figure.origin_mm[0] + left, figure.origin_mm[1] + top)
    return Figure(figure.page, done.ink, mirrored, origin)


def _box(frame: PageFrame, box: tuple[float, float, float, float]) -> Ring:
    left, top, width, height = frame
    corners = np.array([[box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]]])
    return np.asarray(np.array([left, top]) + corners * [width, height])


def _with_reflection(ring: Ring, axis: Axis) -> Ring:
    """Convex hull of a ring and its mirror image."""
    import shapely

    both = np.concatenate([ring, frame_of(axis).reflect(ring)])
    return np.asarray(shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(both)))[:-1])


def _axis(
    figure: Figure,
    graph: LineGraph,
    table: "MirrorTable",
    one_sided: Sequence[Ring],
    within: tuple[Ring, ...] | None,
) -> Axis:
    if table.at is None or table.angle is None:
        axis = find_axis(figure.ink, graph, within=within, without=one_sided)
    else:
        left, top, width, height = figure.frame
        x_mm, y_mm = left + table.at[0] * width, top + table.at[1] * height
        axis = Axis(x_mm, y_mm, table.angle % 180.0, 1.0, "by hand")
    return axis if table.keep is None else replace(axis, keep=keep_side(axis, table.keep))


def _outlines_of(
    figure: Figure, graph: LineGraph, settings: TraceSettings, names: Collection[str]
) -> list[Ring]:
    """Outlines of the areas of these names, as they are drawn."""
    if not names:
        return []
    rules = area_rules(settings, figure.frame)
    regions = build_regions(figure.ink, graph, RegionSettings(), figure.page, rules)
    outlines = {area.name: cycle_points(regions.graph, area.outline) for area in regions.areas}
    for name in names:
        if name not in outlines:
            raise GeometryError(
                f'No area is called "{name}", so it cannot stay one-sided: '
                f"the areas are {', '.join(sorted(outlines)) or 'none'}."
            )
    return [outlines[name] for name in names]


def even_out(
    drawing: Drawing, figure: Figure, rule_of: dict[str, int], watch: Stopwatch
) -> tuple[Drawing, dict[str, int]]:
    """Replace one half of each mirrored figure by the exact reflection of the other.

    Returns
    -------
    drawing : Drawing
        Symmetric to rounding, but for what is to stay one-sided.
    rule_of : dict of str to int
        The same as given, with the names of pairs ("eye-left", "eye-right") for those that were "eye".
    """
    for one in figure.mirrored:
        with watch.stage("symmetry"):
            drawing = mirror_drawing(
                drawing, one.axis, one_sided=one.one_sided, own_names=tuple(rule_of), within=one.within
            )
        names = (shape.name for shape in drawing.fills)
        rules = {name: rule_of.get(name, rule_of.get(_SIDE.sub("", name))) for name in names}
        rule_of = {name: rule for name, rule in rules.items() if rule is not None}
    return drawing, rule_of
