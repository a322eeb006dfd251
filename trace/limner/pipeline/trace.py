"""One sketch, from the file to closed, filled shapes."""

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from limner.capture.load import load_photo
from limner.capture.page import flatten_page
from limner.capture.settings import CaptureSettings
from limner.curves.settings import CurveSettings
from limner.curves.trace import trace_curves
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings
from limner.model.drawing import Drawing
from limner.model.raster import FlatPage, InkMap
from limner.model.regionmap import RegionMap
from limner.pipeline.progress import Observer, Stopwatch
from limner.pipeline.settings import TraceSettings
from limner.regions.build import build_regions
from limner.regions.graph import build_graph
from limner.regions.settings import RegionSettings

__all__ = ["TraceResult", "page_scale", "set_scale", "trace"]

# Without a scale the drawn part is taken as this wide: the contract of the command.
ASSUMED_DRAWING_WIDTH_MM = 100.0

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
        The ink on it, scale set.
    regions : RegionMap
        The planar map, bridges included.
    smoothing_mm : float
        The smoothing that was used.
    page_origin_mm : tuple of float
        Where the page's top left corner lies in the drawing: not at (0, 0) where a completed half needs
        a larger page.
    seconds : dict of str to float
        Wall time of each stage.
    """

    drawing: Drawing
    page: FlatPage
    ink: InkMap
    regions: RegionMap
    smoothing_mm: float
    page_origin_mm: tuple[float, float] = (0.0, 0.0)
    seconds: dict[str, float] = field(default_factory=dict)


def trace(path: Path, settings: TraceSettings, observer: Observer | None = None) -> TraceResult:
    """Trace one sketch.

    Parameters
    ----------
    path : Path
        The photograph or scan; it is only read.
    settings : TraceSettings
        What the user decides.
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
    """
    watch = Stopwatch(observer)
    with watch.stage("capture"):
        photo = load_photo(path)
        page = flatten_page(photo, CaptureSettings(paper=settings.paper, width_mm=settings.width_mm))
        del photo
    with watch.stage("ink"):
        page, ink = set_scale(page, extract_ink(page, InkSettings()), settings.drawing_width_mm)
    with watch.stage("regions"):
        graph = build_graph(ink)
        regions = build_regions(ink, graph, RegionSettings(), page)
    smoothing_mm = settings.smoothing_mm or DEFAULT_SMOOTHING_LINE_WIDTHS * regions.graph.line_width_mm
    with watch.stage("curves"):
        curve_settings = CurveSettings(smoothing_mm=smoothing_mm, nodes=settings.nodes, lines=settings.lines)
        drawing = trace_curves(regions, curve_settings)
    return TraceResult(drawing, page, ink, regions, smoothing_mm, seconds=watch.seconds)


def set_scale(page: FlatPage, ink: InkMap, drawing_width_mm: float | None = None) -> tuple[FlatPage, InkMap]:
    """Give page and ink one scale.

    The drawing's own width wins where it is given; else the page's scale holds; where there is none
    either, the drawn part is taken as 100 mm wide.
    """
    page_px_per_ink_px = page_scale(page, ink)
    page_mm_per_px, scale_from = page.mm_per_px, page.scale_from
    if drawing_width_mm is not None or page_mm_per_px is None:
        columns = np.flatnonzero(ink.mask.any(axis=0))
        drawn_px = float(columns[-1] - columns[0] + 1) * page_px_per_ink_px
        page_mm_per_px = (drawing_width_mm or ASSUMED_DRAWING_WIDTH_MM) / drawn_px
        scale_from = "drawing" if drawing_width_mm is not None else ""
    page = replace(page, mm_per_px=page_mm_per_px, scale_from=scale_from)
    return page, replace(ink, mm_per_px=page_mm_per_px * page_px_per_ink_px)


def page_scale(page: FlatPage, ink: InkMap) -> float:
    """How many pixels of the page one pixel of the ink raster is wide."""
    ink_to_page = np.linalg.inv(page.to_photo) @ ink.to_photo
    return float(ink_to_page[0, 0] / ink_to_page[2, 2])
