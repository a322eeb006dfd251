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
from limner.symmetry.frame import keep_side
from limner.symmetry.mirror import mirror_drawing

if TYPE_CHECKING:
    from limner.job.tables import MirrorTable

__all__ = ["Figure", "complete_figure", "even_out"]

_SIDE = re.compile(r"-(left|right|top|bottom)$")


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """Ink to be traced.

    Parameters
    ----------
    page : FlatPage
        The page, scale set.
    ink : InkMap
        Its ink, or that of the completed figure on a larger page.
    axis : Axis or None
        Axis of symmetry in millimetres of the ink's raster.
    origin_mm : tuple of float
        Where the page's top left corner lies on the ink's raster.
    """

    page: FlatPage
    ink: InkMap
    axis: Axis | None = None
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
    if settings.mirror != "off":
        with watch.stage("symmetry"):
            figure = _about_axis(figure, settings)
    if settings.drawing_width_mm is None:
        return figure
    return _scaled(figure, settings.drawing_width_mm / drawn_width_mm(figure.ink))


def _scaled(figure: Figure, factor: float) -> Figure:
    page, ink = rescale(figure.page, figure.ink, factor)
    axis = figure.axis
    if axis is not None:
        axis = replace(axis, x_mm=axis.x_mm * factor, y_mm=axis.y_mm * factor)
    origin = (figure.origin_mm[0] * factor, figure.origin_mm[1] * factor)
    return Figure(page, ink, axis, origin)


def _about_axis(figure: Figure, settings: TraceSettings) -> Figure:
    """The figure with its axis; completed where only a half is drawn, and where a guide line is to vanish."""
    from limner.job.tables import MirrorTable

    table = MirrorTable() if isinstance(settings.mirror, str) else settings.mirror
    graph = build_graph(figure.ink)
    stay = _outlines_of(figure, graph, settings, table.one_sided)
    axis = _axis(figure, graph, table, stay)
    if axis.how not in ("half", "guide") and not is_half_drawn(graph, axis):
        return replace(figure, axis=settle_side(figure.ink, graph, axis))
    done = complete_half(figure.ink, graph, axis, one_sided=stay)
    assert figure.ink.mm_per_px is not None
    left, top = (offset * figure.ink.mm_per_px for offset in done.offset_px)
    return Figure(figure.page, done.ink, done.axis, (left, top))


def _axis(
    figure: Figure, graph: LineGraph, table: "MirrorTable", one_sided: Sequence[NDArray[np.float64]]
) -> Axis:
    if table.at is None or table.angle is None:
        axis = find_axis(figure.ink, graph, without=one_sided)
    else:
        left, top, width, height = figure.frame
        x_mm, y_mm = left + table.at[0] * width, top + table.at[1] * height
        axis = Axis(x_mm, y_mm, table.angle % 180.0, 1.0, "by hand")
    return axis if table.keep is None else replace(axis, keep=keep_side(axis, table.keep))


def _outlines_of(
    figure: Figure, graph: LineGraph, settings: TraceSettings, names: Collection[str]
) -> list[NDArray[np.float64]]:
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
    drawing: Drawing, figure: Figure, settings: TraceSettings, rule_of: dict[str, int], watch: Stopwatch
) -> tuple[Drawing, dict[str, int]]:
    """Replace one half of the drawing by the exact reflection of the other, where it has an axis.

    Returns
    -------
    drawing : Drawing
        Symmetric to rounding, but for what is to stay one-sided.
    rule_of : dict of str to int
        The same as given, with the names of pairs ("eye-left", "eye-right") for those that were "eye".
    """
    if figure.axis is None:
        return drawing, rule_of
    one_sided = () if isinstance(settings.mirror, str) else settings.mirror.one_sided
    with watch.stage("symmetry"):
        even = mirror_drawing(drawing, figure.axis, one_sided=one_sided, own_names=tuple(rule_of))
    names = (shape.name for shape in even.fills)
    rules = {name: rule_of.get(name, rule_of.get(_SIDE.sub("", name))) for name in names}
    return even, {name: rule for name, rule in rules.items() if rule is not None}
