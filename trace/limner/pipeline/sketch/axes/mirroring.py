"""The steps of a trace at which figures are mirrored: before areas are sought, and after curves are fitted.

What knows of symmetry is loaded only where it is asked for.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from limner.model.drawing import Drawing
from limner.model.raster import ScaledInk, ScaledPage
from limner.model.regionmap import LineGraph
from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.axes.figure import Figure, Mirrored
from limner.pipeline.sketch.memory import Memory
from limner.pipeline.sketch.scale import drawn_width_mm, rescale
from limner.pipeline.sketch.settings import TraceSettings

if TYPE_CHECKING:
    from limner.job import MirrorTable

__all__ = ["complete_figure", "even_out"]


# With touches the figure is wanted without them, too, as it tells where and how large they are, and with
# those before a pull.
_FIGURES = 3


def complete_figure(
    page: ScaledPage, ink: ScaledInk, settings: TraceSettings, memory: Memory, watch: Stopwatch
) -> Figure:
    """Find the axis where one is asked for, complete a half-drawn figure, and set the drawing's width.

    Parameters
    ----------
    page, ink : ScaledPage, ScaledInk
        The page, and the ink on it.
    settings : TraceSettings
        What the user decides.
    memory : Memory
        What was found before.
    watch : Stopwatch
        Measures the stage.

    Raises
    ------
    GeometryError
        No axis can be trusted, or nothing is drawn on the side to be kept.
    """
    tables = _tables(settings)
    # Names of areas say what stays one-sided.
    named = (settings.areas, settings.screen_of) if any(table.one_sided for table in tables) else None
    sources = (page, ink, settings.mirror, settings.drawing_width_mm, named)
    return memory.given("figure", sources, lambda: _figure(page, ink, settings, tables, watch), _FIGURES)


def _figure(
    page: ScaledPage,
    ink: ScaledInk,
    settings: TraceSettings,
    tables: "tuple[MirrorTable, ...]",
    watch: Stopwatch,
) -> Figure:
    figure = Figure(page, ink)
    if tables:
        with watch.stage("symmetry"):
            from limner.pipeline.sketch.axes.about_axis import about_axis

            for table in tables:
                figure = about_axis(figure, settings, table)
    if settings.drawing_width_mm is None:
        return figure
    return _scaled(figure, settings.drawing_width_mm / drawn_width_mm(figure.ink))


def _tables(settings: TraceSettings) -> "tuple[MirrorTable, ...]":
    if settings.mirror == "off":
        return ()
    if settings.mirror == "auto":
        from limner.job import MirrorTable

        return (MirrorTable(),)
    return settings.mirror


def _scaled(figure: Figure, factor: float) -> Figure:
    page, ink = rescale(figure.page, figure.ink, factor)
    mirrored = tuple(one.moved((0.0, 0.0), factor) for one in figure.mirrored)
    origin = (figure.origin_mm[0] * factor, figure.origin_mm[1] * factor)
    graph = None if figure.graph is None else _enlarged(figure.graph, factor)
    return Figure(page, ink, mirrored, origin, graph)


def _enlarged(graph: LineGraph, factor: float) -> LineGraph:
    edges = (
        replace(edge, points=edge.points * factor, width_mm=edge.width_mm * factor) for edge in graph.edges
    )
    return LineGraph(graph.nodes * factor, tuple(edges), graph.line_width_mm * factor)


def even_out(
    drawing: Drawing, mirrored: Sequence[Mirrored], smoothing_mm: float, watch: Stopwatch
) -> Drawing:
    """Replace one half of each mirrored figure by the exact reflection of the other.

    What a seam moves, it moves by no more than the smoothing, and not out of its line.

    Returns
    -------
    Drawing
        Symmetric to rounding, but for what is to stay one-sided.
    """
    stray_mm = min(smoothing_mm, 0.5 * drawing.line_width_mm)
    for one in mirrored:
        with watch.stage("symmetry"):
            from limner.symmetry import mirror_drawing

            drawing = mirror_drawing(
                drawing, one.axis, stray_mm=stray_mm, one_sided=one.one_sided, within=one.within
            )
    return drawing
