"""One sketch, from the file to closed, filled shapes.

The modules of the stages are loaded while the picture is decoded and while the first stages work, so none of
them is imported up here.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from limner.pipeline.processes.ahead import load_ahead
from limner.pipeline.processes.progress import Observer, Stopwatch
from limner.pipeline.sketch.settings import TraceSettings

if TYPE_CHECKING:
    from limner.model.drawing import Drawing
    from limner.model.raster import ScaledInk, ScaledPage
    from limner.model.regionmap import RegionMap
    from limner.pipeline.sketch.figure import Figure
    from limner.pipeline.sketch.mapping import Drawn, SketchMap

__all__ = ["STAGES", "TraceResult", "redraw", "trace"]

# Modules, in the order in which they are needed.
STAGES = (
    "cv2",
    "limner.pipeline.sketch.page",
    "limner.pipeline.sketch.mirroring",
    "limner.regions.areas.build",
    "limner.regions.centrelines.build",
    "limner.pipeline.sketch.mapping",
    "limner.curves.drawing",
)


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
    """

    drawing: "Drawing"
    page: "ScaledPage"
    ink: "ScaledInk"
    mapped: "SketchMap"
    smoothing_mm: float
    page_origin_mm: tuple[float, float] = (0.0, 0.0)
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def regions(self) -> "RegionMap":
        """The planar map, bridges included."""
        return self.mapped.regions


def trace(
    path: Path | str, settings: TraceSettings | None = None, observer: Observer | None = None
) -> TraceResult:
    """Trace one sketch.

    Parameters
    ----------
    path : Path or str
        The photograph or scan; it is only read.
    settings : TraceSettings or None
        What the user decides; None: the defaults.
    observer : Observer or None
        Told which stage is at work.

    Returns
    -------
    TraceResult

    Raises
    ------
    InputError
        The file or a setting cannot be used.
    GeometryError
        The drawing does not allow what was asked for.
    LimnerError
        OpenCV cannot be loaded.
    """
    watch = Stopwatch(observer)
    settings = settings or TraceSettings()
    load_ahead(*STAGES)
    with watch.stage("capture"):
        from limner.capture import read_picture, require_opencv

        picture = read_picture(Path(path))
        require_opencv()
        from limner.pipeline.processes.opencv import steady_opencv
        from limner.pipeline.sketch.page import page_and_ink
    with steady_opencv():
        page, ink = page_and_ink(picture, settings, watch)
        del picture  # it holds the whole photograph
        from limner.pipeline.sketch.mirroring import complete_figure

        if settings.touches:
            from limner.pipeline.sketch.touching import touched_ink

            ink = touched_ink(page, ink, settings, watch)
        return _drawn(complete_figure(page, ink, settings, watch), settings, watch)


def redraw(mapped: "SketchMap", settings: TraceSettings) -> "Drawn":
    """Trace a sketch whose map is known; the drawing is the same as by `trace`.

    Raises
    ------
    GeometryError
        The budget of nodes is too small.
    """
    from limner.pipeline.processes.opencv import steady_opencv
    from limner.pipeline.sketch.mapping import draw_map

    with steady_opencv():
        return draw_map(mapped, settings, Stopwatch())


def _drawn(figure: "Figure", settings: TraceSettings, watch: Stopwatch) -> TraceResult:
    """From the figure's ink to its shapes."""
    from limner.pipeline.sketch.mapping import draw_map, map_figure

    mapped = map_figure(figure, settings, watch)
    drawn = draw_map(mapped, settings, watch)
    return TraceResult(
        drawn.drawing,
        figure.page,
        figure.ink,
        mapped,
        drawn.smoothing_mm,
        figure.origin_mm,
        watch.seconds,
    )
