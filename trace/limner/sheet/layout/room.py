"""Stickers and the room for them: measured on the outlines, parted and spread."""

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from shapely import affinity

from limner.model.arrays import Floats
from limner.model.sheet import Box
from limner.sheet.layout.free import ROUNDING_MM, FreeSticker, Region, kinds, simple, turned
from limner.sheet.layout.pose import Pose
from limner.sheet.layout.spacing import Body, part, sample_body, spread

__all__ = ["Room", "beyond_the_room", "free_area"]

Move = Callable[[Sequence[Body], Floats, Box, Sequence[Body], float], Floats]
"""`part` or `spread`."""


class Room:
    """Stickers and the room for them; each is sampled once for every rotation that it is tried in."""

    def __init__(
        self, stickers: Sequence[FreeSticker], box: Box, obstacles: Sequence[Region], gap_mm: float
    ) -> None:
        self.stickers, self.box, self.obstacles, self.gap_mm = stickers, box, obstacles, gap_mm
        self._fixed = [sample_body(obstacle) for obstacle in obstacles]
        # Copies share an outline.
        self._bodies = {(id(s.outline), 0.0): s.body for s in stickers if s.body is not None}

    def parted(self, poses: Sequence[Pose]) -> list[Pose]:
        """The same rotations at places that keep the gap, where such are near."""
        return self._moved(poses, part)

    def spread(self, poses: Sequence[Pose]) -> list[Pose]:
        """The same rotations, evenly apart."""
        return self._moved(poses, spread)

    def region(self, item: int, pose: Pose) -> Region:
        """The outline of one sticker where it lies."""
        outline = affinity.rotate(self.stickers[item].outline, pose.turn_deg, origin=(0, 0))
        return affinity.translate(outline, pose.x, pose.y)

    def is_crowded(self, regions: Sequence[Region], item: int) -> bool:
        """Whether one of several outlines leaves the box, or lies too near to another one or an obstacle."""
        region = regions[item]
        if _leaves(region, self.box) or self._is_blocked(region):
            return True
        near = shapely.dwithin(region, list(regions), self.gap_mm - ROUNDING_MM)
        near[item] = False
        return bool(near.any())

    def lacking(self, poses: Sequence[Pose]) -> list[int]:
        """Fewest stickers, as found by taking away the worst first, without which all distances are kept."""
        regions = [
            affinity.translate(outline, pose.x, pose.y)
            for outline, pose in zip(turned(self.stickers, poses), poses, strict=True)
        ]
        count = len(regions)
        clash = np.zeros((count, count), bool)
        for i, region in enumerate(regions):
            clash[i, i + 1 :] = shapely.dwithin(region, regions[i + 1 :], self.gap_mm - ROUNDING_MM)
        clash |= clash.T
        out = [_leaves(region, self.box) or self._is_blocked(region) for region in regions]
        lacking = [i for i in range(count) if out[i]]
        clash[lacking] = clash[:, lacking] = False
        while clash.any():
            worst = int(np.argmax(clash.sum(axis=1) + 1e-9 * np.array([r.area for r in regions])))
            lacking.append(worst)
            clash[worst] = clash[:, worst] = False
        return sorted(lacking)

    def _is_blocked(self, region: Region) -> bool:
        return any(shapely.dwithin(region, list(self.obstacles), self.gap_mm - ROUNDING_MM))

    def _moved(self, poses: Sequence[Pose], move: Move) -> list[Pose]:
        bodies = [self._body(i, pose.turn_deg) for i, pose in enumerate(poses)]
        return _poses(poses, move(bodies, _centres(poses), self.box, self._fixed, self.gap_mm))

    def _body(self, item: int, turn_deg: float) -> Body:
        key = id(self.stickers[item].outline), turn_deg
        if key not in self._bodies:
            self._bodies[key] = sample_body(simple(self.stickers[item], turn_deg))
        return self._bodies[key]


def free_area(box: Box, obstacles: Sequence[Region]) -> float:
    """How much of a box obstacles leave, in square millimetres."""
    room = shapely.box(*box)
    return float(room.area - shapely.union_all([room.intersection(obstacle) for obstacle in obstacles]).area)


def beyond_the_room(
    stickers: Sequence[FreeSticker], box: Box, obstacles: Sequence[Region], gap_mm: float
) -> list[int]:
    """The largest stickers, without which the area of the rest, with half the gap around each, has room."""
    half = gap_mm / 2
    wide = (box[0] - half, box[1] - half, box[2] + half, box[3] + half)
    area = {id(s.outline): shapely.area(shapely.buffer(s.outline, half)) for s in kinds(stickers)}
    grown = np.array([area[id(sticker.outline)] for sticker in stickers])
    order = np.argsort(-grown, kind="stable")
    left = grown.sum() - np.concatenate([[0.0], np.cumsum(grown[order])])
    return sorted(int(i) for i in order[: int(np.argmax(left <= free_area(wide, obstacles)))])


def _leaves(region: Region, box: Box) -> bool:
    x0, y0, x1, y1 = shapely.bounds(region)
    slack = ROUNDING_MM
    return bool(x0 < box[0] - slack or y0 < box[1] - slack or x1 > box[2] + slack or y1 > box[3] + slack)


def _centres(poses: Sequence[Pose]) -> Floats:
    return np.array([(pose.x, pose.y) for pose in poses])


def _poses(poses: Sequence[Pose], centres: Floats) -> list[Pose]:
    return [
        Pose(round(float(x), 2), round(float(y), 2), pose.turn_deg)
        for pose, (x, y) in zip(poses, centres, strict=True)
    ]
