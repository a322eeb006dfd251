"""From skeleton pixels to a graph: junctions, ends and the chains of pixels between them.

Method: pixels with two neighbours are links of a chain, pixels with more make junctions (neighbouring ones
are one junction), pixels with one are ends. Spurs, which a rough outline leaves on a skeleton, are pruned
from the shortest to the longest by how far the ink stands out of the line beside them: the length of the
spur plus the radius of the ink at its tip, less the radius at its root. Junctions whose largest discs of
ink overlap are one crossing: two lines that cross at an angle leave two branch points on the skeleton,
always nearer to each other than the sum of the two radii: each disc reaches the two near corners of the
crossing, half way between the branch points.

The order of branches around each node is kept through every change: merged junctions splice their orders.

Limits: the rules are in line widths; a stub shorter than the pruning length is lost to the graph (it
stays in the ink).
"""

import heapq
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limner.geometry.links import connected_pieces
from limner.model.arrays import Floats, Indices
from limner.regions.walking_order import order_chains

__all__ = ["Branch", "PixelGraph", "pixel_graph"]


# A spur that stands out of its line by less than this is grain of the pencil or the mitre of a corner;
# a stroke that is meant is at least as long as it is wide.
_SPUR_WIDTHS = 1.0

# An isolated stroke shorter than this is a dot: it has no direction and bounds nothing.
_DOT_WIDTHS = 0.6


# Discs count as overlapping up to this share of the sum of their radii, as both are known to a pixel; and
# what joins them must be about straight, in length of its pixels against the way across.
_OVERLAP = 1.1
_STRAIGHT = 1.5


# Lines that cross at a small angle share their ink for a while: at 20 degrees for 5.8 widths. They are known
# by their arms, looked at over this stretch from each junction on, which must all lead to one point near
# the middle: within a share of a line width, and of the branch.
_LONGEST_CROSSING_WIDTHS = 6.0
_ARM_FROM_WIDTHS = 0.5
_ARM_TO_WIDTHS = 2.5
_CROSSING_MISS_WIDTHS = 0.25
_CROSSING_SHIFT = 0.3


@dataclass(slots=True, eq=False)
class Branch:
    """One chain of pixels between two nodes.

    Parameters
    ----------
    start, end : int
        Its nodes; equal for a loop.
    pixels : ndarray of int64, shape (n,)
        Flat indices of its pixels in walking order, those that touch the nodes included.
    free : bool
        Whether it is a loop without any junction.
    """

    start: int
    end: int
    pixels: Indices
    free: bool = False


