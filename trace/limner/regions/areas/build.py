"""From centrelines to named, ordered, coloured areas.

Method: gaps are bridged, the faces of the map found, what is too small or too slim is folded into the
neighbour with which it shares the longest border, the user's rules are applied to the areas that their
points hit, and the rest is ordered (outer before inner, large before small), named and tinted.

Limits: an area is one piece; rules that join areas without a common border leave two areas of the same
fill, the second one numbered.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.errors import InputError
from limner.model.arrays import Floats
from limner.model.raster import FlatPage, ScaledInk
from limner.model.regionmap import Area, Edge, LineGraph, RegionMap
from limner.regions.areas.names import name_areas
from limner.regions.areas.sketch_colours import SOLID, sketch_colours, tint_areas
from limner.regions.edits import without_points
from limner.regions.faces.merging import Union, fold_small, merge_faces, sliver_width_mm
from limner.regions.faces.walk import OUTSIDE, Face, Faces, cycle_points, find_faces, inside_polygon
from limner.regions.gaps.border import close_border
from limner.regions.gaps.bridging import close_gaps, default_largest_gap_mm
from limner.regions.ink_outlines import trace_rings
from limner.regions.settings import AreaRule, RegionSettings
from limner.regions.silhouettes import with_base

__all__ = ["build_regions"]


# Areas that show less than this between their lines are folded into a neighbour: so many square line widths
# (a bead whose hole is two line widths across has pi), but on a drawing with broad lines no more than this
# share of the page.
_SMALLEST_WIDTHS2 = 3.0
_SMALLEST_SHARE = 5e-4

# Side of the small rasters in which an area's deepest point is sought.
_INSIDE_PX = 72

# Longer side of the raster on which the colours of the sketch are gathered.
_COLOUR_PX = 700


@dataclass(slots=True, eq=False)
class _Draft:
    """An area in the making: its face, where to find it, and the rule for it."""

    face: int
    inside: tuple[float, float]
    rule: AreaRule | None


def build_regions(
    ink: ScaledInk,
    graph: LineGraph,
    settings: RegionSettings | None = None,
    page: FlatPage | None = None,
    area_rules: tuple[AreaRule, ...] = (),
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

    Returns
    -------
    RegionMap
        Without areas where the drawing encloses nothing, without a silhouette where nothing is drawn.

    Raises
    ------
    InputError
        A rule's point lies in no area.
    """
    settings = settings or RegionSettings()
    height, width = ink.coverage.shape
    page_mm = (width * ink.mm_per_px, height * ink.mm_per_px)
    largest = settings.largest_gap_mm
    largest = default_largest_gap_mm(graph) if largest is None else largest
    graph = close_gaps(graph, largest, page_mm)
    if settings.border_closes:
        graph = close_border(graph, page_mm)
    graph = without_points(graph)
    smallest = settings.smallest_area_mm2
    if smallest is None:
        smallest = min(_SMALLEST_WIDTHS2 * graph.line_width_mm**2, _SMALLEST_SHARE * page_mm[0] * page_mm[1])
    rings = trace_rings(ink)
    if not graph.edges:
        return RegionMap(*page_mm, graph, (), (), rings)
    active = np.ones(len(graph.edges), bool)
    faces = find_faces(graph.edges, active)
    faces = fold_small(graph, faces, smallest, sliver_width_mm(graph.line_width_mm, page_mm))
    faces, drafts = _apply_rules(graph, faces, area_rules, page_mm)
    areas = _finish(graph, faces, drafts, page_mm, ink, page)
    graph, silhouettes = with_base(graph, faces, ink)
    return RegionMap(*page_mm, graph, areas, tuple(silhouettes), rings)


def _apply_rules(
    graph: LineGraph, faces: Faces, rules: tuple[AreaRule, ...], page_mm: tuple[float, float]
) -> tuple[Faces, list[_Draft]]:
    """Join areas of one name and find the rule of each area."""
    hits = [_face_at(graph, faces, rule, page_mm) for rule in rules]
    union = Union(len(faces.faces) + 1)
    named: dict[str, int] = {}
    for rule, hit in zip(rules, hits, strict=True):
        if rule.name is not None and not rule.skip:
            union.join(named.setdefault(rule.name, hit), hit)
    if any(union.find(face) != face for face in range(len(faces.faces))):
        faces = merge_faces(graph, faces, union)
        hits = [_face_at(graph, faces, rule, page_mm) for rule in rules]
    by_face: dict[int, AreaRule] = {}
    for rule, hit in zip(rules, hits, strict=True):
        by_face[hit] = _combined(by_face[hit], rule) if hit in by_face else rule
    drafts = [
        _Draft(number, _deepest(graph.edges, face), by_face.get(number))
        for number, face in enumerate(faces.faces)
    ]
    return faces, drafts


