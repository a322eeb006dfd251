"""From centrelines to named, ordered, coloured areas.

Method: gaps are bridged, the faces of the map found, what is too small or too slim is merged with the
neighbour with which it shares the longest border, the user's rules are applied to the areas that their
points hit, and the rest is ordered (outer before inner, large before small), named and filled.

Limits: an area is one piece; rules that join areas without a common border leave two areas of the same
fill, the second one numbered.
"""

from collections.abc import Sequence

import numpy as np

from limner.model.arrays import Floats
from limner.model.raster import FlatPage, ScaledInk
from limner.model.regionmap import Area, LineGraph, RegionMap
from limner.regions.areas.fills import fill_areas
from limner.regions.areas.interiors import deepest_point
from limner.regions.areas.names import name_areas
from limner.regions.areas.rules import Ruled, apply_rules
from limner.regions.areas.stack import open_faces, stack_areas
from limner.regions.edits import without_points
from limner.regions.faces.merging import merge_small_faces, sliver_width_mm
from limner.regions.faces.walk import Faces, find_faces
from limner.regions.gaps.bridging import close_gaps, default_largest_gap_mm
from limner.regions.gaps.inking import with_bridges
from limner.regions.ink_outlines import trace_rings
from limner.regions.parting import part_graph
from limner.regions.settings import AreaRule, RegionSettings
from limner.regions.silhouettes import add_silhouettes

__all__ = ["build_regions"]


# Areas that show less than this between their lines are merged with a neighbour: so many square line widths
# (a bead whose hole is two line widths across has pi), but on a drawing with broad lines no more than this
# share of the page.
_SMALLEST_WIDTHS2 = 3.0
_SMALLEST_SHARE = 5e-4


def build_regions(
    ink: ScaledInk,
    graph: LineGraph,
    settings: RegionSettings | None = None,
    page: FlatPage | None = None,
    area_rules: tuple[AreaRule, ...] = (),
    partings: Sequence[Floats] = (),
) -> RegionMap:
    """Divide a drawing into areas.

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
        A parting line joins nothing; the error is about its number.
    """
    settings = settings or RegionSettings()
    height, width = ink.coverage.shape
    page_mm = (width * ink.mm_per_px, height * ink.mm_per_px)
    largest = settings.largest_gap_mm
    largest = default_largest_gap_mm(graph) if largest is None else largest
    graph = without_points(close_gaps(graph, largest, page_mm, inked=settings.bridges == "inked"))
    ink = with_bridges(ink, graph)
    graph = part_graph(graph, partings)
    rings = trace_rings(ink)
    if not graph.edges:
        return RegionMap(*page_mm, graph, (), (), rings)
    ruled = apply_rules(graph, _faces(graph, page_mm), area_rules, page_mm)
    areas = _areas(graph, ruled, page_mm, ink, page)
    graph, silhouettes, openings = add_silhouettes(
        graph, ruled.faces, open_faces(ruled.faces, ruled.rule_of), ink
    )
    return RegionMap(*page_mm, graph, areas, silhouettes, rings, openings)


def _faces(graph: LineGraph, page_mm: tuple[float, float]) -> Faces:
    """Faces that are large and wide enough to be areas."""
    smallest = min(_SMALLEST_WIDTHS2 * graph.line_width_mm**2, _SMALLEST_SHARE * page_mm[0] * page_mm[1])
    faces = find_faces(graph.edges, np.ones(len(graph.edges), bool))
    return merge_small_faces(graph, faces, smallest, sliver_width_mm(graph.line_width_mm, page_mm))


def _areas(
    graph: LineGraph, ruled: Ruled, page_mm: tuple[float, float], ink: ScaledInk, page: FlatPage | None
) -> tuple[Area, ...]:
    """Order, name and fill the areas."""
    faces = ruled.faces
    inside = [deepest_point(graph.edges, face) for face in faces.faces]
    stack = stack_areas(faces, ruled.rule_of, inside)
    rules = [ruled.rule_of.get(number) or AreaRule(inside[number]) for number in stack.order]
    names = name_areas(
        [inside[number] for number in stack.order],
        [faces.depth(number) for number in stack.order],
        [faces.faces[number].visible for number in stack.order],
        page_mm,
        [rule.name for rule in rules],
    )
    fills, inked = fill_areas(stack, graph.edges, names, [rule.fill for rule in rules], ink, page)
    parents = stack.parents()
    areas = []
    for place, (number, rule) in enumerate(zip(stack.order, rules, strict=True)):
        face = faces.faces[number]
        areas.append(
            Area(
                name=names[place],
                outline=face.outline,
                holes=tuple(face.holes),
                parent=parents[place],
                inside=inside[number],
                area_mm2=face.visible,
                fill=fills[place],
                order=place,
                bridged_gaps=face.bridges(graph.edges),
                smoothing_mm=rule.smoothing_mm,
                nodes=rule.nodes,
                rule=rule.number,
                inked=inked[place],
            )
        )
    return tuple(areas)
