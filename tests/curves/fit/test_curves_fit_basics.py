"""First promises of the fit: exact ends, smooth joints, the fewest segments on plain figures."""

import numpy as np
import pytest

from limner.curves.fit.fitting import fit_path
from limner.curves.refine.paths import Data, Nodes
from limner.curves.refine.polish import polish
from limner.errors import GeometryError
from limner.geometry.cubics import evaluate


def _cubic_points(controls, count=300):
    return evaluate(np.asarray(controls, dtype=float)[None], np.linspace(0.0, 1.0, count))[0]


def test_a_cubic_comes_back_as_one_segment():
    controls = [[0, 0], [30, 120], [150, 100], [200, 0]]
    fit = fit_path(_cubic_points(controls), tolerance_mm=0.5, closed=False)
    assert len(fit.path.segments) == 1
    # Recovered to half a pixel: the project's own aim.
    assert np.abs(fit.path.segments[0] - controls).max() < 0.5


def test_open_ends_are_kept_bit_for_bit():
    points = _cubic_points([[0.1, 0.7], [3, 12], [15, 10], [20.3, 0.9]]) + 1 / 3
    fit = fit_path(points, tolerance_mm=0.01, closed=False)
    assert np.array_equal(fit.path.segments[0, 0], points[0])
    assert np.array_equal(fit.path.segments[-1, 3], points[-1])


def test_a_square_is_four_corners():
    side = np.arange(100.0)
    zero = np.zeros(100)
    points = np.concatenate(
        [
            np.stack([side, zero], 1),
            np.stack([zero + 100, side], 1),
            np.stack([100 - side, zero + 100], 1),
            np.stack([zero, 100 - side], 1),
        ]
    )
    fit = fit_path(points, tolerance_mm=0.6, closed=True)
    assert len(fit.path.segments) == 4
    assert not fit.path.smooth.any()


def test_too_few_points_are_refused():
    with pytest.raises(GeometryError, match="too few"):
        fit_path([[1.0, 1.0], [1.0, 1.0]], tolerance_mm=0.1, closed=True)


def test_nodes_that_coincide_move_nothing_out_of_the_numbers():
    place = np.array([[0.0, 0.0], [5.0, 1.0], [5.0, 1.0], [10.0, 0.0]])
    index = np.arange(3)
    ends = np.array([False, True, True, False])
    nodes = Nodes(
        place,
        np.zeros((4, 2)),
        np.zeros((4, 2)),
        ends,
        ~ends,
        np.zeros((4, 2), bool),
        index,
        index + 1,
        np.zeros(3, bool),
        index - 1,
        np.array([1, 2, -1]),
        np.zeros(3, np.intp),
    )
    x = np.linspace(0, 10, 50)
    points = np.stack([x, np.sin(x)], axis=1)
    data = Data(points, np.full(50, 0.1), np.minimum((x / 3.4).astype(np.intp), 2), np.full(50, 0.5))
    with np.errstate(all="raise", under="ignore"):
        moved, feet = polish(nodes, data, steps=12, sharp=True)
    assert np.isfinite(moved.place).all()
    assert np.isfinite(moved.handle).all()
    assert ((feet.t >= 0) & (feet.t <= 1)).all()
    assert np.array_equal(moved.place[[0, 3]], place[[0, 3]])
