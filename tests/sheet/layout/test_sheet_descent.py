import numpy as np
import pytest
from scipy import optimize

from limner.sheet.layout.descent import minimise

WIDE = {"rounds": 500, "longest_step": 10.0, "shortest_step": 1e-9}


def bowl(place):
    steep = np.array([1.0, 30.0, 400.0])
    away = place - [3.0, -2.0, 0.5]
    return float((steep * away * away).sum()), 2 * steep * away


def banana(place):
    """Rosenbrock's function, whose minimum lies at (1, ..., 1) in a bent valley."""
    return float(optimize.rosen(place)), optimize.rosen_der(place)


def test_a_bowl_has_its_bottom_found():
    assert minimise(bowl, np.zeros(3), **WIDE) == pytest.approx([3.0, -2.0, 0.5], abs=1e-6)


@pytest.mark.parametrize("count", [2, 24])
def test_a_bent_valley_is_followed_to_its_end(count):
    start = np.tile([-1.2, 1.0], count // 2)
    assert minimise(banana, start, **WIDE) == pytest.approx(np.ones(count), abs=1e-5)


def test_evaluations_are_of_the_order_of_a_library_s():
    counted = []

    def function(place):
        counted.append(1)
        return banana(place)

    start = np.tile([-1.2, 1.0], 6)
    minimise(function, start, **WIDE)
    known = optimize.minimize(banana, start, jac=True, method="L-BFGS-B", options={"maxcor": 12})
    assert len(counted) <= 1.5 * known.nfev


def test_no_step_is_longer_than_allowed():
    places = []

    def function(place):
        places.append(place)
        return bowl(place)

    minimise(function, np.zeros(3), rounds=40, longest_step=0.25, shortest_step=1e-6)
    steps = np.abs(np.diff(places, axis=0)).max(axis=1)
    assert steps.max() <= 0.25 + 1e-12


def test_a_start_that_is_flat_or_lowest_stays():
    assert minimise(bowl, np.array([3.0, -2.0, 0.5]), **WIDE).tolist() == [3.0, -2.0, 0.5]
    assert minimise(lambda place: (1.0, np.zeros(2)), np.ones(2), **WIDE).tolist() == [1.0, 1.0]


def test_slopes_that_lie_end_the_walk_where_it_is():
    """Uphill wherever it claims to go down: no step is taken."""
    start = np.array([1.0])
    assert minimise(lambda place: (float(place[0] ** 2), -2 * place), start, **WIDE).tolist() == [1.0]


def test_rounds_are_kept_to():
    once = minimise(bowl, np.zeros(3), rounds=1, longest_step=10.0, shortest_step=1e-9)
    assert bowl(once)[0] < bowl(np.zeros(3))[0]
    assert bowl(once)[0] > 1e-6
    assert minimise(bowl, np.zeros(3), rounds=0, longest_step=1.0, shortest_step=0.1).tolist() == [0.0] * 3
