"""Best single cubics for many spans of samples: see ``kernels/spans.c`` for the method and its limits.

Handles are free here, so that neighbouring spans agree in tangent only as far as the data do; `polish` makes
them agree exactly.
"""

import numpy as np

from limner.curves.kernels import compiled, in_halves, whole
from limner.model.arrays import Floats, Ints

__all__ = ["fit_spans", "span_errors"]


# Places at which a span is seen, as in the compiled loops.
PLACES = 17


def _linear_weights() -> Floats:
    """How much of each place is in the inner control points of the linear fit, shape (places, 2).

    That fit has even parameters and the span's ends held, so that what the ends leave is fitted.
    """
    t = np.linspace(0.0, 1.0, PLACES)
    s = 1.0 - t
    ends = np.zeros((PLACES, PLACES))
    ends[0], ends[-1] = s * s * s, t * t * t
    inner = np.stack([3.0 * s * s * t, 3.0 * s * t * t], axis=1)
    return np.ascontiguousarray((np.eye(PLACES) - ends) @ np.linalg.pinv(inner).T)


_LINEAR = _linear_weights()


def fit_spans(points: Floats, first: Ints, last: Ints) -> Floats:
    """Fit a cubic to each span points[first..last].

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Samples at equal steps.
    first, last : ndarray of int, shape (b,)
        Ends of each span, last > first; its fit meets both exactly.

    Returns
    -------
    ndarray, shape (b, 4, 2)
        Control points.
    """
    cubics = np.empty((len(first), 4, 2))
    points = np.ascontiguousarray(points)
    compiled.fit_spans(points=points, linear=_LINEAR, first=whole(first), last=whole(last), cubics=cubics)
    return cubics


def span_errors(points: Floats, tolerance: Floats, first: Ints, last: Ints) -> Floats:
    """Largest distance of each span points[first..last] from its best cubic.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Samples at equal steps.
    tolerance : ndarray, shape (n,)
        Largest distance allowed at each.
    first, last : ndarray of int, shape (b,)
        Ends of each span, last > first.

    Returns
    -------
    ndarray, shape (b,)
        In tolerances; an upper bound where the span is clearly met or clearly not.
    """
    errors, first, last = np.empty(len(first)), whole(first), whole(last)
    points, tolerance = np.ascontiguousarray(points), np.ascontiguousarray(tolerance)

    def work(k: slice) -> None:
        compiled.span_errors(
            points=points, tolerance=tolerance, linear=_LINEAR,
            first=first[k], last=last[k], errors=errors[k],
        )  # fmt: skip

    in_halves(work, len(first))
    return errors
