"""A line without the hand's tremor, within its smoothing of what was drawn.

Method: of all lines near the samples the one is taken whose curvature changes least: a sum of squared third
differences, weighed so that waves much longer than the smoothing stay and shorter ones go (a smoothing
spline: Whittaker 1923, Reinsch 1967, Numer. Math. 10, from memory). Where it leaves a band around the
samples, these weigh more, until it does not. Corners of the form (`corners`) part the line: beside them
each side is calmed by itself, and what is rounded off there does not count. What the fit may add is what
calming has left of the smoothing, and less where that is large: so the calmer line is drawn, not one that
wanders about it.

Limits: a wave that is as long as the form's own bends stays, whatever its height.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limner.curves.calm.corners import corners_of_form
from limner.curves.data.corners import Corner
from limner.curves.data.resampling import Samples, median
from limner.curves.kernels import compiled
from limner.curves.marks.places import as_marked
from limner.model.arrays import Flags, Floats, Ints
from limner.model.regionmap import CornerMark

__all__ = ["Calm", "calmed"]


# Waves shorter than so many times what the smoothing has above the least one are taken out: a hand's tremor
# is some ten times longer than it is high.
WAVE_PER_SMOOTHING = 13.0
# A smooth ring keeps waves of this share of its length: shorter ones are no part of an oval.
LONGEST_WAVE_OF_RING = 1.0 / 3.0
# Where a line keeps its form, waves of so many times the least smoothing are taken out: of about its width.
FIRM_WAVE = 5.0
# The band, as a share of the smoothing; the rest is for the fit.
BAND = 0.5
# Longest wave taken out, in samples: longer ones are beyond what the digits of a double can tell.
MOST_SAMPLES_PER_WAVE = 250.0
# Where the band is left, the samples around weigh more, over this share of a wave to either side.
HEAVIER_PER_WAVE = 0.15
ROUNDS = 8
# A corner's tip weighs as much as so many samples; what is rounded off beside it next to nothing.
TIP_WEIGHT = 3.0
ROUNDED_WEIGHT = 1e-3
# Ends that are given stay in their place, to the digits of a double.
END_WEIGHT = 1e8
# Room grows with the smoothing as this power of it: without growth nodes are many, in full proportion the fit
# wanders about the calm line by more than the tremor was high.
ROOM_GROWTH = 0.35
# Room is the least within this share of the smoothing along the line, so that the fit is nowhere off.
ROOM_REACH = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Calm:
    """A calmed line.

    Parameters
    ----------
    samples : Samples
        Calmed, with the room that this leaves to the fit.
    corners : tuple of Corner
        Those of the form.
    """

    samples: Samples
    corners: tuple[Corner, ...]


def calmed(
    samples: Samples, follow_mm: float, marks: Sequence[CornerMark] = (), firm: Flags | None = None
) -> Calm:
    """Take the tremor out of a line.

    Parameters
    ----------
    samples : Samples
        Of what was drawn.
    follow_mm : float
        A line fitted within this distance follows what was drawn; what the tolerance has above it
        is smoothing.
    marks : sequence of CornerMark
        Where it has a corner, or none, whatever it looks like.
    firm : ndarray of bool, shape (n,), or None
        Samples at which the line keeps its form, but for what is finer than it is wide; None: nowhere.

    Returns
    -------
    Calm
    """
    corners = as_marked(samples, corners_of_form(samples, follow_mm), marks)
    wave = _waves(samples, corners, follow_mm)
    if firm is not None:
        wave = np.where(firm, np.minimum(wave, FIRM_WAVE * follow_mm / samples.step), wave)
    points = _calmest(samples, corners, wave)
    # A tremor is no noise any more that the fit would have to average.
    still = replace(samples, points=points, noise=0.0, room=_room(samples, points, follow_mm))
    tips = (tuple(points[corner.index].tolist()) for corner in corners)
    return Calm(still, tuple(replace(c, tip=tip, rounded=1) for c, tip in zip(corners, tips, strict=True)))


def _calmest(samples: Samples, corners: Sequence[Corner], wave: Floats) -> Floats:
    """The line of the least change of curvature, shape (n, 2), without waves up to so many samples."""
    count = len(samples.points)
    weight, target = _wanted(samples, corners)
    # A closed line runs on over its ends for as long as one end can be felt from the other.
    more = min(int(2.0 * wave.max()) + 8, count) if samples.closed else 0
    index = np.arange(-more, count + more) % count
    stiff = (wave / (2.0 * np.pi)) ** 6
    at = [corner.index for corner in corners]
    for before in (1, 2):  # no third difference reaches across a corner
        stiff[(np.array(at, dtype=np.intp) - before) % count] = 0.0
    line = np.empty((len(index), 2))
    compiled.calm(
        points=samples.points[index], target=target[index], band=BAND * samples.tolerance[index],
        weight=weight[index], stiff=stiff[index], line=line, reach=int(HEAVIER_PER_WAVE * median(wave)),
        rounds=ROUNDS,
    )  # fmt: skip
    line = line[more : more + count]
    if not samples.closed:
        line[[0, -1]] = samples.points[[0, -1]]
    return line


def _waves(samples: Samples, corners: Sequence[Corner], follow_mm: float) -> Floats:
    """Length of the waves that are taken out at each sample, in samples."""
    above = np.maximum(samples.tolerance - follow_mm, 0.0)
    most = MOST_SAMPLES_PER_WAVE
    if samples.closed and not corners:
        most = min(most, LONGEST_WAVE_OF_RING * len(samples.points))
    return np.asarray(np.minimum(WAVE_PER_SMOOTHING * above / samples.step, most))


def _wanted(samples: Samples, corners: Sequence[Corner]) -> tuple[Floats, Floats]:
    """How much each sample weighs, and where it draws the line to."""
    count = len(samples.points)
    weight, target = np.ones(count), samples.points.copy()
    for corner in corners:
        weight[_around(corner, count, samples.closed)] = ROUNDED_WEIGHT
    for corner in corners:
        weight[corner.index], target[corner.index] = TIP_WEIGHT, corner.tip
    if not samples.closed:
        weight[[0, -1]] = END_WEIGHT
    return weight, target


def _around(corner: Corner, count: int, closed: bool) -> Ints:
    """The samples that a corner rounds off."""
    near = np.arange(corner.index - corner.rounded + 1, corner.index + corner.rounded)
    return near % count if closed else near[(near >= 0) & (near < count)]


def _room(samples: Samples, points: Floats, follow_mm: float) -> Floats:
    """What calming has left of the tolerance at each sample."""
    off = _across(samples.points, points)
    reach = int(ROOM_REACH * median(samples.tolerance) / samples.step)
    if reach:
        padded = np.pad(off, reach, mode="wrap" if samples.closed else "edge")
        off = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=1)
    least = (1.0 - BAND) * samples.tolerance
    own = np.minimum(samples.tolerance, follow_mm) ** (1.0 - ROOM_GROWTH) * samples.tolerance**ROOM_GROWTH
    return np.asarray(np.minimum(np.maximum(samples.tolerance - off, least), own))


def _across(points: Floats, line: Floats) -> Floats:
    """How far a line is from each of its samples, across itself."""
    along = np.gradient(line, axis=0)
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-300)
    off = line - points
    return np.asarray(np.abs(along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]) / length)
