"""Fits that are kept: the same bytes, made once, and no more of them than there is room for."""

import numpy as np
import pytest

from limner.curves.fit import kept
from limner.curves.fit.budget import fit_within_budget
from limner.curves.fit.fitting import fit_paths
from limner.curves.fit.kept import FitStore
from limner.curves.fit.polylines import Polyline


def leaf(lobes, tolerance=0.1, **more):
    t = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    radius = 10 + 2 * np.cos(lobes * t)
    points = radius[:, None] * np.stack([np.cos(t), np.sin(t)], axis=1)
    return Polyline(points, np.full(200, tolerance), True, **more)


def same(one, other):
    return all(
        a.path.segments.tobytes() == b.path.segments.tobytes() and a.error_mm == b.error_mm
        for a, b in zip(one, other, strict=True)
    )


@pytest.fixture
def made(monkeypatch):
    """How many lines are fitted each time."""
    counts = []

    def counting(lines):
        counts.append(len(lines))
        return fit_paths(lines)

    monkeypatch.setattr(kept, "fit_paths", counting)
    return counts


def test_only_what_changed_is_fitted(made):
    store, lines = FitStore(), [leaf(lobes) for lobes in (2, 3, 4)]
    first = store.fits(lines)
    second = store.fits([leaf(5), *lines[1:]])
    assert made == [3, 1]
    assert all(one is other for one, other in zip(first[1:], second[1:], strict=True))
    assert same(second, fit_paths([leaf(5), *lines[1:]]))


@pytest.mark.parametrize(
    "other", [leaf(3, 0.2), leaf(3, noise=0.01), Polyline(leaf(3).points, leaf(3).tolerance, False)]
)
def test_another_tolerance_noise_or_end_is_another_fit(made, other):
    store = FitStore()
    store.fits([leaf(3)])
    assert same(store.fits([other]), fit_paths([other]))
    assert made == [1, 1]


def test_a_budget_uses_what_is_known(made):
    store, lines = FitStore(), [leaf(lobes) for lobes in (3, 5)]
    first = fit_within_budget(lines, 30, store)
    count = sum(made)
    assert same(fit_within_budget(lines, 30, store), first)
    assert sum(made) == count


def test_what_was_used_last_is_kept(made, monkeypatch):
    monkeypatch.setattr(kept, "_MOST_SEGMENTS", 1)
    store = FitStore()
    store.fits([leaf(3)])
    assert same(store.fits([leaf(3), leaf(4)]), fit_paths([leaf(3), leaf(4)]))
    store.fits([leaf(4)])
    store.fits([leaf(3)])
    assert made == [1, 1, 0, 1]
