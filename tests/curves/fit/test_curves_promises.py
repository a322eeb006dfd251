"""Promises of every fit: an honest error, exact ends, G1, and no dependence on how the data lie."""

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from helpers_curves import hausdorff
from limner.curves.fit.fitting import fit_path, fit_paths
from limner.curves.fit.polylines import Polyline
from limner.errors import GeometryError
from limner.geometry.cubics import signed_area


def _blob(seed, waves=5, count=600, size=50.0):
    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    radius = size + sum(
        rng.normal() * 0.2 * size / (k + 1) * np.cos(k * angle + rng.uniform(0, 6)) for k in range(1, waves)
    )
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


def _turned(points, angle):
    return points @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def _polygon_area(points):
    following = np.roll(points, -1, axis=0)
    return float((points[:, 0] * following[:, 1] - points[:, 1] * following[:, 0]).sum() / 2)


CROSSED = [
    (3.0, 2.0), (-1.0, 0.0), (-2.0, 3.0), (-5.0, -5.0), (-2.0, 2.0), (3.0, 0.0), (3.0, 1.0), (-5.0,
    1.0), (0.0, 2.0), (-2.0, -2.0), (4.0, -5.0), (3.0, -1.0), (0.0, -5.0), (0.0, 3.0), (4.0, -1.0),
    (-2.0, 3.0), (2.0, 4.0), (2.0, -4.0), (-1.0, -1.0), (1.0, -1.0), (3.0, -5.0), (-3.0, 3.0), (2.0,
    2.0), (-1.0, -5.0), (0.0, -5.0), (-1.0, -2.0), (-2.0, -3.0), (2.0, -1.0), (-2.0, 4.0), (-4.0,
    0.0), (2.0, 0.0), (-2.0, -1.0), (0.0, 3.0), (4.0, 2.0),
]  # fmt: skip

quick = settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@quick
@given(seed=st.integers(0, 10_000), tolerance=st.floats(0.02, 3.0), closed=st.booleans())
def test_the_stated_error_is_confirmed_and_within_the_tolerance(seed, tolerance, closed):
    points = _blob(seed)[: None if closed else 400]
    fit = fit_path(points, tolerance_mm=tolerance, closed=closed)
    measured = hausdorff(fit.path, points)
    assert fit.error_mm <= tolerance * (1 + 1e-6)
    assert measured <= fit.error_mm * 1.01 + 1e-6
    assert fit.error_mm <= measured * 1.1 + 1e-6


@quick
# Lines that run back on themselves: their sides meet nowhere.
@example([(0.0, 2.0), (0.0, 37.0), (0.0, 0.0), (0.0, 1.0)], 0.5, False)
@example([(0.0, 22.0), (0.0, -25.0), (0.0, 40.0), (0.0, 11.25), (0.0, 35.25)], 0.05078125, False)
# A long chord between others: the path is farthest off at a third of it.
@example(CROSSED, 0.3, True)
@given(
    st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=4, max_size=14, unique=True),
    st.floats(0.05, 5.0),
    st.booleans(),
)
def test_any_polyline_at_all_is_held(points, tolerance, closed):
    points = np.asarray(points)
    fit = fit_path(points, tolerance_mm=tolerance, closed=closed, noise_mm=0.0)
    true = hausdorff(fit.path, points)
    assert true <= tolerance * 1.01
    assert fit.error_mm == pytest.approx(true, rel=0.05, abs=0.01 * tolerance)
    if not closed:
        assert np.array_equal(fit.path.segments[0, 0], points[0])
        assert np.array_equal(fit.path.segments[-1, 3], points[-1])


@pytest.mark.parametrize("seed", range(6))
def test_direction_and_start_change_nothing(seed):
    points = _blob(seed)
    fit = fit_path(points, tolerance_mm=0.3, closed=True)
    other = fit_path(np.roll(points[::-1], 123, axis=0), tolerance_mm=0.3, closed=True)
    assert len(fit.path.segments) == len(other.path.segments)
    assert np.allclose(np.sort(fit.path.nodes, axis=0), np.sort(other.path.nodes, axis=0), atol=1e-9)
    part = points[:400]
    there, back = (fit_path(p, tolerance_mm=0.3, closed=False) for p in (part, part[::-1]))
    assert np.array_equal(there.path.segments, back.path.segments[::-1, ::-1])


