"""A sketch's map as JSON, and back with every reference in it checked."""

from collections.abc import Sequence
from typing import Any, get_args

import numpy as np

from limner.model.arrays import Floats
from limner.model.drawing import Zone
from limner.model.regionmap import Area, CornerMark, Cycle, Edge, EdgeKind, InkRing, LineGraph, RegionMap
from limner.pipeline.kept.entries import (
    array_from_text,
    array_to_text,
    axis_from_json,
    axis_to_json,
    fill_from_json,
    index,
    number,
    text,
)
from limner.pipeline.sketch.axes.figure import Mirrored
from limner.pipeline.sketch.mapping import SketchMap

__all__ = ["map_from_json", "map_to_json"]


def map_to_json(mapped: SketchMap) -> dict[str, Any]:
    """Everything in a map."""
    regions = mapped.regions
    return {
        "size": [regions.width_mm, regions.height_mm],
        "line_width_mm": regions.graph.line_width_mm,
        "nodes": array_to_text(regions.graph.nodes),
        "edges": _edges_to_json(regions.graph.edges),
        "areas": [_area_to_json(area) for area in regions.areas],
        "silhouettes": list(regions.silhouettes),
        "openings": list(regions.openings),
        "marks": [[*mark.at_mm, mark.reach_mm, mark.sharp] for mark in regions.marks],
        "ink": _ink_to_json(regions.ink),
        "zones": [_zone_to_json(zone) for zone in mapped.zones],
        "mirrored": [_mirrored_to_json(one) for one in mapped.mirrored],
        "px_per_mm": mapped.px_per_mm,
        "frame": list(mapped.frame),
        "read": [mapped.read_mm, mapped.following_mm],
    }


def map_from_json(data: Any) -> SketchMap:
    """The map that `map_to_json` wrote.

    Raises
    ------
    ValueError, KeyError, TypeError, AttributeError
        It is no map.
    """
    nodes = array_from_text(data["nodes"])
    edges = _edges_from_json(data["edges"], nodes)
    width, height = (number(value) for value in data["size"])
    left, top, page_width, page_height = (number(value) for value in data["frame"])
    count = len(data["areas"])
    regions = RegionMap(
        width,
        height,
        LineGraph(nodes, edges, number(data["line_width_mm"])),
        tuple(_area_from_json(area, edges, count) for area in data["areas"]),
        tuple(_cycle(cycle, edges) for cycle in data["silhouettes"]),
        _ink_from_json(data["ink"]),
        tuple(_cycle(cycle, edges) for cycle in data["openings"]),
        tuple(_mark_from_json(mark) for mark in data["marks"]),
    )
    return SketchMap(
        regions,
        tuple(_zone_from_json(zone) for zone in data["zones"]),
        tuple(_mirrored_from_json(one) for one in data["mirrored"]),
        number(data["px_per_mm"]),
        (left, top, page_width, page_height),
        None if data["read"][0] is None else number(data["read"][0]),
        number(data["read"][1]),
    )


def _edges_to_json(edges: Sequence[Edge]) -> dict[str, Any]:
    return {
        "points": _joined([edge.points for edge in edges]),
        "width_mm": _joined([edge.width_mm for edge in edges]),
        "counts": [len(edge.points) for edge in edges],
        "start": [int(edge.start) for edge in edges],
        "end": [int(edge.end) for edge in edges],
        "kind": [edge.kind for edge in edges],
    }


def _edges_from_json(data: Any, nodes: Floats) -> tuple[Edge, ...]:
    points = _parted(array_from_text(data["points"]), data["counts"])
    widths = _parted(array_from_text(data["width_mm"], 1), data["counts"])
    ends = zip(data["start"], data["end"], data["kind"], strict=True)
    edges = []
    for along, width, (start, end, kind) in zip(points, widths, ends, strict=True):
        if kind not in get_args(EdgeKind):
            raise ValueError("no kind of edge")
        edges.append(Edge(along, width, index(start, len(nodes)), index(end, len(nodes)), kind))
    return tuple(edges)


def _area_to_json(area: Area) -> dict[str, Any]:
    return {name: getattr(area, name) for name in Area.__slots__}


