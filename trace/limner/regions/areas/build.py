"""From centrelines to named, ordered, coloured areas.

Method: gaps are bridged, the faces of the map found, what is too small or too slim is merged with the
neighbour with which it shares the longest border (`divide_page`); areas of one name are joined and all of
them ordered, outer before inner, large before small, or as the user's rules ask (`arrange_areas`); each is
named and filled (`label_areas`). Three steps, as few changes of the rules ask for all of them.

Limits: an area is one piece; rules that join areas without a common border leave two areas of the same
fill, the second one numbered.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limner.model.arrays import Floats
from limner.model.raster import FlatPage, ScaledInk
from limner.model.regionmap import Area, InkRing, LineGraph, RegionMap
from limner.regions.areas.fills import OwnFills, choose_fills, own_fills
from limner.regions.areas.interiors import deepest_point
from limner.regions.areas.names import name_areas
from limner.regions.areas.rules import hit_faces, join_areas, rules_of, without_looks
from limner.regions.areas.stack import Stack, open_faces, stack_areas
from limner.regions.edits import without_points
from limner.regions.faces.merging import merge_small_faces, sliver_width_mm
from limner.regions.faces.walk import Faces, find_faces
from limner.regions.gaps.bridging import close_gaps, default_largest_gap_mm
from limner.regions.gaps.inking import with_bridges
from limner.regions.gaps.opening import without_bridges
from limner.regions.ink_outlines import trace_rings
from limner.regions.parting import part_graph
from limner.regions.settings import AreaRule, RegionSettings
from limner.regions.silhouettes import add_silhouettes

__all__ = ["Arranged", "Divided", "arrange_areas", "build_regions", "divide_page", "label_areas"]


# Areas that show less than this between their lines are merged with a neighbour: so many square line widths
# (a bead whose hole is two line widths across has pi), but on a drawing with broad lines no more than this
# share of the page.
_SMALLEST_WIDTHS2 = 3.0
_SMALLEST_SHARE = 5e-4


@dataclass(frozen=True, slots=True, eq=False)
class Divided:
    """A drawing divided into faces: all that no rule for an area changes.

    Parameters
    ----------
    page_mm : tuple of float
        Size of the page.
    ink : ScaledInk
        The ink, that of bridges included.
    graph : LineGraph
        Lines, bridges and parting lines.
    faces : Faces
        Those that are large and wide enough to be areas.
    rings : tuple of InkRing
        Outlines of the ink.
    """

    page_mm: tuple[float, float]
    ink: ScaledInk
    graph: LineGraph
    faces: Faces
    rings: tuple[InkRing, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Arranged:
    """Areas in their order: all that no name and no colour changes.

    Parameters
    ----------
    regions : RegionMap
        The map; its areas have neither names nor fills of their own yet.
    stack : Stack
        Their faces.
    own : OwnFills
        What the sketch fills them with.
    """

    regions: RegionMap
    stack: Stack
    own: OwnFills


def build_regions(
    ink: ScaledInk,
    graph: LineGraph,
    settings: RegionSettings | None = None,
    page: FlatPage | None = None,
    area_rules: tuple[AreaRule, ...] = (),
    partings: Sequence[Floats] = (),
) -> RegionMap:
    """Divide a drawing into areas: all three steps.

    Parameters
    ----------
    ink : ScaledInk
        The ink.
    graph : LineGraph
        Its centrelines.
    settings : RegionSettings or None
        How to divide; None: the defaults.
    page : FlatPage or None
        The page in colour: areas that were coloured in take their fill from it.
    area_rules : tuple of AreaRule
        What the user wants of single areas.
    partings : sequence of ndarray of float64, shape (n, 2)
        Lines in millimetres that part areas for their fills alone.

    Returns
    -------
    RegionMap
        Without areas where the drawing encloses nothing, without a silhouette where nothing is drawn.

    Raises
    ------
    InputError
        A rule's point lies in no area.
    GeometryError
        A parting line joins nothing; the error is about "part" and its number.
    """
    divided = divide_page(ink, graph, settings or RegionSettings(), partings)
    return label_areas(arrange_areas(divided, page, without_looks(area_rules)), area_rules)


def divide_page(
    ink: ScaledInk,
    graph: LineGraph,
    settings: RegionSettings,
    partings: Sequence[Floats] = (),
    opened: Sequence[Floats] = (),
) -> Divided:
    """Close gaps and find the faces: see `build_regions`.

    Parameters
    ----------
    ink, graph, settings, partings : ScaledInk, LineGraph, RegionSettings, sequence of ndarray
        As in `build_regions`.
    opened : sequence of ndarray of float64, shape (2,)
        Points in millimetres; the bridge nearest to each is not made.

    Raises
    ------
    GeometryError
        A parting line joins nothing, or there is no bridge; the error is about its kind, "part" or "open",
        and its number.
    """
    height, width = ink.coverage.shape
    page_mm = (width * ink.mm_per_px, height * ink.mm_per_px)
    largest = settings.largest_gap_mm
    largest = default_largest_gap_mm(graph) if largest is None else largest
    graph = close_gaps(graph, largest, page_mm, inked=settings.bridges == "inked")
    graph = without_points(without_bridges(graph, opened))
    ink = with_bridges(ink, graph)
    graph = part_graph(graph, partings)
    return Divided(page_mm, ink, graph, _faces(graph, page_mm), trace_rings(ink))


def arrange_areas(divided: Divided, page: FlatPage | None, rules: Sequence[AreaRule]) -> Arranged:
    """Join and order the areas: see `build_regions`.

    Parameters
    ----------
    divided : Divided
        The faces.
    page : FlatPage or None
        As in `build_regions`.
    rules : sequence of AreaRule
        As by `without_looks`.
    """
    page_mm, ink, graph = divided.page_mm, divided.ink, divided.graph
    faces = join_areas(graph, divided.faces, rules, page_mm)
    rule_of = rules_of(rules, hit_faces(graph, faces, rules, page_mm))
    inside = [deepest_point(graph.edges, face) for face in faces.faces]
    stack = stack_areas(faces, rule_of, inside)
    own = own_fills(stack, graph.edges, ink, page)
    areas = _areas(graph, stack, inside)
    if graph.edges:
        graph, silhouettes, openings = add_silhouettes(graph, faces, open_faces(faces, rule_of), ink)
    else:
        silhouettes, openings = (), ()
    regions = RegionMap(*page_mm, graph, areas, silhouettes, divided.rings, openings)
    return Arranged(regions, stack, own)


def label_areas(arranged: Arranged, rules: Sequence[AreaRule], regions: RegionMap | None = None) -> RegionMap:
    """Name and fill the areas: see `build_regions`.

    Parameters
    ----------
    arranged : Arranged
        The areas.
    rules : sequence of AreaRule
        All of them, of which `without_looks` arranged the areas.
    regions : RegionMap or None
        The same map with its lines moved; None: as arranged.
    """
    stack, placed = arranged.stack, arranged.regions
    page_mm = (placed.width_mm, placed.height_mm)
    rule_of = rules_of(rules, hit_faces(placed.graph, stack.faces, rules, page_mm))
    mine = [
        rule_of.get(number) or AreaRule(area.inside)
        for number, area in zip(stack.order, placed.areas, strict=True)
    ]
    names = name_areas(
        [area.inside for area in placed.areas],
        [stack.faces.depth(number) for number in stack.order],
        [area.area_mm2 for area in placed.areas],
        page_mm,
        [rule.name for rule in mine],
    )
    fills, inked = choose_fills(stack, names, [rule.fill for rule in mine], arranged.own)
    regions = regions or placed
    areas = tuple(
        replace(
            area,
            name=names[k],
            fill=fills[k],
            smoothing_mm=mine[k].smoothing_mm,
            nodes=mine[k].nodes,
            rule=mine[k].number,
            inked=inked[k],
        )
        for k, area in enumerate(regions.areas)
    )
    return replace(regions, areas=areas)


def _faces(graph: LineGraph, page_mm: tuple[float, float]) -> Faces:
    """Faces that are large and wide enough to be areas."""
    if not graph.edges:
        return Faces([], [], np.zeros((0, 2), np.int64), np.zeros(0, bool))
    smallest = min(_SMALLEST_WIDTHS2 * graph.line_width_mm**2, _SMALLEST_SHARE * page_mm[0] * page_mm[1])
    faces = find_faces(graph.edges, np.ones(len(graph.edges), bool))
    return merge_small_faces(graph, faces, smallest, sliver_width_mm(graph.line_width_mm, page_mm))


def _areas(graph: LineGraph, stack: Stack, inside: Sequence[tuple[float, float]]) -> tuple[Area, ...]:
    """Areas by their place alone."""
    parents = stack.parents()
    return tuple(
        Area(
            name=str(place),
            outline=stack.faces.faces[number].outline,
            holes=tuple(stack.faces.faces[number].holes),
            parent=parents[place],
            inside=inside[number],
            area_mm2=stack.faces.faces[number].visible,
            order=place,
            bridged_gaps=stack.faces.faces[number].bridges(graph.edges),
        )
        for place, number in enumerate(stack.order)
    )
