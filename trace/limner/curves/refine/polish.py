"""Move all nodes, tangents and handles of many paths together until they meet the data best.

Method: Gauss-Newton with Levenberg-Marquardt damping on the distances along the curve's normals, the foot
points moved along at each step ("tangent distance minimisation": Wang, Pottmann, Liu, ACM TOG 25 (2006),
from memory). Unknowns of a node: its place, the direction and length of each handle; a smooth node has
one direction. The steps are compiled (``kernels/polish.c``, ``kernels/normal.c``).

Limits: a local method, it wants a start from `plan`.
"""

import numpy as np

from limner.curves.kernels import compiled, whole
from limner.curves.refine.paths import Data, Nodes, moved_to

__all__ = ["polish"]


def polish(nodes: Nodes, data: Data, *, steps: int, sharp: bool = False) -> tuple[Nodes, Data]:
    """Lower the distances of all paths, each by itself.

    Parameters
    ----------
    nodes, data
        Start; the feet need only be near. The samples of a path follow each other, as its segments do.
    steps : int
        Most Gauss-Newton steps; a path that gains nothing any more gets none.
    sharp : bool
        Whether the largest distances count the more, as in a sum of sixth powers; else least squares.

    Returns
    -------
    nodes, data
        The best found for each path, with the feet on it.
    """
    place, angle, handle = np.array(nodes.place), np.array(nodes.angle), np.array(nodes.handle)
    segment, t = np.array(data.segment, dtype=np.int64), np.array(data.t)
    as_is = np.ascontiguousarray
    compiled.polish(
        place=place, angle=angle, handle=handle,
        smooth=as_is(nodes.smooth), fixed=as_is(nodes.fixed), held=as_is(nodes.held),
        start=whole(nodes.start), end=whole(nodes.end),
        before=whole(nodes.before), after=whole(nodes.after),
        path=whole(nodes.path), straight=as_is(nodes.straight),
        points=as_is(data.points), tolerance=as_is(data.tolerance), segment=segment, t=t,
        steps=steps, sharp=sharp,
    )  # fmt: skip
    return moved_to(nodes, place, angle, handle), Data(data.points, data.tolerance, segment, t)