def test_rotation_and_scale_keep_the_count_within_three_per_cent():
    blobs = [_blob(seed) for seed in range(24)]

    def total(turn, scale):
        lines = [Polyline(_turned(b, turn) * scale, np.full(len(b), 0.3 * scale), True) for b in blobs]
        return sum(len(fit.path.segments) for fit in fit_paths(lines))

    plain = total(0.0, 1.0)
    for turn, scale in ((0.4, 1.0), (1.3, 1.0), (0.0, 0.01), (2.2, 250.0)):
        assert total(turn, scale) == pytest.approx(plain, rel=0.03)


@pytest.mark.parametrize("seed", range(8))
def test_smooth_nodes_are_smooth_and_the_area_is_kept(seed):
    points = _blob(seed)
    fit = fit_path(points, tolerance_mm=0.2, closed=True)
    segments = fit.path.segments
    into = segments[:, 3] - segments[:, 2]
    out = np.roll(segments[:, 1] - segments[:, 0], -1, axis=0)
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, (into * out).sum(axis=1))))
    assert fit.path.smooth.any()
    assert turn[np.roll(fit.path.smooth, -1)].max() < 0.5
    assert signed_area(fit.path) == pytest.approx(_polygon_area(points), rel=0.001)


def test_noise_below_the_tolerance_costs_no_nodes():
    rng = np.random.default_rng(9)
    clean = fit_paths([Polyline(_blob(k), np.full(600, 0.5), True) for k in range(10)])
    noisy = fit_paths(
        [Polyline(_blob(k) + rng.normal(0, 0.06, (600, 2)), np.full(600, 0.5), True) for k in range(10)]
    )
    count = [sum(len(fit.path.segments) for fit in fits) for fits in (clean, noisy)]
    assert count[1] <= 1.1 * count[0]


def test_a_change_of_tolerance_gets_a_smooth_node():
    x = np.linspace(0, 100, 800)
    points = np.stack([x, 10 * np.sin(x / 8)], axis=1)
    tolerance = np.where(x < 50, 1.0, 0.02)
    fit = fit_path(points, tolerance_mm=tolerance, closed=False)
    away = np.hypot(*(fit.path.nodes - points[np.argmax(x >= 50)]).T)
    k = int(away.argmin())
    assert away[k] < 1.0
    assert fit.path.smooth[k]
    fine = points[x >= 50.5]
    assert hausdorff_one_way(fine, fit) <= 0.021
    assert (fit.path.nodes[:, 0] > 51).sum() > (fit.path.nodes[:, 0] < 49).sum()


def hausdorff_one_way(points, fit):
    import shapely

    from limner.geometry.cubics import evaluate

    line = shapely.LineString(evaluate(fit.path.segments, np.linspace(0, 1, 200)).reshape(-1, 2))
    return float(shapely.distance(shapely.points(points), line).max())


def test_given_tangents_are_met():
    x = np.linspace(0, 40, 300)
    points = np.stack([x, 0.02 * x**2], axis=1)
    start, end = (np.cos(0.1), np.sin(0.1)), (np.cos(1.0), np.sin(1.0))
    fit = fit_path(points, tolerance_mm=0.5, closed=False, start_tangent=start, end_tangent=end)
    first = fit.path.segments[0, 1] - fit.path.segments[0, 0]
    last = fit.path.segments[-1, 3] - fit.path.segments[-1, 2]
    assert np.arctan2(first[1], first[0]) == pytest.approx(0.1, abs=1e-6)
    assert np.arctan2(last[1], last[0]) == pytest.approx(1.0, abs=1e-6)
    assert fit.error_mm <= 0.5


def test_the_same_input_gives_the_same_bytes():
    lines = [Polyline(_blob(k), np.full(600, 0.2), True) for k in range(5)]
    first = [fit.path.segments.tobytes() for fit in fit_paths(lines)]
    assert first == [fit.path.segments.tobytes() for fit in fit_paths(lines)]
    # ... and a line's fit does not depend on which others are fitted with it.
    alone = fit_paths(lines[2:3])[0]
    assert np.allclose(alone.path.segments, np.frombuffer(first[2]).reshape(-1, 4, 2), atol=1e-9)


def test_bad_input_is_refused_in_one_sentence():
    with pytest.raises(GeometryError, match="finite"):
        fit_path([[0, 0], [np.nan, 1], [2, 2]], tolerance_mm=0.1, closed=False)
    with pytest.raises(GeometryError, match="above zero"):
        fit_path([[0, 0], [1, 1], [2, 0]], tolerance_mm=0.0, closed=False)