def _combined(first: AreaRule, second: AreaRule) -> AreaRule:
    """Two rules for one area: what the second says counts, where it says something.

    The number is that of the rule that gives the fill, as colours for print are looked up by it.
    """
    said = {
        key: getattr(second, key)
        for key in ("name", "fill", "order", "smoothing_mm", "nodes")
        if getattr(second, key) is not None
    }
    last = first if second.fill is None and first.fill is not None else second
    return replace(first, **said, skip=first.skip or second.skip, number=last.number)


def _face_at(graph: LineGraph, faces: Faces, rule: AreaRule, page_mm: tuple[float, float]) -> int:
    """The innermost face around a rule's point."""
    point = np.array(rule.at_mm)
    order = sorted(range(len(faces.faces)), key=lambda number: faces.faces[number].area)
    for number in order:
        if inside_polygon(point, cycle_points(graph.edges, faces.faces[number].outline)):
            return number
    raise _no_area(graph, faces, rule, page_mm)


def _no_area(graph: LineGraph, faces: Faces, rule: AreaRule, page_mm: tuple[float, float]) -> InputError:
    where = f"({rule.at_mm[0]:.1f} mm, {rule.at_mm[1]:.1f} mm)"
    if not faces.faces:
        return InputError(
            f"The point {where} lies in no area, as the drawing encloses none: close its outline, or allow "
            "larger gaps to be bridged."
        )
    point = np.array(rule.at_mm)
    away = [_distance(point, cycle_points(graph.edges, face.outline)) for face in faces.faces]
    nearest = int(np.argmin(away))
    x, y = _deepest(graph.edges, faces.faces[nearest])
    name = _plain_names(graph, faces, page_mm)[nearest]
    return InputError(
        f'The point {where} lies in no area: the nearest one is "{name}", around ({x:.1f} mm, {y:.1f} mm); '
        "give a point in there instead."
    )


def _plain_names(graph: LineGraph, faces: Faces, page_mm: tuple[float, float]) -> list[str]:
    """Names of all faces where no rule gives any."""
    return name_areas(
        [_deepest(graph.edges, face) for face in faces.faces],
        [_depth(faces, number) for number in range(len(faces.faces))],
        [face.visible for face in faces.faces],
        page_mm,
        [None] * len(faces.faces),
    )


def _distance(point: Floats, polygon: Floats) -> float:
    return float(np.hypot(*(polygon - point).T).min())


