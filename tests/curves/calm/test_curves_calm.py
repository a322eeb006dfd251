"""What calming takes out of a line, and what it leaves in its place."""

import numpy as np
import pytest
import shapely

import oracle_curves as oracle
from limner.curves.calm.lines import BAND, calmed
from limner.curves.data.resampling import sample
from limner.curves.fit.fitting import fit_paths
from limner.curves.fit.polylines import Polyline
from limner.curves.kernels import compiled

FOLLOW_MM = 0.15


def ring(radius_mm=20.0, height_mm=0.0, waves=40, count=1200):
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    r = radius_mm + height_mm * np.sin(waves * turn)
    return np.stack([r * np.cos(turn), 0.7 * r * np.sin(turn)], axis=1)


def polygon(corners, step=0.1):
    sides = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = int(np.hypot(*np.subtract(b, a)) / step)
        sides.append(a + np.subtract(b, a) * np.arange(count)[:, None] / count)
    return np.concatenate(sides)


def calm_of(points, smoothing_mm, closed=True):
    samples = sample(points, np.full(len(points), smoothing_mm), closed, None, FOLLOW_MM)
    return samples, calmed(samples, FOLLOW_MM)


def fitted(points, smoothing_mm):
    return fit_paths([Polyline(points, np.full(len(points), smoothing_mm), True, follow_mm=FOLLOW_MM)])[0]


def turning(points):
    step = np.roll(points, -1, axis=0) - points
    angle = np.arctan2(step[:, 1], step[:, 0])
    return float(np.abs(np.angle(np.exp(1j * (np.roll(angle, -1) - angle)))).sum() / (2 * np.pi))


def test_the_compiled_loop_is_the_plain_one():
    rng = np.random.default_rng(5)
    x = np.linspace(0, 30, 300)
    points = np.stack([x, np.sin(x) + rng.normal(0, 0.1, 300)], axis=1)
    weight, stiff = np.ones(300), np.full(300, 400.0)
    weight[100:104], stiff[148:150] = 1e-3, 0.0
    given = {"points": points, "target": points, "band": np.full(300, 0.06), "weight": weight, "stiff": stiff}
    line = np.empty((300, 2))
    compiled.calm(**given, line=line, reach=4, rounds=8)
    np.testing.assert_allclose(line, oracle.calm(**given, reach=4, rounds=8), atol=1e-7)


def test_a_tremor_goes_and_the_oval_stays():
    samples, calm = calm_of(ring(height_mm=0.15), 0.6)
    assert turning(samples.points) > 2.0
    assert turning(calm.samples.points) < 1.01
    x, y = calm.samples.points.T
    np.testing.assert_allclose(np.hypot(x, y / 0.7), 20.0, atol=0.03)


def test_what_is_larger_than_the_smoothing_stays():
    waves = ring(height_mm=0.6, waves=8)
    _, calm = calm_of(waves, 0.3)
    r = np.hypot(calm.samples.points[:, 0], calm.samples.points[:, 1] / 0.7)
    assert r.max() - r.min() > 0.9 * 1.2


@pytest.mark.parametrize("smoothing_mm", [0.2, 0.45, 0.6, 2.0])
def test_the_line_stays_within_its_band_and_the_fit_within_the_smoothing(smoothing_mm):
    points = ring(6.0, 0.35, 14) + np.random.default_rng(1).normal(0, 0.03, (1200, 2))
    samples, calm = calm_of(points, smoothing_mm)
    away = shapely.distance(shapely.points(calm.samples.points), shapely.LinearRing(samples.points))
    # The tip of a corner may lie farther out, as one that was drawn.
    assert away.max() <= max(1.1 * BAND * smoothing_mm, 0.9 * FOLLOW_MM)
    assert fitted(points, smoothing_mm).error_mm <= smoothing_mm


def test_real_corners_stay_in_their_place_and_crumbs_make_none():
    corners = np.array([[0, 0], [30, 0], [30, 20], [15, 8], [0, 20]], float)
    rng = np.random.default_rng(3)
    drawn = polygon(corners)
    tremor = rng.normal(0, 0.2, (len(drawn) + 12, 2))
    drawn = drawn + np.stack([np.convolve(t, np.ones(13) / 13, "valid") for t in tremor.T], axis=1)
    for smoothing_mm in (0.45, 0.6):
        fit = fitted(drawn, smoothing_mm)
        sharp = fit.path.segments[~fit.path.smooth, 0]
        assert len(sharp) == 5
        for corner in corners:
            assert np.hypot(*(sharp - corner).T).min() < smoothing_mm


def test_a_rounded_tip_is_not_cut_to_a_point():
    turn = np.linspace(-np.pi / 2, np.pi / 2, 60)
    tip = np.stack([10 + 1.5 * np.cos(turn), 1.5 * np.sin(turn)], axis=1)
    straight = np.linspace(-10, 10, 200)[:-1]
    finger = np.concatenate(
        [
            np.stack([straight, np.full(199, -1.5)], axis=1),
            tip,
            np.stack([straight[::-1], np.full(199, 1.5)], axis=1),
        ]
    )
    fit = fitted(finger, 0.6)
    near = fit.path.segments[:, 0, 0] > 0
    assert fit.path.smooth[near].all()


def test_no_more_is_calmed_than_asked_for():
    _, calm = calm_of(ring(height_mm=0.1), FOLLOW_MM)
    _, more = calm_of(ring(height_mm=0.1), 1.001 * FOLLOW_MM)
    np.testing.assert_allclose(calm.samples.points, more.samples.points, atol=1e-6)


def test_bad_lines_are_calmed_into_no_spikes():
    dot = ring(0.2, 0.02, 9, 60)
    thin = np.concatenate([polygon([[0, 0], [20, 0]]), [[20, 0.05]], polygon([[20, 0.1], [0, 0.1]])])
    for points in (dot, thin, dot[:8]):
        for smoothing_mm in (0.151, 0.6, 5.0, 50.0):
            fit = fitted(points, smoothing_mm)
            assert fit.error_mm <= smoothing_mm
            reach = smoothing_mm + 1e-9
            assert (fit.path.segments[:, 0].min(axis=0) >= points.min(axis=0) - reach).all()
            assert (fit.path.segments[:, 0].max(axis=0) <= points.max(axis=0) + reach).all()
