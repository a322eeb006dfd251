"""What the user wants of single areas, brought to the faces that the points of the rules hit."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from limner.errors import InputError
from limner.geometry.cycles import cycle_points
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.regionmap import LineGraph
from limner.regions.areas.interiors import deepest_point
from limner.regions.areas.names import name_areas
from limner.regions.faces.merging import merge_faces
from limner.regions.faces.walk import OUTSIDE, Faces
from limner.regions.settings import AreaRule

__all__ = ["hit_faces", "join_areas", "rules_of", "without_looks"]


# What a rule may say of its area.
_SAID = ("name", "fill", "order", "smoothing_mm", "nodes")


def without_looks(rules: Sequence[AreaRule]) -> tuple[AreaRule, ...]:
    """Of rules, only what joins, orders and skips areas: where that is the same, a drawing is arranged alike.

    Parameters
    ----------
    rules : sequence of AreaRule
        In the order in which they count.

    Returns
    -------
    tuple of AreaRule
        Those that do any of it; named by the first rule of the same name where they join areas.
    """
    with_name = Counter(rule.name for rule in rules if rule.name is not None)
    first: dict[str, int] = {}
    bare = []
    for number, rule in enumerate(rules):
        name = None
        if rule.name is not None and with_name[rule.name] > 1:
            name = f"joined-{first.setdefault(rule.name, number)}"
        if name is not None or rule.order is not None or rule.skip:
            bare.append(replace(rule, name=name, fill=None, smoothing_mm=None, nodes=None))
    return tuple(bare)


def join_areas(
    graph: LineGraph, faces: Faces, rules: Sequence[AreaRule], page_mm: tuple[float, float]
) -> Faces:
    """Join areas of one name, as far as they have a common border.

    Parameters
    ----------
    graph : LineGraph
        Lines and bridges.
    faces : Faces
        Faces of the graph.
    rules : sequence of AreaRule
        What the user wants.
    page_mm : tuple of float
        Size of the page.

    Returns
    -------
    Faces

    Raises
    ------
    InputError
        A rule's point lies in no area.
    """
    named: dict[str, int] = {}
    alike = [
        (named.setdefault(rule.name, hit), hit)
        for rule, hit in zip(rules, hit_faces(graph, faces, rules, page_mm), strict=True)
        if rule.name is not None and not rule.skip
    ]
    return merge_faces(graph, faces, alike) if any(one != other for one, other in alike) else faces


def hit_faces(
    graph: LineGraph, faces: Faces, rules: Sequence[AreaRule], page_mm: tuple[float, float]
) -> tuple[int, ...]:
    """The innermost face around the point of each rule.

    Parameters
    ----------
    graph, faces, rules, page_mm : LineGraph, Faces, sequence of AreaRule, tuple of float
        As for `join_areas`.

    Raises
    ------
    InputError
        A rule's point lies in no area.
    """
    if not rules:
        return ()
    points = np.array([rule.at_mm for rule in rules])
    hits = np.full(len(rules), OUTSIDE)
    for number in sorted(range(len(faces.faces)), key=lambda number: -faces.faces[number].area):
        hits[inside_rings(points, [cycle_points(graph.edges, faces.faces[number].outline)])] = number
    for rule, hit in zip(rules, hits.tolist(), strict=True):
        if hit == OUTSIDE:
            raise _no_area(graph, faces, rule, page_mm)
    return tuple(hits.tolist())


def rules_of(rules: Sequence[AreaRule], hits: Sequence[int]) -> dict[int, AreaRule]:
    """The rule of each face that a point hit; of several, what all of them say together.

    Raises
    ------
    InputError
        Two of them say different things of one face; the error is about the later one.
    """
    rule_of: dict[int, AreaRule] = {}
    said: dict[tuple[int, str], AreaRule] = {}
    for rule, hit in zip(rules, hits, strict=True):
        for key in _SAID:
            if getattr(rule, key) is None:
                continue
            earlier = said.setdefault((hit, key), rule)
            if getattr(earlier, key) != getattr(rule, key):
                raise _contradicted(earlier, rule)
        rule_of[hit] = _combined(rule_of[hit], rule) if hit in rule_of else rule
    return rule_of


def _contradicted(earlier: AreaRule, rule: AreaRule) -> InputError:
    of_which = "" if earlier.name is None else f' "{earlier.name}"'
    return InputError(
        f"The point {rule.shown(rule.at_mm)} lies in the same area{of_which} as "
        f"{earlier.shown(earlier.at_mm)} of another table: take another area's, or make one table of both.",
        () if rule.number is None else ("area", rule.number, "at"),
        () if earlier.number is None else ("area", earlier.number, "at"),
    )


def _combined(first: AreaRule, second: AreaRule) -> AreaRule:
    """Two rules for one area, which do not contradict each other.

    The number is that of the rule that gives the fill, as colours for print are looked up by it.
    """
    said = {key: getattr(second, key) for key in _SAID if getattr(second, key) is not None}
    last = first if second.fill is None and first.fill is not None else second
    return replace(first, **said, skip=first.skip or second.skip, number=last.number)


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