def _deepest(edges: Sequence[Edge], face: Face) -> tuple[float, float]:
    """The point of a face that is farthest from its boundary, millimetres."""
    outline = cycle_points(edges, face.outline)
    low, high = outline.min(axis=0), outline.max(axis=0)
    scale = _INSIDE_PX / max(float((high - low).max()), 1e-9)
    size = np.ceil((high - low) * scale).astype(int) + 3
    canvas = np.zeros((size[1], size[0]), np.uint8)
    _fill(canvas, outline, low, scale, 1)
    for hole in face.holes:
        _fill(canvas, cycle_points(edges, hole), low, scale, 0)
    depth = cv2.distanceTransform(canvas, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    row, column = np.unravel_index(int(depth.argmax()), depth.shape)
    x, y = (np.array([column, row]) - 1.0) / scale + low
    return float(x), float(y)


def _fill(
    canvas: NDArray[np.uint8] | NDArray[np.int32], polygon: Floats, low: Floats, scale: float, value: int
) -> None:
    # cv2 has pixel centres at whole numbers; 4 bits of fraction keep a small area's shape.
    points = np.round(((polygon - low) * scale + 1.0) * 16.0).astype(np.int32)
    cv2.fillPoly(canvas, [points], value, lineType=cv2.LINE_8, shift=4)


def _finish(
    graph: LineGraph,
    faces: Faces,
    drafts: list[_Draft],
    page_mm: tuple[float, float],
    ink: ScaledInk,
    page: FlatPage | None,
) -> tuple[Area, ...]:
    """Order, name and tint the areas."""
    depth = [_depth(faces, number) for number in range(len(faces.faces))]
    drafts = [draft for draft in drafts if draft.rule is None or not draft.rule.skip]

    def place(draft: _Draft) -> tuple[int, int, float, tuple[float, float]]:
        wanted = (draft.rule.order if draft.rule else None) or 0
        return wanted, depth[draft.face], -faces.faces[draft.face].area, draft.inside

    drafts.sort(key=place)
    index = {draft.face: number for number, draft in enumerate(drafts)}
    sizes = [faces.faces[draft.face].visible for draft in drafts]
    rules = [draft.rule or AreaRule(draft.inside) for draft in drafts]
    names = name_areas(
        [draft.inside for draft in drafts],
        [depth[draft.face] for draft in drafts],
        sizes,
        page_mm,
        [rule.name for rule in rules],
    )
    fills = [rule.fill for rule in rules]
    if page is not None and drafts:
        own = sketch_colours(ink, page, _labels(graph, faces, drafts, ink), len(drafts))
        fills = [given or found for given, found in zip(fills, own, strict=True)]
    inked = [fill is None and _is_inked(draft, ink) for fill, draft in zip(fills, drafts, strict=True)]
    fills = [SOLID if black else fill for fill, black in zip(fills, inked, strict=True)]
    fills = list(tint_areas(names, sizes, _neighbours(faces, index), fills))
    areas = []
    for number, (draft, rule) in enumerate(zip(drafts, rules, strict=True)):
        face = faces.faces[draft.face]
        cycles = (face.outline, *face.holes)
        areas.append(
            Area(
                name=names[number],
                outline=face.outline,
                holes=tuple(face.holes),
                parent=_parent(faces, draft.face, index),
                inside=draft.inside,
                area_mm2=face.visible,
                fill=fills[number],
                order=number,
                bridged_gaps=sum(graph.edges[e].kind == "bridge" for cycle in cycles for e, _ in cycle),
                smoothing_mm=rule.smoothing_mm,
                nodes=rule.nodes,
                rule=rule.number,
                inked=inked[number],
            )
        )
    return tuple(areas)


def _is_inked(draft: _Draft, ink: ScaledInk) -> bool:
    """Whether an area is the inside of a solid black."""
    x, y = (int(value / ink.mm_per_px) for value in draft.inside)
    height, width = ink.coverage.shape
    return bool(ink.coverage[min(y, height - 1), min(x, width - 1)] >= 0.5)


def _depth(faces: Faces, number: int) -> int:
    depth = 0
    while (number := faces.faces[number].parent) != OUTSIDE:
        depth += 1
    return depth


def _parent(faces: Faces, number: int, index: dict[int, int]) -> int | None:
    """The nearest area around a face that is filled."""
    while (number := faces.faces[number].parent) != OUTSIDE:
        if number in index:
            return index[number]
    return None


def _neighbours(faces: Faces, index: dict[int, int]) -> list[set[int]]:
    around: list[set[int]] = [set() for _ in index]
    for left, right in faces.side[faces.active].tolist():
        if left in index and right in index and left != right:
            around[index[left]].add(index[right])
            around[index[right]].add(index[left])
    return around


def _labels(graph: LineGraph, faces: Faces, drafts: list[_Draft], ink: ScaledInk) -> NDArray[np.int32]:
    """Area of each pixel of a reduced raster over the page, ink left out; -1 elsewhere."""
    height, width = ink.coverage.shape
    factor = min(1.0, _COLOUR_PX / max(height, width))
    size = (max(1, round(width * factor)), max(1, round(height * factor)))
    scale = factor / ink.mm_per_px
    labels = np.full((size[1], size[0]), -1, np.int32)
    depth = [_depth(faces, draft.face) for draft in drafts]
    for number in sorted(range(len(drafts)), key=lambda n: (depth[n], -faces.faces[drafts[n].face].area)):
        outline = cycle_points(graph.edges, faces.faces[drafts[number].face].outline)
        _fill(labels, outline, np.full(2, 1.5 / scale), scale, number)
    covered = cv2.resize(ink.coverage, size, interpolation=cv2.INTER_AREA)
    labels[covered > 0.05] = -1
    return labels