class PixelGraph:
    """A skeleton as a graph that can still be simplified, with the order of branches around every node.

    Parameters
    ----------
    centres : ndarray, shape (n, 2)
        Centres (x, y) of the nodes, in pixels.
    branches : list of Branch
        Chains between them.
    radius : ndarray of float32, shape (H, W)
        Distance from each ink pixel to the nearest paper.

    Attributes
    ----------
    branches : dict of int to Branch
        By number.
    around : list of list of int
        For each node its half-branches in clockwise order: 2 b where branch b starts, 2 b + 1 where it ends.
        This order, not the drawn geometry, says what lies beside what.
    """

    def __init__(self, centres: Floats, branches: list[Branch], radius: NDArray[np.float32]) -> None:
        self.centres = centres
        self.branches: dict[int, Branch] = dict(enumerate(branches))
        self._radius = radius.ravel()
        self._width = radius.shape[1]
        self.around: list[list[int]] = [[] for _ in range(len(centres))]
        for number, branch in self.branches.items():
            self.around[branch.start].append(2 * number)
            self.around[branch.end].append(2 * number + 1)
        for node, halves in enumerate(self.around):
            if len(halves) > 2:
                halves.sort(key=lambda half, node=node: (self._leaving(half, node), half))  # type: ignore[misc]
        rows = np.clip(centres[:, 1].astype(int), 0, radius.shape[0] - 1)
        columns = np.clip(centres[:, 0].astype(int), 0, radius.shape[1] - 1)
        self.node_radius = radius[rows, columns].astype(np.float64)
        self._lengths: dict[int, float] = {}

    def _leaving(self, half: int, node: int) -> float:
        """Angle at which a half-branch leaves its junction: towards its first pixel off the junction."""
        pixels = self.branches[half >> 1].pixels
        row, column = divmod(int(pixels[1] if half % 2 == 0 else pixels[-2]), self._width)
        x, y = self.centres[node]
        return float(np.arctan2(row + 0.5 - y, column + 0.5 - x))

    def degree(self, node: int) -> int:
        """Number of half-branches at a node."""
        return len(self.around[node])

    def length(self, number: int) -> float:
        """Length of a branch in pixels, along its pixels and up to its nodes' centres."""
        if number not in self._lengths:
            branch = self.branches[number]
            row, column = np.divmod(branch.pixels, self._width)
            points = np.stack([column + 0.5, row + 0.5], axis=1)
            if not branch.free:
                points = np.concatenate(
                    [self.centres[[branch.start]], points, self.centres[[branch.end]]], axis=0
                )
            step = np.diff(points, axis=0)
            self._lengths[number] = float(np.hypot(step[:, 0], step[:, 1]).sum())
        return self._lengths[number]

    def prune(self, line_width: float) -> None:
        """Take out spurs and dots, then join what runs on through a node of two branches."""
        queue = [(self._protrusion(number), number) for number in self.branches if self._is_spur(number)]
        heapq.heapify(queue)
        while queue:
            protrusion, number = heapq.heappop(queue)
            if protrusion >= _SPUR_WIDTHS * line_width:
                break
            if number not in self.branches or not self._is_spur(number):
                continue
            if self._protrusion(number) > protrusion:
                heapq.heappush(queue, (self._protrusion(number), number))
                continue
            branch = self.branches[number]
            root = branch.end if self.degree(branch.start) == 1 else branch.start
            self._take_out(number)
            joined = self._dissolve(root)
            if joined is not None and self._is_spur(joined):
                heapq.heappush(queue, (self._protrusion(joined), joined))
        for node in range(len(self.around)):
            self._dissolve(node)
        for number in list(self.branches):
            branch = self.branches[number]
            alone = self.degree(branch.start) == 1 and self.degree(branch.end) == 1
            if alone and self.length(number) < _DOT_WIDTHS * line_width:
                self._take_out(number)

    def merge_crossings(self, line_width: float) -> None:
        """Contract branches between junctions that are one crossing of two lines."""
        queue = [
            (self.length(number), number)
            for number, branch in self.branches.items()
            if branch.start != branch.end and min(self.degree(branch.start), self.degree(branch.end)) >= 3
        ]
        for length, number in sorted(queue):
            branch = self.branches[number]
            if branch.start == branch.end or length > _LONGEST_CROSSING_WIDTHS * line_width:
                continue
            if self._overlaps(branch, length) or self._crosses_at_a_point(number, line_width):
                self._contract(number)

    def _overlaps(self, branch: Branch, length: float) -> bool:
        distance = self._distance(branch)
        reach = self.node_radius[branch.start] + self.node_radius[branch.end]
        return bool(distance < _OVERLAP * reach) and length < _STRAIGHT * distance

    def _crosses_at_a_point(self, number: int, line_width: float) -> bool:
        """Whether the four arms around a branch are two lines that cross on it, at a small angle."""
        branch = self.branches[number]
        if self.degree(branch.start) != 3 or self.degree(branch.end) != 3:
            return False
        arms = [
            self._arm(half, line_width)
            for node in (branch.start, branch.end)
            for half in self.around[node]
            if half >> 1 != number
        ]
        if any(arm is None for arm in arms):
            return False
        base = np.array([arm[0] for arm in arms if arm is not None])
        along = np.array([arm[1] for arm in arms if arm is not None])
        across = np.stack([-along[:, 1], along[:, 0]], axis=1)
        offset = np.einsum("ij,ij->i", across, base)
        meeting, *_ = np.linalg.lstsq(across, offset, rcond=None)
        misses = np.abs(across @ meeting - offset)
        middle = (self.centres[branch.start] + self.centres[branch.end]) / 2.0
        off_centre = float(np.hypot(*(meeting - middle)))
        return bool(
            misses.max() < _CROSSING_MISS_WIDTHS * line_width
            and off_centre < _CROSSING_SHIFT * self._distance(branch)
        )

    def _arm(self, half: int, line_width: float) -> tuple[Floats, Floats] | None:
        """A point and the direction of a branch as it leaves a node; None where it is too short."""
        pixels = self.branches[half >> 1].pixels
        pixels = pixels if half % 2 == 0 else pixels[::-1]
        low, high = round(_ARM_FROM_WIDTHS * line_width), round(_ARM_TO_WIDTHS * line_width)
        if len(pixels) <= high:
            return None
        row, column = np.divmod(pixels[low : high + 1], self._width)
        points = np.stack([column + 0.5, row + 0.5], axis=1)
        middle = points.mean(axis=0)
        direction = np.linalg.svd(points - middle, full_matrices=False)[2][0]
        return middle, direction

    def _distance(self, branch: Branch) -> float:
        return float(np.hypot(*(self.centres[branch.start] - self.centres[branch.end])))

    def _is_spur(self, number: int) -> bool:
        branch = self.branches[number]
        degrees = sorted((self.degree(branch.start), self.degree(branch.end)))
        return degrees[0] == 1 and degrees[1] >= 3

    def _protrusion(self, number: int) -> float:
        branch = self.branches[number]
        tip, root = branch.start, branch.end
        if self.degree(tip) != 1:
            tip, root = root, tip
        return self.length(number) + float(self.node_radius[tip] - self.node_radius[root])

    def _take_out(self, number: int) -> None:
        branch = self.branches.pop(number)
        self._lengths.pop(number, None)
        self.around[branch.start].remove(2 * number)
        self.around[branch.end].remove(2 * number + 1)

    def _dissolve(self, node: int) -> int | None:
        """Join the two branches at a node of degree two into one; its number, or None."""
        here = self.around[node]
        if len(here) != 2 or here[0] >> 1 == here[1] >> 1:
            return None
        into, out = sorted(here)
        first, second = self.branches[into >> 1], self.branches[out >> 1]
        before = first.pixels if into % 2 else first.pixels[::-1]
        after = second.pixels if out % 2 == 0 else second.pixels[::-1]
        start, end = (first.start if into % 2 else first.end), (second.end if out % 2 == 0 else second.start)
        kept, lost = into >> 1, out >> 1
        # The joined branch takes the places of the two far halves in the orders around their nodes.
        for at, far, near in ((start, into ^ 1, 2 * kept), (end, out ^ 1, 2 * kept + 1)):
            self.around[at][self.around[at].index(far)] = -near - 1
        for at in {start, end}:
            self.around[at] = [-half - 1 if half < 0 else half for half in self.around[at]]
        self.around[node] = []
        for number in (kept, lost):
            self._lengths.pop(number, None)
        del self.branches[lost]
        self.branches[kept] = Branch(start, end, np.concatenate([before, after]), free=False)
        return kept

    def _contract(self, number: int) -> None:
        branch = self.branches[number]
        kept, lost = branch.start, branch.end
        place = self.around[kept].index(2 * number)
        turn = self.around[lost].index(2 * number + 1)
        moved = self.around[lost][turn + 1 :] + self.around[lost][:turn]
        self.around[kept][place : place + 1] = moved
        self.around[lost] = []
        del self.branches[number]
        weights = self.node_radius[[kept, lost]]
        self.centres[kept] = weights @ self.centres[[kept, lost]] / weights.sum()
        self.node_radius[kept] = weights.max()
        for half in moved:
            other = self.branches[half >> 1]
            if half % 2 == 0:
                other.start = kept
            else:
                other.end = kept
            self._lengths.pop(half >> 1, None)


