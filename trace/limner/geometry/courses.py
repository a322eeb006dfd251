"""Lines by the length of the way along them: places, and means over stretches."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from limner.geometry.polylines import arc_lengths
from limner.model.arrays import Floats

__all__ = ["Course"]


@dataclass(frozen=True, eq=False)
class Course:
    """A polyline by its length.

    Parameters
    ----------
    points : ndarray of float64, shape (n, 2)
        A closed one does not repeat its first point.
    closed : bool
        Whether the last point is joined to the first: lengths then go on around it.
    """

    points: Floats
    closed: bool

    @cached_property
    def _run(self) -> Floats:
        return np.concatenate([self.points, self.points[:1]]) if self.closed else self.points

    @cached_property
    def lengths(self) -> Floats:
        """Length of the way to each point; of a closed one also that around it."""
        return arc_lengths(self._run)

    @property
    def total(self) -> float:
        """Length of all of it."""
        return float(self.lengths[-1])

    @cached_property
    def _sums(self) -> Floats:
        """Integral of the points over the length, up to each point."""
        steps = (self._run[1:] + self._run[:-1]) / 2.0 * np.diff(self.lengths)[:, None]
        return np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])

    def of(self, lengths: Floats) -> Floats:
        """Points at lengths, shape (k, 2)."""
        lengths = lengths % self.total if self.closed else lengths
        return np.stack([np.interp(lengths, self.lengths, self._run[:, k]) for k in (0, 1)], axis=1)

    def _integral(self, lengths: Floats) -> Floats:
        turns = np.floor(lengths / self.total) if self.closed else np.zeros(len(lengths))
        rest = np.clip(lengths - turns * self.total, 0.0, self.total)
        k = np.clip(np.searchsorted(self.lengths, rest, side="right") - 1, 0, len(self.lengths) - 2)
        over = (rest - self.lengths[k])[:, None]
        there = self._sums[k] + over * (self._run[k] + self.of(rest)) / 2.0
        # A length of all of it lies at its end, not at its beginning.
        there = np.where((rest >= self.total)[:, None], self._sums[-1], there)
        return np.asarray(turns[:, None] * self._sums[-1] + there)

    def mean_around(self, lengths: Floats, halves: Floats) -> Floats:
        """Mean of the line over a stretch to both sides of each length; the point itself where it is none."""
        if not self.closed:
            halves = np.minimum(halves, np.minimum(lengths, self.total - lengths))
        wide = halves > 1e-9 * self.total
        means = self.of(lengths)
        at, half = lengths[wide], halves[wide]
        means[wide] = (self._integral(at + half) - self._integral(at - half)) / (2.0 * half)[:, None]
        return means

    def foot(self, point: Floats) -> float:
        """Length at which it is nearest to a point."""
        start, way = self._run[:-1], np.diff(self._run, axis=0)
        share = ((point - start) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-300)
        share = np.clip(share, 0.0, 1.0)
        k = int(np.hypot(*(start + share[:, None] * way - point).T).argmin())
        return float(self.lengths[k] + share[k] * (self.lengths[k + 1] - self.lengths[k]))

    def away(self, lengths: Floats, at: float) -> Floats:
        """How far lengths are beyond one of them, the shorter way around where it is closed."""
        away = lengths - at
        return np.asarray((away + self.total / 2.0) % self.total - self.total / 2.0 if self.closed else away)
