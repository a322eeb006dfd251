"""Which bridges are worth it once all of them are in the map.

Method: faces are merged over the bridges between them, from the longest bridge to the shortest, unless the
bridge is worth it by what is on its two sides: neither of the two faces is tiny, both owe their outline to
the pencil rather than to bridges, and the passage that it closes is narrow beside the room behind it. That is
how basins of a distance map are merged over their saddles, but over those alone at which a line ends. What
continues a line smoothly is kept however narrow the room is.

Limits: how narrow a passage is that was not meant is a judgement, not a theorem; it was set on drawings from
outside the project (tests/regions/test_regions_figures.py).
"""

import numpy as np

from limner.model.arrays import Flags
from limner.model.regionmap import LineGraph
from limner.regions.edits import join_edges
from limner.regions.faces.sizes import edge_lengths, shown_sizes
from limner.regions.faces.walk import OUTSIDE, Faces, find_faces
from limner.regions.gaps.candidates import Bridge
from limner.regions.gaps.inner_radii import inner_radii
from limner.regions.gaps.inserting import Bridged

__all__ = ["only_worthwhile"]


# An area is worth a bridge when it shows at least this many square line widths.
_WORTH_WIDTHS2 = 3.0

# Largest share of an area's outline that may be bridges.
_LARGEST_BRIDGED_SHARE = 0.4

# The widest passage that is closed, in radii of the largest disc in the smaller of the two rooms that it
# joins: towards the page around the drawing, and between two areas, where a leak does less harm. A passage of
# two radii is as wide as the room itself. Found by search on two thirds of the drawings of
# tests/regions/test_regions_figures.py.
_OPENING_RADII = 1.5
_PARTING_RADII = 1.25
# A neck beside a line that was not heading there has less in its favour.
_NECK_TO_LINE_RADII = 0.5

# A line that stops in the middle of an area, as a rib of a shell or the ray of a fin does, is mostly meant
# to stop there: it parts the area only where no more than this is missing. A bite of 2.4 % of the page out
# of a fine pencil's junction is three and a half widths, which is to be closed; ribs and rays of the
# drawings in fixtures/ are open by more than four.
_PARTING_TO_LINE_WIDTHS = 4.0


class _Merging:
    """Faces as they merge when bridges between them are taken out; the last one is the outside."""

    def __init__(self, graph: LineGraph, faces: Faces, is_bridge: Flags) -> None:
        count = len(faces.faces)
        self.outside = count
        self.length = edge_lengths(graph.edges)
        self.side = np.where(faces.side == OUTSIDE, count, faces.side)
        self.line_width = graph.line_width_mm
        used = np.repeat(faces.active[:, None], 2, axis=1)
        length = np.repeat(self.length[:, None], 2, axis=1)
        bridged = used & is_bridge[:, None]
        self.outline = np.bincount(self.side[used], length[used], count + 1).tolist()
        self.bridged = np.bincount(self.side[bridged], length[bridged], count + 1).tolist()
        # A bridge takes as much of a room as the line that it stands for.
        shown = np.append(shown_sizes(graph.edges, faces, graph.line_width_mm), np.inf)
        np.subtract.at(shown, self.side[bridged], length[bridged] * graph.line_width_mm / 2.0)
        self.shown = shown.tolist()
        self.radius = [*inner_radii(graph, faces).tolist(), np.inf]
        self._root = list(range(count + 1))

    def sides(self, edge: int) -> tuple[int, int]:
        """The faces on both sides of an edge as they are now; the outside always second."""
        low, high = sorted(self._find(int(face)) for face in self.side[edge])
        return low, high

    def _find(self, face: int) -> int:
        while self._root[face] != face:
            face = self._root[face]
        return face

    def merge(self, edge: int) -> None:
        """Take an edge out."""
        low, high = self.sides(edge)
        self._root[low] = high
        self.radius[high] = max(self.radius[low], self.radius[high])
        self.shown[high] += self.shown[low] + self.length[edge] * self.line_width
        self.outline[high] += self.outline[low] - 2.0 * self.length[edge]
        self.bridged[high] += self.bridged[low] - 2.0 * self.length[edge]

    def bridged_share(self, face: int) -> float:
        """Share of a face's outline that is bridged; 0 for the outside."""
        return 0.0 if face == self.outside else self.bridged[face] / max(self.outline[face], 1e-9)


def only_worthwhile(state: Bridged) -> LineGraph:
    """Take out bridges that bound nothing, or little, or mostly bridged areas, or close a wide passage.

    Parameters
    ----------
    state : Bridged
        Lines and all bridges that were found.

    Returns
    -------
    LineGraph
        With the bridges that are left; lines that were cut for the others are whole again.
    """
    graph = state.graph
    bridges = {number: origin for number, origin in enumerate(state.origin) if origin is not None}
    if not bridges:
        return graph
    is_bridge = np.zeros(len(graph.edges), bool)
    is_bridge[list(bridges)] = True
    faces = find_faces(graph.edges, np.ones(len(graph.edges), bool))
    merging = _Merging(graph, faces, is_bridge)
    dropped = {number for number in bridges if not faces.active[number]}
    kept = sorted(set(bridges) - dropped, key=lambda number: (-merging.length[number], number))
    for number in kept:
        low, high = merging.sides(number)
        if low == high:
            dropped.add(number)
        elif not _worth(bridges[number], low, high, merging):
            merging.merge(number)
            dropped.add(number)
    edges = tuple(edge for number, edge in enumerate(graph.edges) if number not in dropped)
    return join_edges(LineGraph(graph.nodes, edges, graph.line_width_mm))


def _worth(bridge: Bridge, low: int, high: int, merging: _Merging) -> bool:
    """Whether a bridge between two faces is worth it."""
    if min(merging.shown[low], merging.shown[high]) < _WORTH_WIDTHS2 * merging.line_width**2:
        return False
    if max(merging.bridged_share(low), merging.bridged_share(high)) > _LARGEST_BRIDGED_SHARE:
        return False
    parts = high != merging.outside
    if parts and bridge.second is None and bridge.gap > _PARTING_TO_LINE_WIDTHS * merging.line_width:
        return False
    radii = _PARTING_RADII if parts else _OPENING_RADII
    if bridge.is_neck and bridge.second is None:
        radii = _NECK_TO_LINE_RADII
    if bridge.gap <= radii * min(merging.radius[low], merging.radius[high]):
        return True
    return bridge.continues(merging.line_width)
