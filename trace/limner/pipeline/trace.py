"""One sketch, from the file to closed, filled shapes.

The modules of the stages are loaded while the picture is decoded and while the first stages work, so none of
them is imported up here.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from limner.pipeline.ahead import load_ahead
from limner.pipeline.progress import Observer, Stopwatch
from limner.pipeline.settings import TraceSettings

if TYPE_CHECKING:
    from limner.model.drawing import Drawing
    from limner.model.raster import FlatPage, InkMap
    from limner.model.regionmap import RegionMap
    from limner.pipeline.figure import Figure

__all__ = ["STAGES", "TraceResult", "trace"]

# Modules, in the order in which they are needed.
STAGES = (
    "cv2",
    "limner.pipeline.page",
    "limner.pipeline.figure",
    "limner.regions.build",
    "limner.regions.graph",
    "limner.curves.trace",
)

# A pencil line wobbles by about a fifth of its own width: smoothing below that copies the wobble,
# smoothing far above it rounds off what was meant (judged by eye on the sketches in fixtures/).
DEFAULT_SMOOTHING_LINE_WIDTHS = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class TraceResult:
    """The drawing and what led to it.

    Parameters
    ----------
    drawing : Drawing
        The result.
    page : FlatPage
        The straightened page, scale set.
    ink : InkMap
        The ink on it, scale set; of the completed figure where half of it was drawn.
    regions : RegionMap
        The planar map, bridges included.
    smoothing_mm : float
        The smoothing that was used.
    page_origin_mm : tuple of float
        Where the page's top left corner lies in the drawing: not at (0, 0) where a completed half needs
        a larger page.
    rule_of : dict of str to int
        For each area that an area table hit: the index of that table.
    seconds : dict of str to float
        Wall time of each stage.
    """

    drawing: "Drawing"
    page: "FlatPage"
    ink: "InkMap"
    regions: "RegionMap"
    smoothing_mm: float
    page_origin_mm: tuple[float, float] = (0.0, 0.0)
    rule_of: dict[str, int] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)


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
        from limner.capture.load import read_picture, require_opencv

        picture = read_picture(Path(path))
        require_opencv()
        from limner.pipeline.page import page_and_ink
        from limner.pipeline.steady import steady_opencv
    with steady_opencv():
        page, ink = page_and_ink(picture, settings, watch)
        del picture  # it holds the whole photograph
        from limner.pipeline.figure import complete_figure

        return _drawn(complete_figure(page, ink, settings, watch), settings, watch)


def _drawn(figure: "Figure", settings: TraceSettings, watch: Stopwatch) -> TraceResult:
    """From the figure's ink to its shapes."""
    from limner.curves.settings import CurveSettings
    from limner.curves.trace import trace_curves
    from limner.pipeline.figure import even_out
    from limner.pipeline.tables import area_rules, rule_of_area, zone_values
    from limner.regions.build import build_regions
    from limner.regions.graph import build_graph
    from limner.regions.settings import RegionSettings

    with watch.stage("regions"):
        rules = area_rules(settings, figure.frame)
        regions = build_regions(figure.ink, build_graph(figure.ink), RegionSettings(), figure.page, rules)
        rule_of = rule_of_area(settings, regions, figure.frame)
        zones = zone_values(settings, regions, figure.frame)
    smoothing_mm = settings.smoothing_mm or DEFAULT_SMOOTHING_LINE_WIDTHS * regions.graph.line_width_mm
    with watch.stage("curves"):
        curves = CurveSettings(smoothing_mm=smoothing_mm, nodes=settings.nodes, lines=settings.lines)
        drawing = trace_curves(regions, curves, zones)
    drawing, rule_of = even_out(drawing, figure, rule_of, watch)
    return TraceResult(
        drawing, figure.page, figure.ink, regions, smoothing_mm, figure.origin_mm, rule_of, watch.seconds
    )
