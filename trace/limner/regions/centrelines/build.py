"""From ink to the graph of its centrelines.

Method: the ink is reduced until its lines are a few pixels wide, pinholes of the grain are filled and solid
blacks hollowed out, so that their rim is a line like any other (`limner.regions.centrelines.working_ink`);
the rest is thinned (`limner.regions.centrelines.thinning`), read as a graph and simplified
(`limner.regions.centrelines.skeleton`) and drawn towards the middle of the ink
(`limner.regions.centrelines.edges`). The rim of a solid runs half a line width inside of its outline: what is
filled beside the solid is thus tucked under it.

Limits: two lines nearer than about a tenth of a line width become one.
"""

import numpy as np

from limner.model.arrays import Floats
from limner.model.raster import ScaledInk
from limner.model.regionmap import Edge, LineGraph
from limner.regions.centrelines.edges import DrawnGraph, draw_edges
from limner.regions.centrelines.node_order import keep_order
from limner.regions.centrelines.skeleton import pixel_graph
from limner.regions.centrelines.thinning import thin
from limner.regions.centrelines.working_ink import WorkingInk, prepare_ink
from limner.regions.edits import without_points

__all__ = ["build_graph"]


def build_graph(ink: ScaledInk) -> LineGraph:
    """Find the centrelines of the ink.

    Parameters
    ----------
    ink : ScaledInk
        The ink.

    Returns
    -------
    LineGraph
        Nodes are junctions, free ends (at the tip of the ink) and one point of each loop without junction;
        edges run from node to node, spaced about a tenth of a line width, and never cross.
    """
    work = prepare_ink(ink)
    if work is None:
        return LineGraph(np.zeros((0, 2)), (), ink.line_width_mm)
    radius = work.radius()
    graph = pixel_graph(thin(work.mask), radius)
    graph.prune(work.line_width)
    graph.merge_crossings(work.line_width)
    drawn = draw_edges(graph, radius, work)
    keep_order(drawn, work.line_width)
    return without_points(_in_mm(drawn, work, ink))


def _in_mm(drawn: DrawnGraph, work: WorkingInk, ink: ScaledInk) -> LineGraph:
    """The graph on the page, in millimetres."""
    height, width = ink.coverage.shape

    def to_mm(points: Floats) -> Floats:
        return np.clip(work.origin + work.factor * points, 0.0, (width, height)) * ink.mm_per_px

    edges = (
        Edge(to_mm(edge.points), edge.width * work.factor * ink.mm_per_px, edge.start, edge.end, edge.kind)
        for edge in drawn.edges
    )
    return LineGraph(to_mm(drawn.nodes), tuple(edges), ink.line_width_mm)
