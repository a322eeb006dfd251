"""One polyline made ready to be fitted: canonical order, even samples, the noise that must be allowed."""

from dataclasses import dataclass, replace

import numpy as np

from limner.curves.calm.lines import calmed
from limner.curves.data.corners import Corner
from limner.curves.data.resampling import Samples, canonical, sample, sampled_flags
from limner.curves.fit.error import Course
from limner.curves.fit.polylines import Fit, Polyline
from limner.geometry.cubics import reverse
from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Flags, Floats
from limner.model.geometry import CubicPath
from limner.model.regionmap import CornerMark

__all__ = ["NOISE_SIGMAS", "Task"]


# Noise that the tolerance cannot hold: four standard deviations hold all but one point in 16,000.
NOISE_SIGMAS = 4.0
# ... but a tolerance is never stretched by more than this.
LARGEST_STRETCH = 1.25


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """A polyline to be fitted.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        The data in their canonical order, millimetres; n >= 3, none twice in a row.
    closed : bool
    turned : bool
        Whether the canonical order is against that in which the data came.
    samples : Samples
        Even samples of them; their tolerance is stretched where noise asks for it.
    among : ndarray, shape (n,)
        Where each of the data lies among the samples.
    ends : tuple of float or None
        Directions of travel that are given at the start and at the end, radians.
    marks : tuple of CornerMark
        Where it has a corner, or none, whatever it looks like.
    corners : tuple of Corner or None
        Where it is cut at first; None: wherever its samples have corners.
    drawn : Task or None
        The same with its samples as drawn; None: they are.
    """

    points: Floats
    closed: bool
    turned: bool
    samples: Samples
    among: Floats
    ends: tuple[float | None, float | None]
    marks: tuple[CornerMark, ...] = ()
    corners: tuple[Corner, ...] | None = None
    drawn: "Task | None" = None

    @staticmethod
    def of(polyline: Polyline, points: Floats, tolerance: Floats, firm: Flags | None = None) -> "Task":
        """The task of fitting a polyline, given its `checked` points, tolerances and firm parts."""
        order, turned = canonical(points, polyline.closed)
        points = points[order]
        follow = polyline.follow_mm
        calms = follow is not None and float(tolerance.max()) > follow
        finest = follow if follow is not None and calms else np.inf
        samples = _with_noise(sample(points, tolerance[order], polyline.closed, polyline.noise, finest))
        if not polyline.nodes_at_changes:
            samples = replace(samples, breaks=samples.breaks[:0])
        start, end = (
            None if tangent is None else float(np.arctan2(tangent[1], tangent[0]))
            for tangent in (polyline.start_tangent, polyline.end_tangent)
        )
        ends = (_back(end), _back(start)) if turned else (start, end)
        among = arc_lengths(points) / samples.step
        task = Task(points, polyline.closed, turned, samples, among, ends, polyline.marks)
        if not calms:
            return task
        firm = None if firm is None else sampled_flags(firm[order], points, samples)
        calm = calmed(samples, finest, polyline.marks, firm)
        return replace(task, samples=calm.samples, corners=calm.corners, drawn=task)

    @property
    def limit(self) -> float:
        """The least tolerance anywhere: what the whole path is held to."""
        return float(self.samples.tolerance.min())

    def course(self, segments: Floats) -> Course:
        """A path with the data that it is held against."""
        return Course(segments, self.closed, self.points, self.limit)

    def finished(self, path: CubicPath, error_mm: float) -> Fit:
        """The path in the direction in which the data came."""
        return Fit(reverse(path) if self.turned else path, error_mm)


def _back(angle: float | None) -> float | None:
    return None if angle is None else angle + np.pi


def _with_noise(samples: Samples) -> Samples:
    least = np.minimum(NOISE_SIGMAS * samples.noise, LARGEST_STRETCH * samples.tolerance)
    tolerance = np.maximum(samples.tolerance, least)
    return replace(samples, tolerance=tolerance, room=tolerance)
