"""Which segments were meant as straight lines, and their directions.

Method: data that stay near the chord, both at most and on average, are a line: noise may touch the first,
but an arc that is 0.6 tolerances deep already exceeds the second.

Limits: none.
"""

from dataclasses import replace

import numpy as np

from limner.curves.refine.paths import Data, Nodes, controls
from limner.model.arrays import Flags, Floats

__all__ = ["aligned", "is_line", "straight_ones"]


# A stretch is a straight line up to this largest and root-mean-square distance, in tolerances: noise may
# touch the first, but an arc that is 0.6 tolerances deep already exceeds the second.
STRAIGHT_LARGEST = 0.85
STRAIGHT_TYPICAL = 0.22
# ... and meets a curve without a corner when their directions differ by less than this.
STRAIGHT_TURN_DEG = 6.0


def is_line(largest: float, typical: float) -> bool:
    """Whether a stretch is a straight line, given its distances from the chord in tolerances."""
    return largest <= STRAIGHT_LARGEST and typical <= STRAIGHT_TYPICAL


def straight_ones(nodes: Nodes, data: Data) -> Flags:
    """Segments whose data and handles stay near the chord, and that no straight one would follow."""
    curves = controls(nodes)
    chord = curves[:, 3] - curves[:, 0]
    length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-300)
    unit = chord / length[:, None]
    rest = data.points - curves[data.segment, 0]
    along = unit[data.segment]
    off = np.abs(along[:, 0] * rest[:, 1] - along[:, 1] * rest[:, 0]) / data.tolerance
    worst = np.zeros(len(curves))
    np.maximum.at(worst, data.segment, off)
    number = np.maximum(np.bincount(data.segment, minlength=len(curves)), 1)
    typical = np.sqrt(np.bincount(data.segment, off * off, len(curves)) / number)
    turn_out = _between(nodes.angle[nodes.start, 1], unit)
    turn_in = _between(nodes.angle[nodes.end, 0], unit)
    near = np.radians(STRAIGHT_TURN_DEG)
    near_out = (turn_out < near) | ~(nodes.smooth[nodes.start] | nodes.held[nodes.start, 1])
    near_in = (turn_in < near) | ~(nodes.smooth[nodes.end] | nodes.held[nodes.end, 0])
    held = nodes.held[nodes.start, 1] | nodes.held[nodes.end, 0]
    wanted = (worst <= STRAIGHT_LARGEST) & (typical <= STRAIGHT_TYPICAL) & near_out & near_in & ~held
    wanted[nodes.after[wanted & (nodes.after >= 0)]] &= ~wanted[wanted & (nodes.after >= 0)]
    return np.asarray(wanted)


def _between(angle: Floats, unit: Floats) -> Floats:
    cross = np.cos(angle) * unit[:, 1] - np.sin(angle) * unit[:, 0]
    return np.abs(np.arctan2(cross, np.cos(angle) * unit[:, 0] + np.sin(angle) * unit[:, 1]))


def aligned(nodes: Nodes) -> Nodes:
    """Directions at the ends of straight lines exactly along them."""
    angle = nodes.angle.copy()
    for k in np.flatnonzero(nodes.straight):
        a, b = nodes.start[k], nodes.end[k]
        chord = nodes.place[b] - nodes.place[a]
        direction = np.arctan2(chord[1], chord[0])
        for node, side in ((a, 1), (b, 0)):
            angle[node, side] = direction
            if nodes.smooth[node]:
                angle[node] = direction
    return replace(nodes, angle=angle)
