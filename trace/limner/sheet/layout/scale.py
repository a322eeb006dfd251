"""The largest common scale at which stickers fit their sheet.

Method: bisection; what the area alone forbids is not searched for. The art is scaled, the distance of its cut
line is not.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from limner.model.sheet import Box
from limner.sheet.layout.free import FreeSticker, Region, all_scaled, kinds
from limner.sheet.layout.room import Room, beyond_the_room
from limner.sheet.layout.search import attempts, found_places, in_rows, patience
from limner.sheet.layout.turns import fitting_turns
from limner.sheet.settings import LayoutSettings

__all__ = ["filling_scale", "largest_scale"]

# A quick search moves what overlaps so often, and turns none of more stickers than that.
_QUICK_SWEEPS = 6
_MANY_STICKERS = 20

# Art is made larger by no more than this.
_MOST_SCALE = 50.0

# A sheet is filled by what a quick search finds, and up to so much more that longer searches find; those of
# many stickers have so many sweeps, as four times as many find one percent more.
_MORE, _MORE_SWEEPS = 1.12, 15

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
) -> float:
    """The largest common scale, up to 1, at which a search finds places; 0 where there is none.

    Parameters
    ----------
    stickers, box, obstacles, settings
        As for `place_free`.
    quick : bool
        Whether to search for moments only; the scale is then up to a tenth less than it could be.
    """
    trials = _Trials(stickers, box, obstacles, settings.gap_mm)
    return trials.largest(1.0, _QUICK_SWEEPS if quick else settings.rounds * patience(stickers), quick=quick)


def filling_scale(
    stickers: Sequence[FreeSticker], box: Box, obstacles: Sequence[Region], settings: LayoutSettings
) -> float:
    """The scale, above 1 too, at which the stickers fill the box; likewise."""
    trials = _Trials(stickers, box, obstacles, settings.gap_mm)
    low = trials.largest(_MOST_SCALE, _QUICK_SWEEPS, quick=True)
    if not low:
        return 0.0
    return _bisected(lambda scale: trials.fill(scale, settings), low, low * _MORE, 0.5)


@dataclass(frozen=True, slots=True, eq=False)
class _Trials:
    """Searches for places of the same stickers at several scales."""

    stickers: Sequence[FreeSticker]
    box: Box
    obstacles: Sequence[Region]
    gap_mm: float

    def largest(self, most: float, sweeps: int, *, quick: bool) -> float:
        def fits(scale: float) -> bool:
            return self.fit(scale, sweeps, quick=quick)

        if not self.may_fit(_SMALLEST_SCALE) or not fits(_SMALLEST_SCALE):
            return 0.0
        # What the area alone forbids is not searched for.
        top = most
        if not self.may_fit(most):
            known = _bisected(self.may_fit, _SMALLEST_SCALE, most, 0.5)
            top = min(known + _step(known), most)
        # Sheets are rarely far too full: the first trials are near the upper end.
        return _bisected(fits, _SMALLEST_SCALE, top, _TRIAL_SHARE)

    def may_fit(self, scale: float) -> bool:
        """Whether each sticker fits by itself, and the area of all does not forbid it."""
        smaller = all_scaled(self.stickers, scale)
        if not all(fitting_turns(sticker, self.box) for sticker in kinds(smaller)):
            return False
        return not beyond_the_room(smaller, self.box, self.obstacles, self.gap_mm)

    def fit(self, scale: float, sweeps: int, *, quick: bool = False) -> bool:
        """Whether a search finds places for all."""
        room = Room(all_scaled(self.stickers, scale), self.box, self.obstacles, self.gap_mm)
        tight = [(self.gap_mm, sweeps, 0, not (quick and len(self.stickers) > _MANY_STICKERS))]
        return not room.lacking(in_rows(room)) or not found_places(room, tight, patient=not quick)[1]

    def fill(self, scale: float, settings: LayoutSettings) -> bool:
        """Likewise, for few stickers with most of the patience that placing them has."""
        if len(self.stickers) > _MANY_STICKERS:
            return self.fit(scale, _MORE_SWEEPS)
        room = Room(all_scaled(self.stickers, scale), self.box, self.obstacles, self.gap_mm)
        # The last start would take as long as all others, for a scale one or two hundredths larger.
        shorter = replace(settings, starts=max(settings.starts - 1, 1))
        return not found_places(room, attempts(self.stickers, shorter))[1]


def _step(scale: float) -> float:
    return _SCALE_STEP * max(scale, 1.0)


def _bisected(holds: Callable[[float], bool], low: float, high: float, share: float) -> float:
    """The largest scale known to hold; `low` does, and the next trial lies so far below `high`."""
    while high - low > _step(high):
        trial = high - (high - low) * share
        low, high = (trial, high) if holds(trial) else (low, trial)
    return low
