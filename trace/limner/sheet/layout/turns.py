"""Rotations in which a sticker is tried.

Method: upright first, then ever farther both ways in steps; where none of these fits the sheet, those between
them that do.
"""

import numpy as np
import shapely
from shapely import affinity

from limner.model.sheet import Box
from limner.sheet.layout.free import ROUNDING_MM, FreeSticker, Region

__all__ = ["fitting_turns", "turns_to_try"]

# Rotations tried for a sticker that may turn: this far apart, as finer steps gain little.
_TURN_STEP_DEG = 22.5

# Where none of these fits the sheet, others between them: so far apart, and so many of those that fit.
_FINE_TURN_DEG, _FINE_TURNS = 0.5, 5


def turns_to_try(sticker: FreeSticker, box: Box, seed: int, *, turning: bool) -> list[float]:
    """Rotations to try: upright first, then ever farther both ways; each search its own between the steps."""
    if not turning:
        return [0.0]
    coarse = _coarse_turns(sticker.turn_deg, seed)
    hull = shapely.convex_hull(sticker.outline)
    if any(_fits_turned(hull, turn, box) for turn in coarse):
        return coarse
    return fitting_turns(sticker, box) or coarse


def _coarse_turns(turn_deg: float, seed: int = 0) -> list[float]:
    limit = min(turn_deg, 180.0)
    steps = int(np.ceil(limit / _TURN_STEP_DEG))
    # The first search tries whole shares of the limit, the next ones halves and thirds of a step before them.
    share = 0.0 if seed == 0 else 1.0 / (seed + 1)
    away = [limit * (step + 1 - share) / steps for step in range(steps)]
    both = [sign * turn for turn in away for sign in (1.0, -1.0)]
    # Upside down is the same either way.
    return [0.0, *(turn for turn in both if turn > -180.0)]


def fitting_turns(sticker: FreeSticker, box: Box) -> list[float]:
    """Rotations in which it would fit if it were alone, the smallest first; none where there is none."""
    hull = shapely.convex_hull(sticker.outline)
    coarse = [turn for turn in _coarse_turns(sticker.turn_deg) if _fits_turned(hull, turn, box)]
    if coarse:
        return coarse
    limit = min(sticker.turn_deg, 180.0)
    fine = np.arange(-limit, limit + _FINE_TURN_DEG / 2, _FINE_TURN_DEG)
    fitting = [float(turn) for turn in fine if _fits_turned(hull, float(turn), box)]
    if not fitting:
        return []
    picked = np.unique(np.linspace(0, len(fitting) - 1, _FINE_TURNS).round().astype(int))
    return sorted((fitting[i] for i in picked), key=abs)


def _fits_turned(hull: Region, turn_deg: float, box: Box) -> bool:
    x0, y0, x1, y1 = shapely.bounds(affinity.rotate(hull, turn_deg, origin=(0, 0)))
    return bool(x1 - x0 <= box[2] - box[0] + ROUNDING_MM and y1 - y0 <= box[3] - box[1] + ROUNDING_MM)
