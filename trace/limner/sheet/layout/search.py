"""Searches for places: rows of boxes, then `packing` with ever smaller gaps, measured on the outlines."""

from collections.abc import Sequence

import numpy as np
import shapely

from limner.sheet.layout.free import ROUNDING_MM, FreeSticker
from limner.sheet.layout.packing import pack
from limner.sheet.layout.pose import Pose
from limner.sheet.layout.room import Room, free_area
from limner.sheet.layout.turns import turns_to_try
from limner.sheet.settings import LayoutSettings

__all__ = ["attempts", "found_places", "in_rows", "patience", "wide_attempts"]

Attempt = tuple[float, int, int, bool]
"""Gap, sweeps and seed of one search, and whether stickers may be turned."""

# Outlines are simplified to this for the search.
_SEARCH_DETAIL_MM = 0.05

# Where there is room, places are looked for with a wider gap first, as an evenly filled sheet comes out
# of it; multiples of the gap or of the millimetre, whichever is more, tried with a short search.
_WIDE_GAPS = (8.0, 5.0, 3.0, 2.0)
_WIDE_SWEEPS = 8

# Sparse sheets begin with gaps that would fill this share of the room, and smaller ones.
_EVEN_SHARE = 0.8
_EVEN_GAPS = (1.0, 0.75, 0.5)

# Where no sticker may turn, a move costs a sixteenth: the last search goes on so many times as long. On ten
# irregular shapes it fills 63.5 % of the safe area instead of 60.0 %, and ten times as long no more.
_UPRIGHT_PATIENCE = 4


def found_places(
    room: Room, attempts: Sequence[Attempt], *, patient: bool = True
) -> tuple[list[Pose], list[int]]:
    """The first attempt that succeeds, or else the one that places most; at once none, without patience."""
    lacking = list(range(len(room.stickers)))
    poses: list[Pose] = []
    for attempt in attempts:
        tried, overlaps = _one_start(room, attempt)
        if overlaps and (attempt[0] > room.gap_mm or not patient):
            continue
        tried = room.parted(tried)
        missing = room.lacking(tried)
        if not poses or len(missing) < len(lacking):
            poses, lacking = tried, missing
        if not lacking:
            break
    return poses, lacking


def patience(stickers: Sequence[FreeSticker]) -> int:
    """How many times as long the last search goes on."""
    return 1 if any(sticker.turn_deg for sticker in stickers) else _UPRIGHT_PATIENCE


def wide_attempts(room: Room, settings: LayoutSettings) -> list[Attempt]:
    """Upright with wide gaps first, as stickers look best so."""
    unit = max(settings.gap_mm, 1.0)
    even = _even_gap(room)
    gaps = [share * even for share in _EVEN_GAPS if share * even > _WIDE_GAPS[0] * unit]
    # With more than that the stickers would fill a share of the room that no short search reaches.
    gaps += [times * unit for times in _WIDE_GAPS if times * unit <= even]
    return [(gap, _WIDE_SWEEPS, 0, False) for gap in gaps]


def _even_gap(room: Room) -> float:
    """The gap with which the stickers would take up most of the room, by Steiner's formula."""
    outlines = [sticker.outline for sticker in room.stickers]
    free = _EVEN_SHARE * free_area(room.box, room.obstacles)
    half_gap = np.roots(
        [np.pi * len(outlines), sum(o.length for o in outlines), sum(o.area for o in outlines) - free]
    )
    return 2.0 * float(max(half_gap.real.max(), 0.0))


def in_rows(room: Room) -> list[Pose]:
    """Upright, box beside box in rows, the tallest first; what finds no room lies below the others."""
    bounds = np.array([shapely.bounds(sticker.outline) for sticker in room.stickers])
    sizes = bounds[:, 2:] - bounds[:, :2]
    x0, y0, x1, _ = room.box
    poses: dict[int, Pose] = {}
    x, y, row = x0, y0, 0.0
    for i in sorted(range(len(sizes)), key=lambda i: -float(sizes[i, 1])):
        width, height = sizes[i]
        if x > x0 and x + width > x1 + ROUNDING_MM / 2:
            x, y, row = x0, y + row + room.gap_mm, 0.0
        poses[i] = Pose(float(x - bounds[i, 0]), float(y - bounds[i, 1]), 0.0)
        x, row = x + width + room.gap_mm, max(row, float(height))
    return [poses[i] for i in range(len(sizes))]


def attempts(stickers: Sequence[FreeSticker], settings: LayoutSettings) -> list[Attempt]:
    """With the gap asked for: upright, then turned."""
    upright = [(settings.gap_mm, settings.rounds, 0, False)]
    # Each start searches twice as long as the one before: most sheets need none of these.
    turned = [(settings.gap_mm, settings.rounds * 2**seed, seed, True) for seed in range(settings.starts)]
    longer = patience(stickers)
    # What the largest scale was found with comes last, so that it holds what it promises.
    patient = [(settings.gap_mm, settings.rounds * longer, 0, True)] if longer > 1 else []
    return upright + turned + patient


def _one_start(room: Room, attempt: Attempt) -> tuple[list[Pose], bool]:
    """Poses from the coarse search, and whether they still overlap there."""
    gap_mm, sweeps, seed, turning = attempt
    half = gap_mm / 2
    outlines = {id(s.outline): s.outline for s in room.stickers}
    wider = {
        key: shapely.simplify(shapely.buffer(outline, half), _SEARCH_DETAIL_MM)
        for key, outline in outlines.items()
    }
    grown = [wider[id(s.outline)] for s in room.stickers]
    x0, y0, x1, y1 = room.box
    wide = (x0 - half, y0 - half, x1 + half, y1 + half)
    blocked = shapely.union_all([shapely.buffer(obstacle, half) for obstacle in room.obstacles])
    turns = [turns_to_try(sticker, room.box, seed, turning=turning) for sticker in room.stickers]
    poses, overlaps = pack(grown, turns, wide, blocked, sweeps=sweeps, seed=seed)
    return poses, bool(overlaps.any())
