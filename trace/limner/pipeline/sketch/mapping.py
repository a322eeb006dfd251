"""A sketch before curves are fitted: all that its smoothing, its budget and its kind of lines do not change.

Finding the areas of a sketch takes several times as long as fitting its curves. So a sketch is traced in two
steps, and what the first one gives may be kept for the next time.
"""

from dataclasses import dataclass

from limner.curves import CurveSettings, FitStore, draw_fitted, fit_map
from limner.model.drawing import Drawing, Zone
from limner.model.regionmap import RegionMap
from limner.pipeline.processes.progress import Stopwatch
from limner.pipeline.sketch.axes.figure import Figure, Mirrored
from limner.pipeline.sketch.axes.mirroring import even_out
from limner.pipeline.sketch.memory import Memory
from limner.pipeline.sketch.placing import PageFrame, area_rules, repeat_values, zone_values
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.touching import divisions, moved
from limner.regions import (
    Divided,
    RegionSettings,
    arrange_areas,
    build_graph,
    divide_page,
    label_areas,
    without_looks,
)

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
    read_mm : float or None
        The finest smoothing for which the page was read; None: none was asked for.
    following_mm : float
        A smoothing from which on it is read the same whatever is asked for.
    """

    regions: RegionMap
    zones: tuple[Zone, ...]
    mirrored: tuple[Mirrored, ...]
    px_per_mm: float
    frame: PageFrame
    read_mm: float | None = None
    following_mm: float = 0.0

    def serves(self, settings: TraceSettings) -> bool:
        """Whether the page would be read the same for another smoothing."""
        finest = settings.finest_mm
        if finest == self.read_mm:
            return True
        return all(asked is None or asked >= self.following_mm for asked in (finest, self.read_mm))


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


def map_figure(figure: Figure, settings: TraceSettings, memory: Memory, watch: Stopwatch) -> SketchMap:
    """Find the areas of a figure.

    Parameters
    ----------
    figure : Figure
        What is to be traced.
    settings : TraceSettings
        What the user decides.
    memory : Memory
        What was found before.
    watch : Stopwatch
        Measures the stages.

    Raises
    ------
    GeometryError
        A point of the settings lies in no area, or a zone is none.
    """
    with watch.stage("regions"):
        rules = area_rules(settings, figure.frame)
        bare = without_looks(rules)
        divided = _divided(figure, settings, memory)
        arranged = memory.given(
            "arranged", (divided, bare), lambda: arrange_areas(divided, figure.page, bare)
        )
        zones = _zones(label_areas(arranged, rules), settings, figure, memory)
    regions = label_areas(arranged, rules, moved(arranged.regions, settings, figure, memory, watch))
    return SketchMap(regions, zones, figure.mirrored, 1.0 / figure.page.mm_per_photo_px, figure.frame)


def _divided(figure: Figure, settings: TraceSettings, memory: Memory) -> Divided:
    graph = figure.graph or memory.given("graph", (figure,), lambda: build_graph(figure.ink))
    said = divisions(settings, figure, memory)
    asked = RegionSettings(bridges=settings.bridges)

    def divide() -> Divided:
        with said.blamed():
            return divide_page(figure.ink, graph, asked, said.lines, said.opened)

    return memory.given("divided", (figure, asked, said.sources), divide)


def _zones(regions: RegionMap, settings: TraceSettings, figure: Figure, memory: Memory) -> tuple[Zone, ...]:
    """Zones, the same values as before where they are the same; a picture may have changed."""

    def make() -> tuple[Zone, ...]:
        return zone_values(settings, regions, figure.frame)

    if any(table.mask is not None for table in settings.zones):
        return make()
    outlines = {area.name: area.outline for area in regions.areas}
    areas = [table.area and outlines.get(table.area) for table in settings.zones]
    return memory.given("zones", (figure, regions.graph, settings.zones, areas), make)


def draw_map(mapped: SketchMap, settings: TraceSettings, memory: Memory, watch: Stopwatch) -> Drawn:
    """Fit the curves of a map, even out what is to be symmetric, and place motifs again.

    Parameters
    ----------
    mapped : SketchMap
        The map.
    settings : TraceSettings
        What the user decides.
    memory : Memory
        What was fitted before.
    watch : Stopwatch
        Measures the stages.

    Raises
    ------
    GeometryError
        The budget of nodes is too small, or a motif cannot be placed.
    """
    regions = mapped.regions
    smoothing_mm = settings.smoothing_mm or DEFAULT_SMOOTHING_LINE_WIDTHS * regions.graph.line_width_mm
    with watch.stage("curves"):
        curves = CurveSettings(smoothing_mm=smoothing_mm, nodes=settings.nodes, lines=settings.lines)
        known = memory.given("fits", (), FitStore)
        sources = (*_fitted_of(regions), mapped.zones, curves)
        fitted = memory.given("fitted", sources, lambda: fit_map(regions, curves, mapped.zones, known))
        drawing = draw_fitted(regions, fitted, curves)
    drawing = even_out(drawing, mapped.mirrored, smoothing_mm, watch)
    if settings.repeats:
        with watch.stage("motifs"):
            from limner.motifs import repeat_motifs

            drawing = repeat_motifs(drawing, repeat_values(settings, mapped.frame))
    return Drawn(drawing, smoothing_mm)


def _fitted_of(regions: RegionMap) -> tuple[object, ...]:
    """All of a map that its fits depend on: not what areas are called and filled with."""
    areas = tuple((area.outline, area.smoothing_mm, area.nodes) for area in regions.areas)
    return regions.graph, regions.ink, regions.silhouettes, regions.openings, areas
