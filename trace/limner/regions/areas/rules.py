"""What the user wants of single areas, brought to the faces that the points of the rules hit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limner.errors import InputError
from limner.geometry.cycles import cycle_points
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.regionmap import LineGraph
from limner.regions.areas.interiors import deepest_point
from limner.regions.areas.names import name_areas
from limner.regions.faces.merging import merge_faces
from limner.regions.faces.walk import Faces
from limner.regions.settings import AreaRule

__all__ = ["Ruled", "apply_rules"]


@dataclass(frozen=True, slots=True, eq=False)
class Ruled:
    """Faces and the rules for them.

    Parameters
    ----------
    faces : Faces
        Those of one name joined, as far as they have a common border.
    rule_of : dict of int to AreaRule
        The rule of each face that a point hit; of several, what the later ones say counts.
    """

    faces: Faces
    rule_of: dict[int, AreaRule]


def apply_rules(
    graph: LineGraph, faces: Faces, rules: Sequence[AreaRule], page_mm: tuple[float, float]
) -> Ruled:
    """Join areas of one name and find the rule of each area.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    faces : Faces
        Faces of the graph.
    rules : sequence of AreaRule
        In the order in which they count.
    page_mm : tuple of float
        Size of the page.

    Returns
    -------
    Ruled

    Raises
    ------
    InputError
        A rule's point lies in no area.
    """
    hits = [_face_at(graph, faces, rule, page_mm) for rule in rules]
    named: dict[str, int] = {}
    alike = [
        (named.setdefault(rule.name, hit), hit)
        for rule, hit in zip(rules, hits, strict=True)
        if rule.name is not None and not rule.skip
    ]
    if any(one != other for one, other in alike):
        faces = merge_faces(graph, faces, alike)
        hits = [_face_at(graph, faces, rule, page_mm) for rule in rules]
    rule_of: dict[int, AreaRule] = {}
    for rule, hit in zip(rules, hits, strict=True):
        rule_of[hit] = _combined(rule_of[hit], rule) if hit in rule_of else rule
    return Ruled(faces, rule_of)


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
    point = np.array([rule.at_mm])
    for number in sorted(range(len(faces.faces)), key=lambda number: faces.faces[number].area):
        if inside_rings(point, [cycle_points(graph.edges, faces.faces[number].outline)])[0]:
            return number
    raise _no_area(graph, faces, rule, page_mm)


def _no_area(graph: LineGraph, faces: Faces, rule: AreaRule, page_mm: tuple[float, float]) -> InputError:
    about = () if rule.number is None else ("area", rule.number, "at")
    if not faces.faces:
        return InputError(
            f"The point {rule.shown(rule.at_mm)} lies in no area, as the drawing encloses none: close its "
            "outline.",
            about,
        )
    point = np.array(rule.at_mm)
    away = [_distance(point, cycle_points(graph.edges, face.outline)) for face in faces.faces]
    nearest = int(np.argmin(away))
    x, y = deepest_point(graph.edges, faces.faces[nearest])
    name = _plain_names(graph, faces, page_mm)[nearest]
    return InputError(
        f'The point {rule.shown(rule.at_mm)} lies in no area: the nearest one is "{name}"; '
        f"write {rule.shown((x, y))} instead.",
        about,
    )


def _plain_names(graph: LineGraph, faces: Faces, page_mm: tuple[float, float]) -> list[str]:
    """Names of all faces where no rule gives any."""
    return name_areas(
        [deepest_point(graph.edges, face) for face in faces.faces],
        [faces.depth(number) for number in range(len(faces.faces))],
        [face.visible for face in faces.faces],
        page_mm,
        [None] * len(faces.faces),
    )


def _distance(point: Floats, polygon: Floats) -> float:
    return float(np.hypot(*(polygon - point).T).min())
