"""A sketch before curves are fitted: all that its smoothing, its budget and its kind of lines do not change.

Finding the areas of a sketch takes several times as long as fitting its curves. So a sketch is traced in two
steps, and what the first one gives may be kept for the next time.
"""

from dataclasses import dataclass

from limner.curves import CurveSettings, trace_curves
from limner.model.drawing import Drawing, Zone
from limner.model.regionmap import RegionMap
from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.figure import Figure, Mirrored
from limner.pipeline.sketch.mirroring import even_out
from limner.pipeline.sketch.placing import PageFrame, area_rules, repeat_values, zone_values
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.touching import parting_lines, pulled
from limner.regions import RegionSettings, build_graph, build_regions

__all__ = ["Drawn", "SketchMap", "draw_map", "map_figure"]

# A pencil line wobbles by about a fifth of its own width: smoothing below that copies the wobble,
# smoothing far above it rounds off what was meant (judged by eye on the sketches in fixtures/).
DEFAULT_SMOOTHING_LINE_WIDTHS = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class SketchMap:
    """The planar map of a sketch and what is to be done with it.

    Parameters
    ----------
    regions : RegionMap
        The planar map, bridges included.
    zones : tuple of Zone
        Parts of the page with their own smoothing.
    mirrored : tuple of Mirrored
        What is to be symmetric.
    px_per_mm : float
        Pixels of the photograph per millimetre of the drawing.
    frame : tuple of float
        Left, top, width and height of the page in millimetres of the drawing.
    """

    regions: RegionMap
    zones: tuple[Zone, ...]
    mirrored: tuple[Mirrored, ...]
    px_per_mm: float
    frame: PageFrame


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """What a map becomes.

    Parameters
    ----------
    drawing : Drawing
        The result.
    smoothing_mm : float
        The smoothing that was used.
    """

    drawing: Drawing
    smoothing_mm: float


def map_figure(figure: Figure, settings: TraceSettings, watch: Stopwatch) -> SketchMap:
    """Find the areas of a figure.

    Raises
    ------
    GeometryError
        A point of the settings lies in no area, or a zone is none.
    """
    with watch.stage("regions"):
        rules = area_rules(settings, figure.frame)
        graph = figure.graph or build_graph(figure.ink)
        partings = parting_lines(settings, figure)
        with partings.blamed():
            regions = build_regions(
                figure.ink,
                graph,
                RegionSettings(bridges=settings.bridges),
                figure.page,
                rules,
                partings.lines,
            )
        zones = zone_values(settings, regions, figure.frame)
    regions = pulled(regions, settings, figure, watch)
    return SketchMap(regions, zones, figure.mirrored, 1.0 / figure.page.mm_per_photo_px, figure.frame)


def draw_map(mapped: SketchMap, settings: TraceSettings, watch: Stopwatch) -> Drawn:
    """Fit the curves of a map, even out what is to be symmetric, and place motifs again.

    Raises
    ------
    GeometryError
        The budget of nodes is too small, or a motif cannot be placed.
    """
    regions = mapped.regions
    smoothing_mm = settings.smoothing_mm or DEFAULT_SMOOTHING_LINE_WIDTHS * regions.graph.line_width_mm
    with watch.stage("curves"):
        curves = CurveSettings(smoothing_mm=smoothing_mm, nodes=settings.nodes, lines=settings.lines)
        drawing = trace_curves(regions, curves, mapped.zones)
    drawing = even_out(drawing, mapped.mirrored, smoothing_mm, watch)
    if settings.repeats:
        with watch.stage("motifs"):
            from limner.motifs import repeat_motifs

            drawing = repeat_motifs(drawing, repeat_values(settings, mapped.frame))
    return Drawn(drawing, smoothing_mm)
