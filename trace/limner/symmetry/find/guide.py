"""Drawn guide lines: long straight strokes along an axis, used for finding it and not kept as art.

Method: every point of the drawing votes for the straight line through it along its own direction; the lines
with most votes are refined by total least squares through the points on them. A line is a guide where it runs
along most of the drawing and runs past it: at both ends, or at one where it is thinner than the other lines.

Limits: a guide that does not run past what it guides is taken for a part of the drawing.
"""

import math
from dataclasses import dataclass

import numpy as np

from limner.model.arrays import Flags, Floats
from limner.symmetry.find.evidence import Samples
from limner.symmetry.frame import Line

__all__ = ["Guide", "guide_lines"]


# A guide runs along this share of the rest of the drawing, or more.
MIN_COVER = 0.75

# A thin guide is thinner than this share of the other lines' width; any guide runs past the drawing by that
# share of its own length.
THIN = 0.7
PAST = 0.03

# Points count as on the line within this many line widths and degrees: a ruled or careful stroke.
NEAR_WIDTHS, NEAR_DEG = 1.5, 8.0

# Cells of the votes, of 1.5 degrees and an eightieth of the size: a straight stroke keeps within one or two.
# So many of the fullest are tried: a drawing has few straight lines of its own length.
ANGLE_CELLS, OFFSET_CELLS = 120, 120
TRIES = 4


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """A drawn guide line.

    Parameters
    ----------
    line : Line
        The straight line that it follows, millimetres.
    half_width_mm : float
        How far its ink reaches from that straight line.
    width_mm : float
        Typical (median) width of its ink.
    thin : bool
        Whether it is thinner than the other lines.
    on_it : ndarray of bool, shape (n,)
        Which samples belong to it.
    """

    line: Line
    half_width_mm: float
    width_mm: float
    thin: bool
    on_it: Flags


def guide_lines(samples: Samples, line_width_mm: float) -> list[Guide]:
    """Guide lines of a drawing, the longest first.

    Parameters
    ----------
    samples : Samples
        Points of the drawing.
    line_width_mm : float
        Typical width of its lines.
    """
    if len(samples.points) < 20:
        return []
    found: list[Guide] = []
    for line in _straightest(samples):
        guide = _guide(samples, line, line_width_mm)
        if guide is not None and not any(_same(guide, other) for other in found):
            found.append(guide)
    return sorted(found, key=lambda guide: -int(guide.on_it.sum()))


def _straightest(samples: Samples) -> list[Line]:
    middle = samples.points.mean(axis=0)
    turn = (np.arctan2(samples.tangents[:, 1], samples.tangents[:, 0]) + math.pi / 2) % math.pi
    spots = samples.points - middle
    offset = spots[:, 0] * np.cos(turn) + spots[:, 1] * np.sin(turn)
    row = np.minimum((turn / math.pi * ANGLE_CELLS).astype(int), ANGLE_CELLS - 1)
    column = np.clip(((offset / samples.size + 0.75) / 1.5 * OFFSET_CELLS).astype(int), 0, OFFSET_CELLS - 1)
    votes = np.bincount(row * OFFSET_CELLS + column, minlength=ANGLE_CELLS * OFFSET_CELLS)
    best = np.argsort(-votes, kind="stable")[:TRIES]
    lines = []
    for cell in best[votes[best] > 3]:
        here = row * OFFSET_CELLS + column == cell
        normal = np.array([np.cos(turn[here]).mean(), np.sin(turn[here]).mean()])
        lines.append(_through(samples.points[here], math.atan2(normal[1], normal[0])))
    return lines


def _through(points: Floats, normal_rad: float) -> Line:
    """The line of that normal through the middle of points."""
    normal = Line(normal_rad, 0.0).normal
    return Line(normal_rad, float(points.mean(axis=0) @ normal))


def _near(samples: Samples, line: Line, within_mm: float) -> Flags:
    aligned = np.abs(samples.tangents @ line.normal) < math.sin(math.radians(NEAR_DEG))
    return np.asarray(aligned & (np.abs(line.distance(samples.points)) < within_mm))


def _guide(samples: Samples, line: Line, line_width: float) -> Guide | None:
    for within_mm in (3.0 * line_width, NEAR_WIDTHS * line_width, NEAR_WIDTHS * line_width):
        near = _near(samples, line, within_mm)
        if np.count_nonzero(near) < 4:
            return None
        spots = samples.points[near]
        along = np.linalg.svd(spots - spots.mean(axis=0), full_matrices=False)[2][0]
        line = _through(spots, math.atan2(along[0], -along[1]))
    on_it = _near(samples, line, NEAR_WIDTHS * line_width)
    rest = ~on_it
    if np.count_nonzero(rest) < 10 or np.count_nonzero(on_it) < 4:
        return None
    mine, others = samples.points[on_it] @ line.along, samples.points[rest] @ line.along
    low, high = float(others.min()), float(others.max())
    inside = float(((mine >= low) & (mine <= high)).sum()) * samples.step
    length = float(np.ptp(mine))
    if inside < MIN_COVER * (high - low) or length < 0.4 * samples.size:
        return None
    past = np.array([low - float(mine.min()), float(mine.max()) - high]) > PAST * length
    width = float(np.median(samples.widths[on_it]))
    thin = width < THIN * float(np.median(samples.widths[rest]))
    if not (past.all() or (thin and past.any())):
        return None
    bend = float(np.quantile(np.abs(line.distance(samples.points[on_it])), 0.98))
    return Guide(line, bend + 0.5 * width, width, thin, on_it)


def _same(one: Guide, other: Guide) -> bool:
    return bool((one.on_it & other.on_it).sum() > 0.5 * min(one.on_it.sum(), other.on_it.sum()))
