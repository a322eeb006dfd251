"""Common tangents where an outline passes straight through a junction.

Method: at each place where chains end, the direction of every end is that of the chord over a short reach.
Of the chains that follow each other along an outline, those pairs that turn the least continue each other,
an end in one pair only; both get the mean of their directions as their tangent. A chain that is a straight
line stays one: the other takes on its direction.

Limits: an end that two outlines carry on differently can be smooth in one of them only.
"""

from collections.abc import Iterable, Sequence

import numpy as np

from limner.curves.fit.polylines import Polyline
from limner.curves.marks.places import marks_at
from limner.curves.refine.straight import is_line
from limner.model.arrays import Floats

__all__ = ["tangents_through"]

End = tuple[int, bool]
"""A chain and whether its end is meant rather than its start."""

# Outlines that turn by more than this at a junction have a corner there: a pencil's waver next to a
# junction is about ten degrees.
LARGEST_TURN_DEG = 20.0
# ... where somebody said that there is no corner, only lines that turn back have one.
LARGEST_MARKED_TURN_DEG = 150.0
# The direction of an end is that of the chord over so many line widths: the junction's blot bends what is
# nearer than one.
REACH_LINE_WIDTHS = 2.5


def tangents_through(
    chains: Sequence[Polyline],
    walks: Iterable[Sequence[tuple[int, bool]]],
    line_width_mm: float,
) -> dict[End, tuple[float, float]]:
    """Directions of travel at the ends of chains that outlines pass straight through.

    Parameters
    ----------
    chains : sequence of Polyline
        What is to be fitted, in the order in which the walks number it.
    walks : iterable of sequences of (int, bool)
        The chains along each outline, each with whether it is walked forwards.
    line_width_mm : float
        Typical width of the lines.

    Returns
    -------
    dict
        (chain, whether its end is meant) -> unit direction along the chain's own course.
    """
    straight = [
        _is_straight(line) and not any(_is_marked_smooth(chains, (k, end)) for end in (False, True))
        for k, line in enumerate(chains)
    ]
    out, pairs = _passages(chains, walks, straight, line_width_mm)
    found: dict[End, tuple[float, float]] = {}
    taken: set[End] = set()
    for (a, b), _ in sorted(pairs.items(), key=lambda item: (item[1], item[0])):
        if a in taken or b in taken:
            continue
        taken |= {a, b}
        through = _through(out[a], out[b], straight[a[0]], straight[b[0]])
        for end, sign in ((a, 1.0), (b, -1.0)):
            if not straight[end[0]]:
                along = through * (sign if end[1] else -sign)
                found[end] = (float(along[0]), float(along[1]))
    return found


def _passages(
    chains: Sequence[Polyline],
    walks: Iterable[Sequence[tuple[int, bool]]],
    straight: Sequence[bool],
    line_width_mm: float,
) -> tuple[dict[End, Floats], dict[tuple[End, End], float]]:
    """Directions into the chains from their ends, and turns in degrees that outlines may pass smoothly."""
    pairs: dict[tuple[End, End], float] = {}
    out: dict[End, Floats] = {}
    for walk in walks:
        for (one, forward), (other, onward) in zip(walk, [*walk[1:], *walk[:1]], strict=True):
            a, b = (one, forward), (other, not onward)
            if chains[one].closed or chains[other].closed or a == b:
                continue
            for end in (a, b):
                if end not in out:
                    line = chains[end[0]]
                    # The direction of a straight line is that of all of it.
                    reach_mm = np.inf if straight[end[0]] else REACH_LINE_WIDTHS * line_width_mm
                    out[end] = _away(line.points, end[1], reach_mm)
            turn = float(np.degrees(np.arccos(np.clip(-out[a] @ out[b], -1.0, 1.0))))
            if turn <= min(_largest_turn(chains, a), _largest_turn(chains, b)):
                pairs[min(a, b), max(a, b)] = turn
    return out, pairs


def _is_marked_smooth(chains: Sequence[Polyline], end: End) -> bool:
    return _largest_turn(chains, end) > LARGEST_TURN_DEG


def _largest_turn(chains: Sequence[Polyline], end: End) -> float:
    """By how much an outline may turn at an end to pass it without a corner."""
    number, at_end = end
    line = chains[number]
    here = marks_at(line.points[-1 if at_end else 0], line.asked)
    if not here:
        return LARGEST_TURN_DEG
    return 0.0 if here[-1].sharp else LARGEST_MARKED_TURN_DEG


def _through(before: Floats, after: Floats, before_is_straight: bool, after_is_straight: bool) -> Floats:
    """Direction of travel from one end into another, given the directions away from the junction."""
    if before_is_straight:
        return -before
    if after_is_straight:
        return after
    through = after - before
    return np.asarray(through / np.hypot(through[0], through[1]))


def _is_straight(line: Polyline) -> bool:
    """Whether the whole line will be fitted by a straight one."""
    if line.closed:
        return False
    chord = line.points[-1] - line.points[0]
    length = float(np.hypot(chord[0], chord[1]))
    if length == 0.0:
        return False
    rest = line.points - line.points[0]
    off = np.abs(chord[0] * rest[:, 1] - chord[1] * rest[:, 0]) / length / line.tolerance
    return is_line(float(off.max()), float(np.sqrt((off**2).mean())))


def _away(points: Floats, at_end: bool, reach_mm: float) -> Floats:
    """Unit direction from an end into its chain."""
    run = points[::-1] if at_end else points
    rest = run - run[0]
    distance = np.hypot(rest[:, 0], rest[:, 1])
    beyond = distance >= reach_mm
    k = int(beyond.argmax()) if beyond.any() else len(run) - 1
    return np.asarray(rest[k] / max(float(distance[k]), 1e-300))
