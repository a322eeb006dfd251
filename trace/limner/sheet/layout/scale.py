"""The largest common scale at which stickers fit their sheet.

Method: bisection; what the area alone forbids is not searched for. The art is scaled, the distance of its cut
line is not.
"""

from collections.abc import Callable, Sequence

from limner.model.sheet import Box
from limner.sheet.layout.free import FreeSticker, Region, all_scaled, kinds
from limner.sheet.layout.room import Room, beyond_the_room
from limner.sheet.layout.search import found_places, in_rows, patience
from limner.sheet.layout.turns import fitting_turns
from limner.sheet.settings import LayoutSettings

__all__ = ["largest_scale"]

# A quick search moves what overlaps so often, and turns none of more stickers than that.
_QUICK_SWEEPS = 6
_MANY_STICKERS = 20

# Bisection for the scale stops at this.
_SCALE_STEP = 0.01
_SMALLEST_SCALE = 0.05
_TRIAL_SHARE = 0.35


def largest_scale(
    stickers: Sequence[FreeSticker],
    box: Box,
    obstacles: Sequence[Region],
    settings: LayoutSettings,
    *,
    quick: bool = False,
    most: float = 1.0,
) -> float:
    """The largest common scale at which a search finds places; 0 where there is none.

    Parameters
    ----------
    stickers, box, obstacles, settings
        As for `place_free`.
    quick : bool
        Whether to search for moments only; the scale is then up to a tenth less than it could be.
    most : float
        No scale is larger.
    """
    many = len(stickers) > _MANY_STICKERS
    sweeps = _QUICK_SWEEPS if quick else settings.rounds * patience(stickers)
    tight = [(settings.gap_mm, sweeps, 0, not (quick and many))]

    def possible(scale: float) -> bool:
        smaller = all_scaled(stickers, scale)
        if not all(fitting_turns(sticker, box) for sticker in kinds(smaller)):
            return False
        return not beyond_the_room(smaller, box, obstacles, settings.gap_mm)

    def fits(scale: float) -> bool:
        room = Room(all_scaled(stickers, scale), box, obstacles, settings.gap_mm)
        return not room.lacking(in_rows(room)) or not found_places(room, tight, patient=not quick)[1]

    if not possible(_SMALLEST_SCALE) or not fits(_SMALLEST_SCALE):
        return 0.0
    # What the area alone forbids is not searched for.
    top = most if possible(most) else _bisected(possible, _SMALLEST_SCALE, most, 0.5)
    # Sheets are rarely far too full: the first trials are near the upper end.
    return _bisected(fits, _SMALLEST_SCALE, top, _TRIAL_SHARE)


def _bisected(holds: Callable[[float], bool], low: float, high: float, share: float) -> float:
    """The largest scale known to hold; `low` does, and the next trial lies so far below `high`."""
    while high - low > _SCALE_STEP * max(high, 1.0):
        trial = high - (high - low) * share
        low, high = (trial, high) if holds(trial) else (low, trial)
    return low
