"""Minimise a smooth function of some dozens of variables whose slopes are known.

Method: limited-memory BFGS with the two-loop recursion (Nocedal, "Updating quasi-Newton matrices with limited
storage", Mathematics of Computation 35, 1980, doi:10.1090/S0025-5718-1980-0572855-7), a bounded step, and a
line search that halves its step or interpolates until the value falls enough (Armijo).

Limits: finds the minimum into which the start runs down. An optimiser of a library (``scipy.optimize``) does
as much; importing it takes a third of a second, more than placing the stickers of a sheet.
"""

from collections import deque
from collections.abc import Callable

import numpy as np

from limner.model.arrays import Floats

__all__ = ["minimise"]


# Pairs of steps and changes of slope that are remembered: 3 to 20 are common (Nocedal).
_MEMORY = 12

# A step is taken when the value falls by this share of what the slope promises: common practice, no source.
_ENOUGH = 1e-4

# A line search that is not done by then stands on a kink.
_MOST_TRIALS = 20

# A trial step becomes between a tenth and a half of the one before.
_LEAST_SHORTER, _MOST_SHORTER = 0.1, 0.5

# A step's change of slope counts when it bends upwards by more than rounding.
_LEAST_BEND = 1e-10


def minimise(
    function: Callable[[Floats], tuple[float, Floats]],
    start: Floats,
    *,
    rounds: int,
    longest_step: float,
    shortest_step: float,
) -> Floats:
    """Walk down from a start.

    Parameters
    ----------
    function : callable
        Gives the value and the slopes, shape (n,), at a place.
    start : ndarray of float64, shape (n,)
        Where to begin.
    rounds : int
        Steps at most.
    longest_step : float
        No variable changes by more in one step.
    shortest_step : float
        The walk ends with a step in which no variable changes by as much.

    Returns
    -------
    ndarray of float64, shape (n,)
        A place of lower value, or the start.
    """
    place, (value, slopes) = start, function(start)
    memory: deque[tuple[Floats, Floats, float]] = deque(maxlen=_MEMORY)
    for _ in range(rounds):
        way = _direction(slopes, memory)
        steepness = _dot(way, slopes)
        if steepness >= 0.0:
            # What is remembered misleads.
            memory.clear()
            way, steepness = -slopes, -_dot(slopes, slopes)
        widest = float(np.abs(way).max(initial=0.0))
        if widest == 0.0:
            break
        found = _line_search(function, place, value, way, steepness, min(1.0, longest_step / widest))
        if found is None:
            break
        reached, value, new_slopes = found
        step, change = reached - place, new_slopes - slopes
        bend = _dot(step, change)
        if bend > _LEAST_BEND * _dot(change, change):
            memory.append((step, change, bend))
        place, slopes = reached, new_slopes
        if np.abs(step).max() < shortest_step:
            break
    return place


def _dot(one: Floats, other: Floats) -> float:
    # Not by BLAS, whose sums differ between its builds.
    return float((one * other).sum())


def _direction(slopes: Floats, memory: deque[tuple[Floats, Floats, float]]) -> Floats:
    """Downhill, as the remembered steps see it."""
    way = -slopes
    shares = []
    for step, change, bend in reversed(memory):
        share = _dot(step, way) / bend
        way = way - share * change
        shares.append(share)
    if memory:
        _, change, bend = memory[-1]
        way = way * (bend / _dot(change, change))
    for (step, change, bend), share in zip(memory, reversed(shares), strict=True):
        way = way + (share - _dot(change, way) / bend) * step
    return np.asarray(way)


def _line_search(
    function: Callable[[Floats], tuple[float, Floats]],
    place: Floats,
    value: float,
    way: Floats,
    steepness: float,
    length: float,
) -> tuple[Floats, float, Floats] | None:
    """A place along the way where the value is low enough, its value and slopes; None: there is none."""
    for _ in range(_MOST_TRIALS):
        reached = place + length * way
        found, slopes = function(reached)
        if found <= value + _ENOUGH * length * steepness:
            return reached, found, slopes
        # The parabola through the value and the slope here and the value there has its bottom there.
        bottom = -0.5 * steepness * length**2 / (found - value - steepness * length)
        length = min(max(bottom, _LEAST_SHORTER * length), _MOST_SHORTER * length)
    return None