def pixel_graph(skeleton: NDArray[np.bool_], radius: NDArray[np.float32]) -> PixelGraph:
    """Read the graph off a skeleton.

    Parameters
    ----------
    skeleton : ndarray of bool, shape (H, W)
        One pixel thin, 8-connected, its outermost rows and columns empty.
    radius : ndarray of float32, shape (H, W)
        Distance from each ink pixel to the nearest paper.

    Returns
    -------
    PixelGraph
    """
    width = skeleton.shape[1]
    pixels = np.flatnonzero(skeleton)
    links = _links(skeleton, pixels)
    degree = np.bincount(links.ravel(), minlength=len(pixels))
    node_of, centres = _nodes(pixels, links, degree, width)
    chain = np.flatnonzero(degree == 2)
    rank = np.full(len(pixels), -1)
    rank[chain] = np.arange(len(chain))
    in_chain = degree[links] == 2
    chains = order_chains(rank[links[in_chain.all(axis=1)]], len(chain))
    mixed = links[in_chain.sum(axis=1) == 1]
    mixed = np.where((degree[mixed[:, :1]] == 2), mixed, mixed[:, ::-1])
    mixed = mixed[np.lexsort((mixed[:, 1], mixed[:, 0]))]
    branches: list[Branch] = []
    loops: list[Floats] = []
    for piece, closed in enumerate(chains.closed):
        run = chain[chains.order[chains.offsets[piece] : chains.offsets[piece + 1]]]
        if closed:
            node = len(centres) + len(loops)
            loops.append(np.array([[pixels[run[0]] % width + 0.5, pixels[run[0]] // width + 0.5]]))
            branches.append(Branch(node, node, pixels[run], free=True))
            continue
        low = int(np.searchsorted(mixed[:, 0], run[0]))
        before = int(mixed[low, 1])
        if len(run) == 1:
            after = int(mixed[low + 1, 1])
        else:
            after = int(mixed[np.searchsorted(mixed[:, 0], run[-1]), 1])
        whole = pixels[np.concatenate([[before], run, [after]])]
        start, end = int(node_of[before]), int(node_of[after])
        # A loop encloses a pixel of paper only when four pixels lie around it.
        if start != end or len(run) > 2:
            branches.append(Branch(start, end, whole))
    return PixelGraph(np.concatenate([centres, *loops]), branches, radius)


def _links(skeleton: NDArray[np.bool_], pixels: Indices) -> Indices:
    """Pairs of 8-neighbours, as indices into `pixels`."""
    width = skeleton.shape[1]
    flat = skeleton.ravel()
    rank = np.empty(skeleton.size, np.int32)
    rank[pixels] = np.arange(len(pixels))
    pairs = []
    for step in (1, width - 1, width, width + 1):
        there = np.flatnonzero(flat[pixels + step])
        pairs.append(np.stack([there, rank[pixels[there] + step]], axis=1))
    return np.concatenate(pairs).astype(np.int64)


def _nodes(pixels: Indices, links: Indices, degree: Indices, width: int) -> tuple[Indices, Floats]:
    """Number the junctions and ends.

    Returns
    -------
    node_of : ndarray of int64, shape (n,)
        Node of each pixel; -1 on chains.
    centres : ndarray, shape (k, 2)
        Centre of each node.
    """
    junction = degree >= 3
    within = links[junction[links].all(axis=1)]
    _, label = connected_pieces(within, len(pixels))
    is_node = degree != 2
    node_of = np.full(len(pixels), -1)
    used, node_of[is_node] = np.unique(label[is_node], return_inverse=True)
    members = node_of[is_node]
    size = np.bincount(members, minlength=len(used))
    x = np.bincount(members, pixels[is_node] % width + 0.5, minlength=len(used))
    y = np.bincount(members, pixels[is_node] // width + 0.5, minlength=len(used))
    return node_of, np.stack([x, y], axis=1) / np.maximum(size, 1)[:, None]
