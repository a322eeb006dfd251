"""Corners of analytic shapes, and those of a plain computation of the same."""

import numpy as np
import pytest

import oracle_curves as oracle
from limner.curves.data.corners import find_corners
from limner.curves.data.resampling import sample


def polygon(tips, step=0.05):
    """Points along a closed polygon."""
    tips = np.asarray(tips, dtype=float)
    parts = []
    for a, b in zip(tips, np.roll(tips, -1, axis=0), strict=True):
        count = round(np.hypot(*(b - a)) / step)
        parts.append(a + (b - a) * (np.arange(count) / count)[:, None])
    return np.concatenate(parts)


def found(points, tolerance, closed=True, noise=0.0):
    return find_corners(sample(points, np.full(len(points), tolerance), closed, noise))


def test_a_narrow_strip_has_its_four_corners():
    # The short sides are eight tolerances long.
    tips = np.array([[0, 0], [20, 0], [20, 0.8], [0, 0.8]])
    corners = found(polygon(tips), 0.1)
    assert len(corners) == 4
    at = np.array([corner.tip for corner in corners])
    assert np.hypot(*(at[:, None] - tips).transpose(2, 0, 1)).min(axis=1).max() < 0.02
    assert [corner.turn_deg for corner in corners] == pytest.approx([90.0] * 4, abs=1.0)


def test_the_turn_of_a_corner_is_that_of_its_sides():
    for turn in (40.0, 75.0, 120.0, 150.0):
        angle = np.radians(turn)
        arms = 15 * np.array([[-1.0, 0.0], [np.cos(angle), np.sin(angle)]])
        points = np.concatenate([np.linspace(arms[0], [0, 0], 300)[:-1], np.linspace([0, 0], arms[1], 300)])
        (corner,) = found(points, 0.1, closed=False)
        assert corner.turn_deg == pytest.approx(turn, abs=0.5)
        assert np.hypot(*corner.tip) < 0.02


@pytest.mark.parametrize("radius", [1.0, 5.0, 40.0])
def test_a_circle_has_none(radius):
    angle = np.linspace(0, 2 * np.pi, 900, endpoint=False)
    assert found(radius * np.stack([np.cos(angle), np.sin(angle)], axis=1), 0.02 * radius) == []


def test_noise_makes_none():
    # A tolerance that is less than the noise: arms are then short, and their directions waver.
    rng = np.random.default_rng(7)
    x = np.linspace(0, 60, 3000)
    line = np.stack([x, rng.normal(0, 0.05, len(x))], axis=1)
    assert found(line, 0.05, closed=False, noise=0.05) == []
    # If it were not known for noise, it would be full of corners.
    assert len(found(line, 0.05, closed=False, noise=0.0)) > 10


def test_a_corner_is_not_drawn_out_beyond_the_tolerance():
    # Rounded by a radius at which the sharp tip lies three tolerances from the data.
    radius = 3 * 0.1 / (np.sqrt(2.0) - 1.0)
    angle = np.linspace(-np.pi / 2, 0, 200)
    arc = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1) + [-radius, radius]
    points = np.concatenate(
        [np.linspace([-15, 0], arc[0], 400)[:-1], arc, np.linspace(arc[-1], [0, 15], 400)[1:]]
    )
    for corner in found(points, 0.1, closed=False):
        assert np.hypot(*(points - corner.tip).T).min() <= 0.1


def test_the_corners_are_those_of_the_oracle():
    rng = np.random.default_rng(11)
    for _ in range(20):
        count = int(rng.integers(3, 12))
        angle = np.sort(rng.uniform(0, 2 * np.pi, count))
        tips = rng.uniform(1, 6, (count, 1)) * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        points = polygon(tips) + rng.normal(0, 0.01, (len(polygon(tips)), 2))
        for closed in (True, False):
            samples = sample(points, np.full(len(points), 0.1), closed, None)
            ours, theirs = find_corners(samples), oracle.find_corners(samples)
            assert [(c.index, c.rounded) for c in ours] == [(c.index, c.rounded) for c in theirs]
            assert np.array([c.tip for c in ours]) == pytest.approx(
                np.array([c.tip for c in theirs]), abs=1e-9
            )
            assert [c.turn_deg for c in ours] == pytest.approx([c.turn_deg for c in theirs], abs=1e-7)
