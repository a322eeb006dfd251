"""The figure that is traced: the drawn ink, completed about its axis where that is asked for.

What knows of symmetry is loaded only then.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from limner.model.arrays import Floats
from limner.model.drawing import Drawing
from limner.model.geometry import Axis
from limner.model.raster import ScaledInk, ScaledPage
from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.placing import PageFrame
from limner.pipeline.sketch.scale import drawn_width_mm, rescale
from limner.pipeline.sketch.settings import TraceSettings

if TYPE_CHECKING:
    from limner.job import MirrorTable

__all__ = ["Figure", "Mirrored", "complete_figure", "even_out"]


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
    within: tuple[Floats, ...] | None = None
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
    page : ScaledPage
        The page.
    ink : ScaledInk
        Its ink, or that of the completed figures on a larger page.
    mirrored : tuple of Mirrored
        What is to be symmetric.
    origin_mm : tuple of float
        Where the page's top left corner lies on the ink's raster.
    """

    page: ScaledPage
    ink: ScaledInk
    mirrored: tuple[Mirrored, ...] = ()
    origin_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def frame(self) -> PageFrame:
        """Left, top, width and height of the page on the ink's raster."""
        height, width = self.page.grey.shape
        return (*self.origin_mm, width * self.page.mm_per_px, height * self.page.mm_per_px)


def complete_figure(page: ScaledPage, ink: ScaledInk, settings: TraceSettings, watch: Stopwatch) -> Figure:
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
            from limner.pipeline.sketch.mirroring import about_axis

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
    return Figure(page, ink, mirrored, (figure.origin_mm[0] * factor, figure.origin_mm[1] * factor))


def even_out(drawing: Drawing, mirrored: Sequence[Mirrored], watch: Stopwatch) -> Drawing:
    """Replace one half of each mirrored figure by the exact reflection of the other.

    Returns
    -------
    Drawing
        Symmetric to rounding, but for what is to stay one-sided.
    """
    for one in mirrored:
        with watch.stage("symmetry"):
            from limner.symmetry import mirror_drawing

            drawing = mirror_drawing(drawing, one.axis, one_sided=one.one_sided, within=one.within)
    return drawing
