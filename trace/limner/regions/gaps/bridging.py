"""Close the gaps that the pencil left.

Method: all free ends propose bridges (`limner.regions.gaps.candidates`); the set that is worth most without
two bridges sharing an end or crossing is chosen as a whole (`limner.regions.gaps.independent_set`). Ends that
are still free then look once more, at the bridges too: where a junction fell into a gap, the third line meets
the bridge of the other two. From ends that no direction led anywhere, the narrow passages of the paper beside
them are bridged (`limner.regions.gaps.necks`). Finally every bridge must be worth it
(`limner.regions.gaps.worth`): it has to separate two areas, neither of them tiny, by closing a passage that
is narrow beside them.

Limits: what the pencil left open on purpose, no wider than a gap that it left by mistake, is closed as well.
"""

import numpy as np
from scipy.spatial import cKDTree

from limner.model.regionmap import LineGraph
from limner.regions.gaps.candidates import Bridge, candidates
from limner.regions.gaps.crossings import crossing_pairs
from limner.regions.gaps.ends import End, find_ends, off_page
from limner.regions.gaps.independent_set import choose
from limner.regions.gaps.inserting import Bridged, insert
from limner.regions.gaps.line_index import LineIndex
from limner.regions.gaps.necks import find_necks
from limner.regions.gaps.worth import only_worthwhile

__all__ = ["close_gaps", "default_largest_gap_mm"]


# Without a setting, gaps are closed up to this many line widths ...
_GAP_WIDTHS = 3.0
# ... or up to this share of the drawing's size (the diagonal of its bounding box), if that is more.
_GAP_SHARE = 0.05

# Necks know nothing of directions: they are trusted over this share of the largest gap (set on two thirds of
# the drawings of tests/regions/test_regions_figures.py).
_NECK_SHARE = 0.7

_ROUNDS = 2


def default_largest_gap_mm(graph: LineGraph) -> float:
    """Largest gap that is closed without a setting, in millimetres."""
    if not graph.edges:
        return 0.0
    low = np.min([edge.points.min(axis=0) for edge in graph.edges], axis=0)
    high = np.max([edge.points.max(axis=0) for edge in graph.edges], axis=0)
    return max(_GAP_WIDTHS * graph.line_width_mm, _GAP_SHARE * float(np.hypot(*(high - low))))


def close_gaps(
    graph: LineGraph, largest_gap_mm: float, page_mm: tuple[float, float], *, inked: bool = True
) -> LineGraph:
    """Add bridges to a graph.

    Parameters
    ----------
    graph : LineGraph
        Lines as drawn.
    largest_gap_mm : float
        The longest bridge; 0 for none.
    page_mm : tuple of float
        Size of the page: lines that run off it are no free ends.
    inked : bool
        Whether bridges within one line get its width.

    Returns
    -------
    LineGraph
        The same lines, cut where a bridge lands on them, and the bridges, which come last.
    """
    if largest_gap_mm <= 0 or not graph.edges:
        return graph
    state = Bridged(graph, (None,) * len(graph.edges))
    for turn in range(_ROUNDS):
        graph = state.graph
        ends = _free_ends(graph, page_mm)
        if turn > 0:
            ends = _near_bridges(ends, graph, largest_gap_mm)
        if not ends:
            break
        found = candidates(graph, ends, LineIndex(graph), largest_gap_mm)
        chosen = choose([bridge.weight for bridge in found], _conflicts(found))
        if not chosen:
            break
        state = insert(state, ends, [found[number] for number in chosen], inked=inked)
    ends = _free_ends(state.graph, page_mm)
    across = find_necks(state.graph, ends, _NECK_SHARE * largest_gap_mm)
    return only_worthwhile(insert(state, ends, across, inked=False))


def _free_ends(graph: LineGraph, page_mm: tuple[float, float]) -> list[End]:
    return [end for end in find_ends(graph) if not off_page(end.point, page_mm, graph.line_width_mm)]


def _near_bridges(ends: list[End], graph: LineGraph, largest_gap_mm: float) -> list[End]:
    """Ends for which the first bridges may have changed something."""
    bridges = [edge.points for edge in graph.edges if edge.kind == "bridge"]
    if not bridges or not ends:
        return []
    near = cKDTree(np.concatenate(bridges)).query_ball_point(
        [end.point for end in ends], largest_gap_mm, return_length=True
    )
    return [end for end, beside in zip(ends, near, strict=True) if beside > 0]


def _conflicts(found: list[Bridge]) -> list[set[int]]:
    """For each candidate those that share one of its ends or cross it."""
    conflicts: list[set[int]] = [set() for _ in found]
    by_end: dict[int, list[int]] = {}
    for number, bridge in enumerate(found):
        for end in (bridge.first, bridge.second):
            if end is not None:
                by_end.setdefault(end, []).append(number)
    for users in by_end.values():
        for number in users:
            conflicts[number].update(users)
    if found:
        for one, other in crossing_pairs(np.array([bridge.points for bridge in found])).tolist():
            conflicts[one].add(other)
            conflicts[other].add(one)
    for number in range(len(found)):
        conflicts[number].discard(number)
    return conflicts
