"""The steps from a page that was read to closed, filled shapes.

Stages are loaded while others work, so none of them is imported up here.
"""

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.memory import Memory
from limner.pipeline.sketch.settings import TraceSettings

if TYPE_CHECKING:
    from limner.model.drawing import Drawing
    from limner.model.raster import ScaledInk, ScaledPage
    from limner.model.regionmap import RegionMap
    from limner.model.touch import TouchOutcome
    from limner.pipeline.sketch.mapping import SketchMap
    from limner.pipeline.sketch.page import Reading
    from limner.pipeline.sketch.touching import TouchedInk

__all__ = ["TraceResult", "trace_page"]


@dataclass(frozen=True, slots=True, eq=False)
class TraceResult:
    """The drawing and what led to it.

    Parameters
    ----------
    drawing : Drawing
        The result.
    page : ScaledPage
        The straightened page.
    ink : ScaledInk
        The ink on it; of the completed figure where half of it was drawn.
    mapped : SketchMap
        The planar map and what was done with it.
    smoothing_mm : float
        The smoothing that was used.
    page_origin_mm : tuple of float
        Where the page's top left corner lies in the drawing: not at (0, 0) where a completed half needs
        a larger page.
    seconds : dict of str to float
        Wall time of each stage.
    touches : tuple of TouchOutcome
        What became of each touch.
    """

    drawing: "Drawing"
    page: "ScaledPage"
    ink: "ScaledInk"
    mapped: "SketchMap"
    smoothing_mm: float
    page_origin_mm: tuple[float, float] = (0.0, 0.0)
    seconds: dict[str, float] = field(default_factory=dict)
    touches: "tuple[TouchOutcome, ...]" = ()

    @property
    def regions(self) -> "RegionMap":
        """The planar map, bridges included."""
        return self.mapped.regions


def trace_page(reading: "Reading", settings: TraceSettings, memory: Memory, watch: Stopwatch) -> TraceResult:
    """Trace a page that was read, taking only the steps whose sources are new.

    Parameters
    ----------
    reading : Reading
        The page and its ink, as they are read for these settings.
    settings : TraceSettings
        What the user decides.
    memory : Memory
        What the steps gave before, and give now.
    watch : Stopwatch
        Measures the stages.

    Raises
    ------
    InputError
        A setting cannot be used.
    GeometryError
        The drawing does not allow what was asked for.
    """
    from limner.pipeline.sketch.axes.mirroring import complete_figure

    page, ink = reading.page, reading.ink
    touched: TouchedInk | None = None
    if settings.touches:
        from limner.pipeline.sketch.touching import touched_ink

        touched = touched_ink(page, ink, settings, memory, watch)
        ink = touched.ink
    figure = complete_figure(page, ink, settings, memory, watch)
    from limner.pipeline.sketch.mapping import draw_map, map_figure

    mapped = replace(
        map_figure(figure, settings, memory, watch),
        read_mm=reading.settings.finest_mm,
        following_mm=reading.following_mm,
    )
    drawn = draw_map(mapped, settings, memory, watch)
    outcomes: tuple[TouchOutcome, ...] = ()
    if touched is not None:
        with watch.stage("touches"):
            from limner.pipeline.sketch.outcomes import touch_outcomes

            outcomes = touch_outcomes(settings, figure, mapped.regions, drawn.drawing, touched)
    return TraceResult(
        drawn.drawing,
        figure.page,
        figure.ink,
        mapped,
        drawn.smoothing_mm,
        figure.origin_mm,
        watch.seconds,
        outcomes,
    )
