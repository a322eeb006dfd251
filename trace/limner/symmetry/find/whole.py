"""The axis of a whole drawing, by matching it to its own mirror image.

Method: every pair of points on the lines votes for the line that would mirror one onto the other, as far as
the directions of the lines there mirror too (the voting of Loy and Eklundh, "Detecting symmetry and symmetric
constellations of features", ECCV 2006, from memory; here with points of centrelines in place of features).
The strongest lines are refined by matching each point's mirror image to the nearest line of fitting
direction, point to line, with weights that forgive what has no partner (Geman-McClure), and scored by how
much of the drawing finds a partner.

What matches about any line says nothing: a ring is symmetric about every line through its middle. So each
point counts by how seldom it finds a partner about lines of all directions, in the refinement and in the
score alike, and in a ring with a face the face decides.

Limits: a drawing whose two sides differ by more than a few hundredths of its size has no axis here. In a ring
with a small face the angle rests on the face alone, and an uneven one carries it along by a degree or two.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats
from limner.symmetry.find.evidence import Samples
from limner.symmetry.frame import Line

__all__ = ["Candidate", "whole_candidates"]


# Cells of the vote: finer than the spread of votes of an uneven drawing, coarse enough to collect them.
ANGLE_CELLS = 180
OFFSET_CELLS = 160

# How many lines are refined.
CANDIDATES = 12

# Cells along the larger side in which the nearest line is looked up: a quarter of the distance at which a
# match counts. Directions are told apart to 22 degrees: a line is not matched to one that crosses it.
GRID = 256
ORIENTATIONS = 8

# A mirror image counts as matched around this distance from a line, as a share of the drawing's size: what
# an uneven hand makes of the two sides of one face.
MATCH_SHARE = 0.015

# The refinement starts this wide (shares of the size), about a cell of the votes and the unevenness of a hand
# together, and narrows to the distance at which a match counts; the steps are small after ten rounds.
WIDE_SHARE, NARROW_SHARE = 0.04, 0.015
ROUNDS = 14

# Lines of this many directions show what matches about any axis; no point counts less than the second value,
# so that a plain ring still has axes.
ANY_AXES = 24
LEAST_TELLING = 0.03

# Share of ink that one side may have more than the other before the score falls: a hair clip, a scar.
FREE_IMBALANCE = 0.05

# Points nearer to the axis than this share of the size match almost whatever the axis: they count less.
NEAR_SHARE = 0.06


@dataclass(frozen=True, slots=True)
class Candidate:
    """A possible axis.

    Parameters
    ----------
    line : Line
        The axis, millimetres.
    score : float
        0 to 1.
    """

    line: Line
    score: float


class _Lookup:
    """Nearest point of fitting direction, from a grid for each of several directions."""

    def __init__(self, samples: Samples) -> None:
        self.samples = samples
        low, high = samples.points.min(axis=0), samples.points.max(axis=0)
        self.cell = max(samples.size, 1e-9) / GRID
        margin = 0.15 * samples.size
        self.low = low - margin
        shape = np.ceil((high - low + 2 * margin) / self.cell).astype(int) + 1
        self.shape = (int(shape[1]), int(shape[0]))
        cells = ((samples.points - self.low) / self.cell).astype(int)
        orientation = np.arctan2(samples.tangents[:, 1], samples.tangents[:, 0]) % math.pi
        self.nearest = [
            self._grid(cells, orientation, k * math.pi / ORIENTATIONS) for k in range(ORIENTATIONS)
        ]

    def _grid(self, cells: NDArray[np.int_], orientation: Floats, centre: float) -> NDArray[np.int_]:
        apart = np.abs((orientation - centre + math.pi / 2) % math.pi - math.pi / 2)
        which = np.flatnonzero(apart <= 1.5 * math.pi / ORIENTATIONS)
        if len(which) == 0:
            return np.full(self.shape, -1)
        empty = np.ones(self.shape, np.uint8)
        empty[cells[which, 1], cells[which, 0]] = 0
        _, labels = cv2.distanceTransformWithLabels(
            empty, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
        )
        owner = np.full(int(labels.max()) + 1, -1)
        owner[labels[cells[which, 1], cells[which, 0]]] = which
        return np.asarray(owner[labels])

    def find(self, points: Floats, tangents: Floats) -> NDArray[np.int_]:
        """Index of the nearest sample of fitting direction for each point; -1 where there is none."""
        cells = ((points - self.low) / self.cell).astype(int)
        cells = np.clip(cells, 0, np.array([self.shape[1] - 1, self.shape[0] - 1]))
        bins = np.rint(np.arctan2(tangents[:, 1], tangents[:, 0]) % math.pi / (math.pi / ORIENTATIONS))
        bins = bins.astype(int) % ORIENTATIONS
        found = np.full(len(points), -1)
        for k in range(ORIENTATIONS):
            here = bins == k
            found[here] = self.nearest[k][cells[here, 1], cells[here, 0]]
        return found


def _mirror(points: Floats, tangents: Floats, line: Line) -> tuple[Floats, Floats]:
    normal = line.normal
    across = points[:, 0] * normal[0] + points[:, 1] * normal[1] - line.offset
    along = tangents[:, 0] * normal[0] + tangents[:, 1] * normal[1]
    return points - 2 * across[:, None] * normal, tangents - 2 * along[:, None] * normal


def _matched(samples: Samples, line: Line, lookup: _Lookup) -> Floats:
    """How well each point's mirror image falls on a line of the drawing, 0 to 1."""
    image, tangent = _mirror(samples.points, samples.tangents, line)
    found = lookup.find(image, tangent)
    gap = image - samples.points[found]
    distance = np.hypot(gap[:, 0], gap[:, 1]) / (MATCH_SHARE * samples.size)
    return np.asarray(np.where(found >= 0, np.exp(-0.5 * distance**2), 0.0))


