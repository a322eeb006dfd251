"""Let stickers that are alike change places with others, so that they lie apart, or together.

Method: two places are neighbours where the circle between their middles holds no third one (the graph of
Gabriel and Sokal, "A new statistical approach to geographic variation analysis", Systematic Zoology 18, 1969;
from memory). Of all exchanges of two stickers that lessen the number of neighbours which are alike (or raise
it), the one that does so most is tried first, of several the one between outlines of the most similar size.
It is taken where all distances are kept, if need be after parting.

Limits: greedy; where outlines differ and there is little room, few exchanges are possible.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from limner.model.arrays import Flags, Floats, Ints
from limner.sheet.layout.free import Region
from limner.sheet.layout.pose import Pose
from limner.sheet.layout.room import Room
from limner.sheet.settings import Alike

__all__ = ["alike_neighbours", "arranged"]

# The search ends after so many exchanges in vain, or as many as there are stickers. So often all outlines are
# parted anew to make room for one, but not where there are more stickers than the last number says, as that
# takes a second then.
_VAIN_TRIALS, _PARTINGS, _MOST_PARTED = 60, 8, 60


def arranged(room: Room, poses: list[Pose], alike: Alike) -> list[Pose]:
    """Places with stickers of one kind apart, or together.

    Parameters
    ----------
    room : Room
        Stickers and the room for them.
    poses : list of Pose
        Where they lie, all distances kept.
    alike : {"apart", "together"}
        What is asked for.

    Returns
    -------
    list of Pose
        All distances kept; the same list where nothing is to be changed.
    """
    kinds = _numbers([sticker.kind for sticker in room.stickers])
    if len(set(kinds.tolist())) in (1, len(kinds)):
        return poses
    layout = _Layout.of(room, poses)
    refused = kinds[:, None] == kinds
    vain, trials = 0, max(_VAIN_TRIALS, len(poses))
    sideways = len(poses) if alike == "apart" else 0
    partings = _PARTINGS if len(poses) <= _MOST_PARTED else 0
    for _ in range(trials * len(poses)):
        gain = _gains(layout.adjacent, kinds) * (1 if alike == "apart" else -1)
        gain[refused] = -1
        if gain.max() <= 0:
            # Exchanges that gain nothing lead out of a dead end.
            gain[~_touched(layout.adjacent, kinds)] = -1
            sideways -= 1
        if gain.max() < 0 or (gain.max() == 0 and sideways < 0) or vain >= trials:
            break
        one, other = _best(gain, layout.sizes)
        changed = layout.exchanged(one, other)
        if changed is None and partings and gain.max() > 0:
            partings -= 1
            changed = layout.parted(one, other)
        if changed is None or gain.max() == 0:
            refused[one, other] = refused[other, one] = True
        vain += changed is None
        layout = changed or layout
    return layout.poses


def alike_neighbours(room: Room, poses: list[Pose]) -> int:
    """How many pairs of neighbours are of one kind."""
    kinds = _numbers([sticker.kind for sticker in room.stickers])
    alike = kinds[:, None] == kinds
    return int((_Layout.of(room, poses).adjacent & alike).sum()) // 2


def _numbers(kinds: Sequence[str | None]) -> Ints:
    """A number for each kind; what is of none is like nothing else."""
    known: dict[object, int] = {}
    return np.array([known.setdefault(i if k is None else k, len(known)) for i, k in enumerate(kinds)])


@dataclass(frozen=True, slots=True, eq=False)
class _Layout:
    """Where stickers lie, their outlines there, the boxes around those, and which are neighbours."""

    room: Room
    poses: list[Pose]
    regions: list[Region]
    middles: Floats
    sizes: Floats
    adjacent: Flags

    @classmethod
    def of(cls, room: Room, poses: list[Pose]) -> "_Layout":
        """Measured."""
        regions = [room.region(i, pose) for i, pose in enumerate(poses)]
        boxes = shapely.bounds(np.array(regions))
        middles = (boxes[:, :2] + boxes[:, 2:]) / 2
        return cls(room, poses, regions, middles, boxes[:, 2:] - boxes[:, :2], _adjacent(middles))

    def exchanged(self, one: int, other: int) -> "_Layout | None":
        """With two stickers in one another's places; None where they do not fit there."""
        poses = self._exchanged_poses(one, other)
        regions = list(self.regions)
        for i in (one, other):
            regions[i] = self.room.region(i, poses[i])
        if any(self.room.is_crowded(regions, i) for i in (one, other)):
            return None
        order = np.arange(len(poses))
        order[[one, other]] = other, one
        # The places are the same ones still.
        adjacent = self.adjacent[np.ix_(order, order)]
        return replace(self, poses=poses, regions=regions, middles=self.middles[order], adjacent=adjacent)

    def parted(self, one: int, other: int) -> "_Layout | None":
        """Likewise, with all others making room."""
        poses = self.room.parted(self._exchanged_poses(one, other))
        return None if self.room.lacking(poses) else _Layout.of(self.room, poses)

    def _exchanged_poses(self, one: int, other: int) -> list[Pose]:
        """The middles of their boxes exchanged."""
        poses = list(self.poses)
        way = self.middles[other] - self.middles[one]
        for i, (x, y) in ((one, way), (other, -way)):
            poses[i] = replace(poses[i], x=round(poses[i].x + float(x), 2), y=round(poses[i].y + float(y), 2))
        return poses


def _adjacent(middles: Floats) -> Flags:
    """Which places are neighbours, shape (n, n)."""
    count = len(middles)
    between = np.square(middles[:, None] - middles).sum(axis=2)
    adjacent = np.zeros((count, count), dtype=bool)
    for i in range(count):
        # A third place lies within the circle over a side of the triangle where its angle is obtuse.
        obtuse = between[i] + between < between[i][:, None] - 1e-9
        adjacent[i] = ~obtuse.any(axis=1)
    np.fill_diagonal(adjacent, False)
    return adjacent


def _gains(adjacent: Flags, kinds: Ints) -> Ints:
    """How many fewer neighbours would be alike if two stickers exchanged their places, shape (n, n)."""
    of_kind = np.eye(int(kinds.max()) + 1, dtype=np.intp)[kinds]
    counts = adjacent.astype(np.intp) @ of_kind
    there = counts[:, kinds]
    own = np.diag(there)
    # Beside one another they would not be their own neighbours.
    return np.asarray(own[:, None] + own - there - there.T + 2 * adjacent)


def _touched(adjacent: Flags, kinds: Ints) -> Flags:
    """Pairs of stickers of which one has a neighbour of its own kind, shape (n, n)."""
    beside = (adjacent & (kinds[:, None] == kinds)).any(axis=1)
    return np.asarray(beside[:, None] | beside)


def _best(gain: Ints, sizes: Floats) -> tuple[int, int]:
    """The exchange of the largest gain; of several, between the boxes of the most similar size."""
    pairs = np.argwhere(np.triu(gain == gain.max()))
    unlike = np.abs(sizes[pairs[:, 0]] - sizes[pairs[:, 1]]).max(axis=1)
    one, other = pairs[int(np.argmin(unlike))]
    return int(one), int(other)
