"""A budget of nodes, spent so that the largest error is smallest.

Method: all lines are fitted on a ladder of tolerances, from far too coarse downwards, which gives each line
a table of node counts and the smallest error reached with so many. The smallest largest error is then
found exactly on these tables: every line takes the fewest nodes that reach it. The ladder's rungs do not
depend on the budget, and a larger budget only adds finer ones, so that more nodes never raise the error.

Limits: between two rungs a line may have a fit that the table does not know.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from limner.curves.fit.kept import FitStore
from limner.curves.fit.polylines import Fit, Polyline
from limner.errors import GeometryError

__all__ = ["fit_within_budget"]

# Each rung's tolerance against the one above it: 1.5 to the sixth is about eleven, so that a smooth line
# gains about one node in fifteen per rung.
RUNG = 1.5
# The coarsest rung, in extents of the largest line: anything is met by its fewest nodes.
COARSEST_EXTENTS = 0.5
# The finest rung, in the tolerance that was asked for without a budget.
FINEST = 1.0 / 12.0
# Rungs below the one that first exceeds the budget: a line that lags behind may still gain.
RUNGS_BELOW = 2


@dataclass(slots=True)
class _Table:
    """The best fits of one line: more nodes, smaller error."""

    fits: list[Fit] = field(default_factory=list)

    def add(self, fit: Fit) -> None:
        self.fits = [f for f in self.fits if _count(f) < _count(fit) or f.error_mm < fit.error_mm]
        if not any(_count(f) <= _count(fit) for f in self.fits if f.error_mm <= fit.error_mm):
            self.fits.append(fit)
        self.fits.sort(key=_count)

    def within(self, error_mm: float) -> Fit | None:
        """The fewest nodes that reach an error."""
        return next((fit for fit in self.fits if fit.error_mm <= error_mm), None)


def _count(fit: Fit) -> int:
    return len(fit.path.segments)


def fit_within_budget(
    polylines: Sequence[Polyline],
    nodes: int,
    known: FitStore | None = None,
    *,
    spent: int = 0,
    weights: Sequence[int] | None = None,
    what: str = "drawing",
) -> list[Fit]:
    """Fit lines with at most so many nodes in all.

    Parameters
    ----------
    polylines : sequence of Polyline
        Their tolerances say how the error may differ from place to place; all are scaled alike.
    nodes : int
        The budget: what is spent, and segments of all fits, each times its weight.
    known : FitStore or None
        Fits that need not be worked out again.
    spent : int
        Nodes that other fits take of the budget.
    weights : sequence of int or None
        How often the nodes of each line count (an edge between two areas lies in both outlines).
    what : str
        What the budget is for, for the message.

    Returns
    -------
    list of Fit
        In the order of the lines, their largest error as small as the budget allows.

    Raises
    ------
    GeometryError
        The budget is too small; the message names the fewest possible.
    """
    known = known or FitStore()
    if not polylines:
        _check(spent, nodes, what)
        return []
    times = [1] * len(polylines) if weights is None else list(weights)
    tables = [_Table() for _ in polylines]
    below = 0
    for scale in _rungs(polylines):
        fits = known.fits([replace(line, tolerance=line.tolerance * scale) for line in polylines])
        for table, fit in zip(tables, fits, strict=True):
            table.add(fit)
        below += sum(k * _count(fit) for k, fit in zip(times, fits, strict=True)) > nodes - spent
        if below > RUNGS_BELOW:
            break
    fewest = sum(k * _count(table.fits[0]) for k, table in zip(times, tables, strict=True))
    _check(spent + fewest, nodes, what)
    return _spend(tables, times, nodes - spent)


def _check(fewest: int, nodes: int, what: str) -> None:
    if fewest > nodes:
        raise GeometryError(
            f"{nodes} nodes are too few for the {what}: it needs at least {fewest}, "
            "so ask for that many or more."
        )


def _rungs(polylines: Sequence[Polyline]) -> NDArray[np.float64]:
    """Factors on the tolerances, descending."""
    extent = max(float(np.ptp(line.points, axis=0).max()) for line in polylines)
    finest = min(float(line.tolerance.min()) for line in polylines)
    top = max(COARSEST_EXTENTS * extent / finest, 1.0)
    count = int(np.ceil(np.log(top / FINEST) / np.log(RUNG))) + 1
    return np.asarray(top * RUNG ** -np.arange(count, dtype=np.float64))


def _spend(tables: list[_Table], times: list[int], nodes: int) -> list[Fit]:
    """The smallest largest error that the budget reaches, and each line's fewest nodes for it."""
    errors = sorted({fit.error_mm for table in tables for fit in table.fits})
    low, high = 0, len(errors) - 1
    while low < high:
        middle = (low + high) // 2
        if _total(tables, times, errors[middle]) <= nodes:
            high = middle
        else:
            low = middle + 1
    return [_known(table.within(errors[high])) for table in tables]


def _known(fit: Fit | None) -> Fit:
    """The largest of all errors is reached by every line."""
    assert fit is not None
    return fit


def _total(tables: list[_Table], times: list[int], error_mm: float) -> float:
    fits = [table.within(error_mm) for table in tables]
    return sum(np.inf if fit is None else k * _count(fit) for k, fit in zip(times, fits, strict=True))
