"""Plain figures, known cubics, and the order in which the error falls."""

import numpy as np
import pytest
from scipy.spatial.distance import directed_hausdorff

from helpers_curves import hausdorff
from limner.curves.fit.fitting import fit_path
from limner.geometry.cubics import bounds, evaluate, signed_area


def _ring(count):
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _polygon(corners, step=1.0):
    corners = np.asarray(corners, dtype=float)
    sides = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = int(np.hypot(*(b - a)) / step)
        sides.append(a + (b - a) * np.arange(count)[:, None] / count)
    return np.concatenate(sides)


def test_a_noisy_circle_is_four_cubics_with_the_classical_arm():
    ring = _ring(628)
    points = ring * (100 + np.random.default_rng(1).normal(0, 0.3, 628))[:, None]
    fit = fit_path(points, tolerance_mm=1.0, closed=True)
    assert len(fit.path.segments) == 4
    assert fit.path.smooth.all()
    handle = np.hypot(*(fit.path.segments[0, 1] - fit.path.segments[0, 0]))
    radius = (bounds(fit.path)[2] - bounds(fit.path)[0]) / 2
    # 0.5522847498 r: the classical arm, e.g. Goldapp, CAGD 8 (1991), from memory.
    assert handle / radius == pytest.approx(0.5522847498, abs=1e-9)
    assert radius == pytest.approx(100, abs=0.1)


def test_a_circle_tighter_than_four_cubics_can_be_gets_more():
    fit = fit_path(_ring(2000) * 100, tolerance_mm=0.001, closed=True)
    assert fit.error_mm <= 0.001
    assert 4 < len(fit.path.segments) <= 8


@pytest.mark.parametrize("angle", [0.0, 0.3, 1.2])
def test_a_noisy_ellipse_is_four_cubics(angle):
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    points = _ring(500) * [90, 40] @ turn + np.random.default_rng(2).normal(0, 0.2, (500, 2)) + [200, 100]
    fit = fit_path(points, tolerance_mm=1.0, closed=True)
    assert len(fit.path.segments) == 4
    assert signed_area(fit.path) == pytest.approx(np.pi * 90 * 40, rel=0.002)


def test_a_square_is_four_lines_and_a_star_is_ten():
    noise = np.random.default_rng(3).normal(0, 0.05, (400, 2))
    square = fit_path(
        _polygon([[0, 0], [100, 0], [100, 100], [0, 100]]) + noise, tolerance_mm=0.6, closed=True
    )
    assert square.path.straight.tolist() == [True] * 4
    angle = np.pi * np.arange(10) / 5 + 0.2
    tips = np.where(np.arange(10) % 2, 40, 100)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    star = fit_path(_polygon(tips), tolerance_mm=0.6, closed=True)
    assert star.path.straight.tolist() == [True] * 10
    # The nodes are the star's own corners.
    assert directed_hausdorff(tips, star.path.nodes)[0] < 0.3


def test_a_rounded_box_keeps_its_lines_and_runs_smoothly_into_its_arcs():
    box = np.asarray(
        [[20, 0], [100, 0], [120, 20], [120, 60], [100, 80], [20, 80], [0, 60], [0, 20]], dtype=float
    )
    arc = np.linspace(-np.pi / 2, 0, 40, endpoint=False)
    parts = []
    for k, centre in enumerate([[100, 20], [100, 60], [20, 60], [20, 20]]):
        turn = arc + k * np.pi / 2
        parts.append(np.asarray(centre) + 20 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
        start, end = parts[-1][-1], box[(2 * k + 3) % 8]
        parts.append(start + (end - start) * np.linspace(0.02, 1, 60, endpoint=False)[:, None])
    points = np.concatenate(parts)
    fit = fit_path(points, tolerance_mm=0.3, closed=True)
    # Four lines and four quarter circles: what a designer would draw.
    assert len(fit.path.segments) <= 8
    assert fit.error_mm <= 0.3
    assert hausdorff(fit.path, points) <= fit.error_mm * 1.01 + 1e-6


@pytest.mark.parametrize(
    "controls",
    [
        [[0, 0], [30, 120], [150, 100], [200, 0]],
        [[0, 0], [80, 60], [100, -80], [200, 20]],
        [[10, 10], [90, 0], [180, 60], [190, 190]],
    ],
)
def test_a_known_cubic_comes_back(controls):
    controls = np.asarray(controls, dtype=float)
    points = evaluate(controls[None], np.linspace(0, 1, 300))[0]
    fit = fit_path(points, tolerance_mm=0.5, closed=False)
    assert len(fit.path.segments) == 1
    assert np.abs(fit.path.segments[0] - controls).max() < 0.5


def test_the_error_falls_with_the_sixth_power_of_the_segments_length():
    t = np.linspace(0, 10, 8000)
    spiral = (10 + 4 * t)[:, None] * np.stack([np.cos(t), np.sin(t)], axis=1)
    tolerances = 0.5 / 64.0 ** np.arange(3)
    counts = [
        len(fit_path(spiral, tolerance_mm=tolerance, closed=False, noise_mm=0.0).path.segments)
        for tolerance in tolerances
    ]
    order = np.log(tolerances[0] / tolerances[-1]) / np.log(counts[-1] / counts[0])
    # Levien, "Fitting cubic Bezier curves" (2021): a G1 cubic fit converges with order 6; counts are whole
    # numbers, so that the order read off them is that to within a few tenths.
    assert order > 5.5