def _telling(samples: Samples, lookup: _Lookup) -> Floats:
    """How much each point says about the axis, 0 to 1: little where it matches about any line."""
    box = (samples.points.min(axis=0) + samples.points.max(axis=0)) / 2
    turns = [(k + 0.5) * math.pi / ANY_AXES for k in range(ANY_AXES)]
    lines = [Line(turn, float(box @ [math.cos(turn), math.sin(turn)])) for turn in turns]
    usual = np.mean([_matched(samples, line, lookup) for line in lines], axis=0)
    return np.asarray(np.clip(1.0 - usual, LEAST_TELLING, 1.0))


def _score(samples: Samples, line: Line, lookup: _Lookup, telling: Floats) -> float:
    """Share of what the drawing says that speaks for this axis, 0 to 1."""
    across = line.distance(samples.points)
    weight = np.clip(np.abs(across) / (NEAR_SHARE * samples.size), 0.0, 1.0)
    imbalance = abs(float((weight * np.sign(across)).sum())) / max(float(weight.sum()), 1e-9)
    weight = weight * telling
    matched = float((_matched(samples, line, lookup) * weight).sum())
    # With most of the drawing right on the axis there is too little left to judge by.
    share = matched / max(float(weight.sum()), 0.3 * float(telling.sum()), 1e-9)
    return share * min(1.0, max(0.0, 1.0 - 2.0 * (imbalance - FREE_IMBALANCE)))