def _area_from_json(data: Any, edges: Sequence[Edge], count: int) -> Area:
    x, y = (number(value) for value in data["inside"])
    if not isinstance(data["order"], int):
        raise ValueError("not a place in the stack")
    if not isinstance(data["inked"], bool):
        raise ValueError("neither inked nor not")
    return Area(
        text(data["name"]),
        _cycle(data["outline"], edges),
        tuple(_cycle(cycle, edges) for cycle in data["holes"]),
        None if data["parent"] is None else index(data["parent"], count),
        (x, y),
        number(data["area_mm2"]),
        None if data["fill"] is None else fill_from_json(data["fill"]),
        data["order"],
        index(data["bridged_gaps"]),
        None if data["smoothing_mm"] is None else number(data["smoothing_mm"]),
        None if data["nodes"] is None else index(data["nodes"]),
        None if data["rule"] is None else index(data["rule"]),
        data["inked"],
    )


def _cycle(data: Any, edges: Sequence[Edge]) -> Cycle:
    """A closed walk: each edge begins where the one before it ends."""
    steps = tuple((index(edge, len(edges)), forward) for edge, forward in data)
    if not steps or not all(isinstance(forward, bool) for _, forward in steps):
        raise ValueError("not a cycle")
    ways = [(edges[k].start, edges[k].end)[:: 1 if forward else -1] for k, forward in steps]
    if any(one[1] != other[0] for one, other in zip(ways, (*ways[1:], ways[0]), strict=True)):
        raise ValueError("a cycle that is not closed")
    return steps


def _ink_to_json(rings: Sequence[InkRing]) -> dict[str, Any]:
    return {
        "points": _joined([ring.points for ring in rings]),
        "counts": [len(ring.points) for ring in rings],
        "piece": [int(ring.piece) for ring in rings],
        "solid": [bool(ring.solid) for ring in rings],
        "width_mm": [None if ring.width_mm is None else array_to_text(ring.width_mm) for ring in rings],
    }


def _ink_from_json(data: Any) -> tuple[InkRing, ...]:
    points = _parted(array_from_text(data["points"]), data["counts"])
    rings = []
    for ring, piece, solid, width in zip(points, data["piece"], data["solid"], data["width_mm"], strict=True):
        if not isinstance(solid, bool):
            raise ValueError("neither solid nor not")
        own = None if width is None else array_from_text(width, 1)
        rings.append(InkRing(ring, index(piece), solid, own))
    return tuple(rings)


def _mark_from_json(data: Any) -> CornerMark:
    x, y, reach, sharp = data
    if not isinstance(sharp, bool):
        raise ValueError("neither sharp nor not")
    return CornerMark((number(x), number(y)), number(reach), sharp)


def _zone_to_json(zone: Zone) -> dict[str, Any]:
    rings = [array_to_text(ring) for ring in zone.rings]
    return {"rings": rings, "smoothing_mm": zone.smoothing_mm, "nodes": zone.nodes, "name": zone.name}


def _zone_from_json(data: Any) -> Zone:
    return Zone(
        tuple(array_from_text(ring) for ring in data["rings"]),
        None if data["smoothing_mm"] is None else number(data["smoothing_mm"]),
        None if data["nodes"] is None else index(data["nodes"]),
        text(data["name"]),
    )


def _mirrored_to_json(one: Mirrored) -> dict[str, Any]:
    within = None if one.within is None else [array_to_text(ring) for ring in one.within]
    return {"axis": axis_to_json(one.axis), "within": within, "one_sided": list(one.one_sided)}


def _mirrored_from_json(data: Any) -> Mirrored:
    within = data["within"]
    return Mirrored(
        axis_from_json(data["axis"]),
        None if within is None else tuple(array_from_text(ring) for ring in within),
        tuple(text(name) for name in data["one_sided"]),
    )


def _joined(arrays: Sequence[Floats]) -> str:
    return array_to_text(np.concatenate(arrays)) if arrays else ""


def _parted(array: Floats, counts: Any) -> list[Floats]:
    ends = np.cumsum([index(count) for count in counts], dtype=np.intp)
    if len(array) != (ends[-1] if len(ends) else 0):
        raise ValueError("more or fewer points than are counted")
    return np.split(array, ends[:-1]) if len(ends) else []
