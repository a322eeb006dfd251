"""Corners of the form, at the scale of the smoothing.

Method: corners are sought as finely as the line was drawn. From each of them the line is looked along both
ways for as long as three smoothings: a corner of the form turns by most of its turn there as well, a crumb
of the pencil does not, nor do two corners that turn back what the other turned. A rounded tip, which turns
there, has none to begin with; where the tremor hides a corner from the fine look, its arms must meet near
the line. Those that turn most are taken first; the others must hold with arms that end at one taken before.
The larger the smoothing, the more must a corner turn.

Limits: those of `limner.curves.data.corners`.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from limner.curves.data.corners import Corner, find_corners, settled
from limner.curves.data.resampling import Samples
from limner.model.arrays import Floats

__all__ = ["corners_of_form"]


# A corner of the form turns by more than the first where nothing is calmed, by more than the last where the
# smoothing is twice the least one and more: the hand makes corners of up to forty degrees, a form's begin
# at fifty.
LEAST_TURN_DEG = (35.0, 50.0)
# Arms in smoothings: how long they are, and how short they may be where the next corner is near.
ARM, SHORTEST_ARM = 3.0, 1.0
# Share of the turn between the arms that the corners within this many smoothings make together, and that
# the largest of them makes alone; the rest is the line's bend.
NEAR, TOGETHER, ALONE = 1.0, 0.45, 0.4
# A tip that is farther from the line than this share of the smoothing is that of a rounded form, which is
# no corner.
MOST_ROUNDED = 0.3
# Arms that run back beside each other meet nowhere, so that nothing tells whether they are rounded off.
MOST_HIDDEN_DEG = 120.0
# Fewest samples of an arm that has a direction.
FEWEST_SAMPLES = 3


def corners_of_form(samples: Samples, follow_mm: float) -> list[Corner]:
    """Corners in order, each as rounded off as the fine one; see `limner.curves.calm.lines.calmed`."""
    fine = replace(samples, tolerance=np.minimum(samples.tolerance, follow_mm))
    small = settled(fine, find_corners(fine))
    small += _hidden(samples, small)
    turns = [_turn(samples, corner, ()) for corner in small]
    taken: list[Corner] = []
    for k in sorted(range(len(small)), key=lambda k: (-turns[k], small[k].index)):
        corner = small[k]
        turn = _turn(samples, corner, taken) if turns[k] > 0.0 else 0.0
        smoothing = float(samples.tolerance[corner.index])
        share = min(max(smoothing / follow_mm - 1.0, 0.0), 1.0)
        if turn < LEAST_TURN_DEG[0] + share * (LEAST_TURN_DEG[1] - LEAST_TURN_DEG[0]):
            continue
        near = [c.turn_deg for c in small if _apart(samples, corner, c) <= NEAR * smoothing]
        if sum(near) >= TOGETHER * turn and corner.turn_deg >= max(ALONE * turn, 0.999 * max(near)):
            taken.append(replace(corner, turn_deg=turn))
    return sorted(taken, key=lambda corner: corner.index)


def _hidden(samples: Samples, small: Sequence[Corner]) -> list[Corner]:
    """Corners that the tremor hides from a fine look, and that are not rounded off."""
    found = []
    for corner in settled(samples, find_corners(samples)):
        smoothing = float(samples.tolerance[corner.index])
        away = float(np.hypot(*(samples.points[corner.index] - corner.tip)))
        alone = all(_apart(samples, corner, c) > NEAR * smoothing for c in small)
        if alone and away <= MOST_ROUNDED * smoothing and corner.turn_deg <= MOST_HIDDEN_DEG:
            found.append(corner)
    return found


def _turn(samples: Samples, corner: Corner, taken: Sequence[Corner]) -> float:
    """Degrees between the arms of a corner, which end at others; 0 where they are too short to tell."""
    directions = [_arm(samples, corner, side, taken) for side in (-1, 1)]
    into, out = directions
    if into is None or out is None:
        return 0.0
    cross, dot = into[0] * out[1] - into[1] * out[0], into @ out
    return float(abs(np.degrees(np.arctan2(cross, dot))))


def _arm(samples: Samples, corner: Corner, side: int, taken: Sequence[Corner]) -> Floats | None:
    """Forward direction of the line on one side of a corner."""
    count, smoothing = len(samples.points), float(samples.tolerance[corner.index])
    room = count // 2 if samples.closed else (corner.index if side < 0 else count - 1 - corner.index)
    gaps = [side * (other.index - corner.index) for other in taken]
    gaps = [gap % count for gap in gaps] if samples.closed else [gap for gap in gaps if gap >= 0]
    first = corner.rounded
    last = min(first + round(ARM * smoothing / samples.step), room, *gaps)
    if last - first + 1 < FEWEST_SAMPLES or last * samples.step < SHORTEST_ARM * smoothing:
        return None
    steps = np.arange(first, last + 1)
    points = samples.points[(corner.index + side * steps) % count]
    return np.asarray(side * ((steps - steps.mean()) @ points))


def _apart(samples: Samples, one: Corner, other: Corner) -> float:
    """Distance between two corners along the line."""
    gap = abs(one.index - other.index)
    return samples.step * (min(gap, len(samples.points) - gap) if samples.closed else gap)
