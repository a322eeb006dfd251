"""Stickers of one sketch lie apart, unless they are asked for side by side."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from shapely import affinity

from helpers_cut import regular, ten_irregular
from limner.sheet.layout.alike import alike_neighbours
from limner.sheet.layout.arrange import place_free
from limner.sheet.layout.free import FreeSticker
from limner.sheet.layout.room import Room
from limner.sheet.settings import LayoutSettings

# A6 with a safe margin of 4 mm, in sheet coordinates with a bleed of 3 mm.
SAFE = (7.0, 7.0, 104.0, 147.0)


def irregular(seed: int, kinds: int, copies: int, share: float) -> list[FreeSticker]:
    """Copies of some irregular shapes that take up a share of the safe area."""
    shapes = ten_irregular(seed)[:kinds]
    scale = np.sqrt(share * 97 * 140 / copies / sum(shape.area for shape in shapes))
    outlines = [affinity.scale(shape, scale, scale, origin=(0, 0)) for shape in shapes]
    return [
        FreeSticker(f"s{k}", outline, kind=f"{k}.jpg")
        for k, outline in enumerate(outlines)
        for _ in range(copies)
    ]


def alike(items: list[FreeSticker], asked: str | None) -> int:
    """Pairs of neighbours that are alike, once all distances were measured; None: nothing is asked for."""
    unmarked = [replace(item, kind=None) for item in items]
    settings = LayoutSettings(alike=asked or "apart")  # type: ignore[arg-type]
    poses = place_free(items if asked else unmarked, SAFE, [], settings)
    regions = [
        affinity.translate(affinity.rotate(item.outline, pose.turn_deg, origin=(0, 0)), pose.x, pose.y)
        for item, pose in zip(items, poses, strict=True)
    ]
    assert min(one.distance(other) for one, other in combinations(regions, 2)) >= 2.0 - 0.01
    bounds = np.array([region.bounds for region in regions])
    assert (bounds[:, :2] >= np.array(SAFE[:2]) - 0.01).all()
    assert (bounds[:, 2:] <= np.array(SAFE[2:]) + 0.01).all()
    return alike_neighbours(Room(items, SAFE, [], 2.0), poses)


def test_discs_of_four_sketches_lie_apart_or_together():
    disc = shapely.Polygon(regular(40, 9))
    items = [FreeSticker(f"s{i // 3}", disc, kind=f"{i // 3}.jpg") for i in range(12)]
    before, apart, together = (alike(items, asked) for asked in (None, "apart", "together"))
    assert apart == 0
    assert together >= before > 0


@pytest.mark.parametrize(("seed", "share"), [(0, 0.25), (2, 0.45)])
def test_irregular_copies_lie_apart_where_there_is_room(seed: int, share: float):
    items = irregular(seed, kinds=5, copies=3, share=share)
    assert alike(items, "apart") < alike(items, None)


def test_copies_of_one_sketch_alone_stay_where_they_are():
    disc = shapely.Polygon(regular(40, 9))
    items = [FreeSticker("s", disc, kind="s.jpg") for _ in range(6)]
    bare = [replace(item, kind=None) for item in items]
    assert place_free(items, SAFE, [], LayoutSettings()) == place_free(bare, SAFE, [], LayoutSettings())


def test_many_discs_stay_apart_in_little_time():
    disc = shapely.Polygon(regular(24, 4))
    items = [FreeSticker(f"s{i // 20}", disc, kind=f"{i // 20}.jpg") for i in range(80)]
    assert alike(items, "apart") == 0
