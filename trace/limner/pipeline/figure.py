"""The figure that is traced: the drawn ink, completed about its axis where that is asked for."""

from dataclasses import dataclass, replace

from limner.model.drawing import Drawing
from limner.model.geometry import Axis
from limner.model.raster import FlatPage, InkMap
from limner.pipeline.progress import Stopwatch
from limner.pipeline.scale import drawn_width_mm, rescale
from limner.pipeline.settings import TraceSettings
from limner.pipeline.tables import PageFrame

__all__ = ["Figure", "complete_figure", "even_out"]


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
    """Find the axis where one is asked for, complete a half-drawn figure, and set the drawing's width."""
    figure = Figure(page, ink)
    if settings.drawing_width_mm is None:
        return figure
    page, ink = rescale(page, ink, settings.drawing_width_mm / drawn_width_mm(figure.ink))
    return replace(figure, page=page, ink=ink)


def even_out(
    drawing: Drawing, figure: Figure, settings: TraceSettings, rule_of: dict[str, int], watch: Stopwatch
) -> tuple[Drawing, dict[str, int]]:
    """Replace one half of the drawing by the exact reflection of the other, where it has an axis."""
    if figure.axis is None:
        return drawing, rule_of
    raise NotImplementedError
