"""Faces of a plane graph as cycles of directed edges, with nesting.

Method: around every node the edges are sorted by direction; a walk that always takes the sharpest turn to
the right keeps one face at its right hand (the classical half-edge walk). Edges with the same face on both
sides bound nothing and are left out; what remains is walked again and cut where it touches itself, so that
every cycle is simple. Components that lie inside a face of another one become its holes.

Limits: edges must meet at nodes alone, and leave each node in the order in which they lie around it.
Nesting is decided by one point of each component.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from limner.geometry.cycles import cycle_points
from limner.geometry.links import connected_pieces
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.regionmap import Cycle, Edge

__all__ = ["OUTSIDE", "Face", "Faces", "find_faces"]


OUTSIDE = -1
"""Number of the unbounded face."""


@dataclass(slots=True, eq=False)
class Face:
    """A bounded face.

    Parameters
    ----------
    outline : Cycle
        Positive.
    area : float
        Inside the outline, holes included, in square millimetres.
    holes : list of Cycle
        Negative.
    hole_area : float
        Size of all holes.
    parent : int
        The face in which its component lies; `OUTSIDE` on the page itself.
    """

    outline: Cycle
    area: float
    holes: list[Cycle] = field(default_factory=list)
    hole_area: float = 0.0
    parent: int = OUTSIDE

    @property
    def visible(self) -> float:
        """Size without its holes."""
        return self.area - self.hole_area

    def bridges(self, edges: Sequence[Edge]) -> int:
        """How many gaps in the pencil its boundary bridges."""
        return sum(edges[edge].kind == "bridge" for cycle in (self.outline, *self.holes) for edge, _ in cycle)


@dataclass(slots=True, eq=False)
class Faces:
    """All faces of a graph.

    Parameters
    ----------
    faces : list of Face
        Bounded faces.
    silhouettes : list of Cycle
        Outer boundaries towards the unbounded face, positive.
    side : ndarray of int64, shape (edges, 2)
        Face at the right hand of each edge walked forwards, and walked backwards; `OUTSIDE` for edges that
        bound nothing.
    active : ndarray of bool, shape (edges,)
        Edges that separate two faces.
    """

    faces: list[Face]
    silhouettes: list[Cycle]
    side: NDArray[np.int64]
    active: NDArray[np.bool_]

    def around(self, number: int) -> Iterator[int]:
        """Faces around a face, from the inside to the outside."""
        while (number := self.faces[number].parent) != OUTSIDE:
            yield number

    def depth(self, number: int) -> int:
        """How many faces lie around a face."""
        return sum(1 for _ in self.around(number))


def find_faces(edges: Sequence[Edge], active: NDArray[np.bool_]) -> Faces:
    """Walk all faces.

    Parameters
    ----------
    edges : sequence of Edge
        Plane graph.
    active : ndarray of bool, shape (edges,)
        Which edges to use.

    Returns
    -------
    Faces
    """
    angles = _angles(edges, active)
    moments = _moments(edges)
    walks = _walk(edges, active, angles)
    owner = np.full(2 * len(edges), -1)
    for number, walk in enumerate(walks):
        owner[walk] = number
    active = active & (owner[0::2] != owner[1::2])
    walks = _walk(edges, active, angles)
    return _assemble(edges, active, walks, moments)


def _moments(edges: Sequence[Edge]) -> Floats:
    """What each edge adds to the area of a face at its right hand (the shoelace formula)."""
    points = np.concatenate([edge.points for edge in edges])
    starts = np.cumsum([0, *(len(edge.points) for edge in edges[:-1])])
    x, y = points[:, 0], points[:, 1]
    cross = np.zeros(len(points))
    cross[:-1] = x[:-1] * y[1:] - x[1:] * y[:-1]
    # No step leads from one edge to the next.
    cross[starts[1:] - 1] = 0.0
    return np.asarray(np.add.reduceat(cross, starts)) / 2.0


def _angles(edges: Sequence[Edge], active: NDArray[np.bool_]) -> Floats:
    """Direction of every half-edge at its origin; 2 e walks edge e forwards, 2 e + 1 backwards."""
    steps = np.zeros((2 * len(edges), 2))
    for number in np.flatnonzero(active).tolist():
        points = edges[number].points
        steps[2 * number] = points[1] - points[0]
        steps[2 * number + 1] = points[-2] - points[-1]
    return np.arctan2(steps[:, 1], steps[:, 0])


def _walk(edges: Sequence[Edge], active: NDArray[np.bool_], angles: Floats) -> list[list[int]]:
    """All closed walks of half-edges, the face at the right hand."""
    around: dict[int, list[int]] = {}
    for number in np.flatnonzero(active).tolist():
        around.setdefault(edges[number].start, []).append(2 * number)
        around.setdefault(edges[number].end, []).append(2 * number + 1)
    following: dict[int, int] = {}
    for outgoing in around.values():
        outgoing.sort(key=lambda half: (angles[half], half))
        for place, half in enumerate(outgoing):
            following[half ^ 1] = outgoing[place - 1]
    walks = []
    left = dict.fromkeys(sorted(following))
    while left:
        half = next(iter(left))
        walk = []
        while half in left:
            del left[half]
            walk.append(half)
            half = following[half]
        walks.append(walk)
    return walks


def _simple_cycles(edges: Sequence[Edge], walk: list[int]) -> list[list[int]]:
    """Cut a closed walk where it passes a node twice."""
    cycles: list[list[int]] = []
    stack: list[int] = []
    place: dict[int, int] = {}
    for half in walk:
        edge = edges[half >> 1]
        start, end = (edge.start, edge.end) if half % 2 == 0 else (edge.end, edge.start)
        place[start] = len(stack)
        stack.append(half)
        if end in place:
            cycle = stack[place[end] :]
            for popped in cycle:
                other = edges[popped >> 1]
                place.pop(other.start if popped % 2 == 0 else other.end, None)
            del stack[len(stack) - len(cycle) :]
            cycles.append(cycle)
    return cycles


def _as_cycle(walk: list[int]) -> Cycle:
    return tuple((half >> 1, half % 2 == 0) for half in walk)


def _reversed(cycle: Cycle) -> Cycle:
    return tuple((edge, not forward) for edge, forward in reversed(cycle))


def _assemble(
    edges: Sequence[Edge], active: NDArray[np.bool_], walks: list[list[int]], moments: Floats
) -> Faces:
    faces: list[Face] = []
    side = np.full(2 * len(edges), OUTSIDE)
    nodes = np.array([[edge.start, edge.end] for edge in edges]).reshape(-1, 2)
    component = connected_pieces(nodes[active], int(nodes.max(initial=-1)) + 1)[1].tolist()
    outer: list[tuple[int, list[list[int]], list[int]]] = []
    component_of_face: list[int] = []
    sizes = [sum(moments[half >> 1] * (1 if half % 2 == 0 else -1) for half in walk) for walk in walks]
    home = [component[edges[walk[0] >> 1].start] for walk in walks]
    # Every component has one walk around all of it: the most negative. A speck whose lines cross by a hair
    # may come out negative too, but is a face all the same.
    around: dict[int, int] = {}
    for number, which in enumerate(home):
        if which not in around or sizes[number] < sizes[around[which]]:
            around[which] = number
    for number, (walk, which) in enumerate(zip(walks, home, strict=True)):
        cycles = _simple_cycles(edges, walk)
        if around[which] == number:
            outer.append((which, cycles, walk))
            continue
        parts = [sum(moments[half >> 1] * (1 if half % 2 == 0 else -1) for half in cycle) for cycle in cycles]
        best = int(np.argmax(parts))
        face = Face(_as_cycle(cycles[best]), max(float(parts[best]), 0.0))
        face.holes = [_as_cycle(cycle) for place, cycle in enumerate(cycles) if place != best]
        face.hole_area = float(-sum(part for place, part in enumerate(parts) if place != best))
        side[walk] = len(faces)
        component_of_face.append(which)
        faces.append(face)
    silhouettes: list[Cycle] = []
    boxes = _boxes(edges, faces)
    polygons: dict[int, Floats] = {}
    parent_of_component: dict[int, int] = {}
    for which, cycles, walk in outer:
        point = edges[walk[0] >> 1].points[0]
        parent = _containing(point, which, edges, faces, boxes, polygons, component_of_face)
        parent_of_component[which] = parent
        side[walk] = parent
        if parent == OUTSIDE:
            silhouettes.extend(_reversed(_as_cycle(cycle)) for cycle in cycles)
        else:
            faces[parent].holes.extend(_as_cycle(cycle) for cycle in cycles)
            faces[parent].hole_area -= float(
                sum(moments[half >> 1] * (1 if half % 2 == 0 else -1) for cycle in cycles for half in cycle)
            )
    for face, which in zip(faces, component_of_face, strict=True):
        face.parent = parent_of_component.get(which, OUTSIDE)
    return Faces(faces, silhouettes, side.reshape(-1, 2), active)


def _boxes(edges: Sequence[Edge], faces: list[Face]) -> Floats:
    """Bounding boxes (x0, y0, x1, y1) of all outlines, shape (faces, 4)."""
    if not faces:
        return np.zeros((0, 4))
    low, high = _lowest_and_highest([edge.points for edge in edges])
    outlines = [[edge for edge, _ in face.outline] for face in faces]
    starts = np.cumsum([0, *map(len, outlines[:-1])])
    used = np.concatenate(outlines)
    return np.concatenate(
        [np.minimum.reduceat(low[used], starts), np.maximum.reduceat(high[used], starts)], axis=1
    )


def _lowest_and_highest(parts: Sequence[Floats]) -> tuple[Floats, Floats]:
    """Corners of the boxes around polylines, each of shape (parts, 2)."""
    points = np.concatenate(parts)
    starts = np.cumsum([0, *map(len, parts[:-1])])
    return np.minimum.reduceat(points, starts), np.maximum.reduceat(points, starts)


def _containing(
    point: Floats,
    which: int,
    edges: Sequence[Edge],
    faces: list[Face],
    boxes: Floats,
    polygons: dict[int, Floats],
    component_of_face: list[int],
) -> int:
    """The smallest face of another component around a point."""
    x, y = point
    hits = np.flatnonzero(
        (boxes[:, 0] < x) & (boxes[:, 1] < y) & (boxes[:, 2] > x) & (boxes[:, 3] > y)
    ).tolist()
    hits = [hit for hit in hits if component_of_face[hit] != which]
    for hit in sorted(hits, key=lambda number: (faces[number].area, number)):
        if hit not in polygons:
            polygons[hit] = cycle_points(edges, faces[hit].outline)
        if inside_rings(point[None], [polygons[hit]])[0]:
            return hit
    return OUTSIDE