def _votes(samples: Samples, telling: Floats) -> list[Line]:
    """The lines with most votes, strongest first."""
    thin = slice(None, None, max(1, len(samples.points) // 700))
    points, tangents, telling = samples.points[thin], samples.tangents[thin], telling[thin]
    first, second = np.triu_indices(len(points), 1)
    join = points[second] - points[first]
    length = np.hypot(join[:, 0], join[:, 1])
    use = length > 2 * NEAR_SHARE * samples.size
    first, second, join = first[use], second[use], join[use]
    turn = np.arctan2(join[:, 1], join[:, 0]) % math.pi
    direction = np.arctan2(tangents[:, 1], tangents[:, 0])
    # Mirrored about a line whose normal points to `turn`, direction f becomes 2 turn - f (+ half a turn).
    fit = np.cos(direction[first] + direction[second] - 2 * turn) ** 2
    middle = (points[first] + points[second]) / 2 - samples.points.mean(axis=0)
    offset = middle[:, 0] * np.cos(turn) + middle[:, 1] * np.sin(turn)
    return _peaks(turn, offset, fit**4 * telling[first] * telling[second], samples)


def _peaks(turn: Floats, offset: Floats, weight: Floats, samples: Samples) -> list[Line]:
    span = 0.75 * samples.size
    row = np.minimum((turn / math.pi * ANGLE_CELLS).astype(int), ANGLE_CELLS - 1)
    column = ((offset + span) / (2 * span) * OFFSET_CELLS).astype(int)
    inside = (column >= 0) & (column < OFFSET_CELLS)
    votes = np.bincount(
        row[inside] * OFFSET_CELLS + column[inside], weight[inside], ANGLE_CELLS * OFFSET_CELLS
    ).reshape(ANGLE_CELLS, OFFSET_CELLS)
    # Half a turn on, the same line has the opposite offset: wrap the rows accordingly.
    pad = 12
    wrapped = np.concatenate([votes[-pad:, ::-1], votes, votes[:pad, ::-1]]).astype(np.float32)
    smooth = cv2.GaussianBlur(wrapped, (0, 0), 2.0)
    highest = cv2.dilate(smooth, np.ones((13, 9), np.uint8))
    peak = (smooth >= highest)[pad:-pad] & (votes.max() > 0)
    rows, columns = np.nonzero(peak)
    strength = smooth[pad:-pad][rows, columns]
    best = np.lexsort((columns, rows, -strength))[:CANDIDATES]
    middle = samples.points.mean(axis=0)
    lines = []
    for r, c in zip(rows[best], columns[best], strict=True):
        angle = (r + 0.5) / ANGLE_CELLS * math.pi
        distance = (c + 0.5) / OFFSET_CELLS * 2 * span - span
        lines.append(Line(angle, distance + float(middle @ [math.cos(angle), math.sin(angle)])))
    return lines


def _refined(samples: Samples, start: Line, lookup: _Lookup, telling: Floats) -> Line:
    """Gauss-Newton on the robust point-to-line distances of the mirror image from the drawing."""
    middle = samples.points.mean(axis=0)
    points = samples.points - middle
    line = Line(start.normal_rad, start.offset - float(middle @ start.normal))
    for sigma in np.geomspace(WIDE_SHARE, NARROW_SHARE, ROUNDS) * samples.size:
        normal, along = line.normal, line.along
        image, tangent = _mirror(points, samples.tangents, line)
        found = lookup.find(image + middle, tangent)
        target = samples.tangents[found]
        across = np.stack([-target[:, 1], target[:, 0]], axis=1)
        gap = image - points[found]
        residual = (gap * across).sum(axis=1)
        weight = 1.0 / (1.0 + (gap**2).sum(axis=1) / sigma**2) ** 2 * (found >= 0) * telling
        if float(weight.sum()) < 1e-6:
            break
        turning = -2 * (along * line.distance(points)[:, None] + normal * (points @ along)[:, None])
        jacobian = np.stack([(turning * across).sum(axis=1), 2 * (across @ normal)], axis=1)
        # A little of the point-to-point distance keeps the steps bounded where lines run along the axis.
        square = jacobian.T @ (jacobian * weight[:, None])
        square += np.diag([1e-3 * samples.size**2, 1e-3]) * weight.sum()
        step = np.linalg.solve(square, -(jacobian * (weight * residual)[:, None]).sum(axis=0))
        line = Line(line.normal_rad + float(step[0]), line.offset + float(step[1]))
    return Line(line.normal_rad, line.offset + float(middle @ line.normal))


def whole_candidates(samples: Samples) -> list[Candidate]:
    """Possible axes of a whole drawing, best first.

    Parameters
    ----------
    samples : Samples
        Points of the drawing.

    Returns
    -------
    list of Candidate
        Scored by the share of the drawing that matches, each point by how much it says.
    """
    if len(samples.points) < 20:
        return []
    lookup = _Lookup(samples)
    telling = _telling(samples, lookup)
    found = [_refined(samples, line, lookup, telling) for line in _votes(samples, telling)]
    result = [Candidate(line, _score(samples, line, lookup, telling)) for line in found]
    return sorted(result, key=lambda candidate: -candidate.score)
