"""The inner loops of the fit against what they stand for: best chains, errors of spans and of whole paths."""

import itertools

import numpy as np
import pytest
import shapely

from limner.curves.fit.error import Course, two_way_errors
from limner.curves.plan.best_chains import best_chains
from limner.curves.plan.single_cubics import fit_spans, span_errors
from limner.curves.refine.paths import Nodes
from limner.geometry.cubics import evaluate


def _nodes(sizes, rings, seed=0):
    """Random paths of so many segments each, some of them closed."""
    rng = np.random.default_rng(seed)
    start, end, before, after, path, smooth, places, first = [], [], [], [], [], [], [], 0
    for k, (size, ring) in enumerate(zip(sizes, rings, strict=True)):
        count = size if ring else size + 1
        base, local = len(start), np.arange(size)
        start += list(first + local)
        end += list(first + (local + 1) % count)
        before += [base + (i - 1) % size if ring or i else -1 for i in local]
        after += [base + (i + 1) % size if ring or i < size - 1 else -1 for i in local]
        path += [k] * size
        smooth += [ring or 0 < i < size for i in range(count)]
        turn = np.linspace(0, 2 * np.pi, count, endpoint=False) if ring else np.linspace(0, 3, count)
        places.append(10 * np.stack([np.cos(turn), np.sin(turn)], axis=1) + rng.normal(0, 0.3, (count, 2)))
        first += count
    smooth = np.array(smooth)
    angle = np.repeat(rng.uniform(-3, 3, (first, 1)), 2, axis=1)
    nodes = Nodes(
        np.concatenate(places), angle, rng.uniform(1, 3, (first, 2)), smooth, ~smooth,
        np.zeros((first, 2), bool), np.array(start), np.array(end), np.zeros(len(start), bool),
        np.array(before), np.array(after), np.array(path),
    )  # fmt: skip
    return nodes, rng


def test_chains_are_the_best_of_all():
    rng = np.random.default_rng(3)
    runs = []
    for count in (4, 6, 7, 9):
        spans = np.full((count, count), np.inf)
        for length in range(1, count):
            spans[length, : count - length] = rng.uniform(0.2, 0.5, count - length) * length**1.5
        runs.append(spans)
    seen = []
    for chains, rows in best_chains(runs):
        for row, k in enumerate(rows):
            seen.append(k)
            spans, last = runs[k], runs[k].shape[1] - 1
            for number, error in chains.error[row].items():
                found = chains.of(row, number)
                cost = (spans[np.diff(found), found[:-1]] ** 6).sum()
                every = (
                    np.array([0, *mid, last]) for mid in itertools.combinations(range(1, last), number - 1)
                )
                assert cost == pytest.approx(min((spans[np.diff(c), c[:-1]] ** 6).sum() for c in every))
                assert error == pytest.approx(spans[np.diff(found), found[:-1]].max())
    assert sorted(seen) == [0, 1, 2, 3]


def test_the_errors_of_spans_are_those_of_their_cubics():
    x = np.linspace(0, 30, 4000)
    points = np.stack([x, 3 * np.sin(x)], axis=1)
    first = np.repeat(np.arange(0, 3000, 200), 3)
    last = first + np.tile([100, 300, 600], 15)
    tolerance = 0.02
    cubics = fit_spans(points, first, last)
    errors = span_errors(points, np.full(4000, tolerance), first, last) * tolerance
    assert (errors > 0.2 * tolerance).sum() > 10
    for cubic, a, b, error in zip(cubics, first, last, errors, strict=True):
        line = shapely.LineString(evaluate(cubic[None], np.linspace(0, 1, 2000))[0])
        true = shapely.distance(shapely.points(points[a : b + 1]), line).max()
        # Spans that are clearly met are not fitted to the end: their error is an upper bound.
        assert error == pytest.approx(true, rel=0.1) or max(error, true) < 0.1 * tolerance


@pytest.mark.parametrize("closed", [False, True])
def test_the_measured_error_is_that_of_dense_sampling(closed):
    rng = np.random.default_rng(5)
    courses, true = [], []
    for _ in range(8):
        nodes, _ = _nodes([5], [closed], seed=int(rng.integers(1000)))
        angle = np.linspace(0, 2 * np.pi if closed else 3, 300, endpoint=not closed)
        points = 10 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        points += rng.normal(0, 0.02, points.shape)
        place = nodes.place - rng.normal(0, 0.3, nodes.place.shape)
        segments = np.stack([place[nodes.start], place[nodes.end]], axis=1) @ np.eye(2)
        a, b = segments[:, 0], segments[:, 1]
        segments = np.stack([a, a + (b - a) / 3 + rng.normal(0, 0.2, a.shape), b - (b - a) / 3, b], axis=1)
        ring = np.concatenate([points, points[:1]]) if closed else points
        courses.append(Course(segments, closed, points, 0.1))
        curve = shapely.LineString(evaluate(segments, np.linspace(0, 1, 501)).reshape(-1, 2))
        data = shapely.LineString(ring)
        there = shapely.distance(
            shapely.points(shapely.get_coordinates(shapely.segmentize(data, 0.05))), curve
        )
        back = shapely.distance(shapely.points(shapely.get_coordinates(curve)), data)
        true.append(max(there.max(), back.max()))
    found = [max(f.max(), b.max()) for f, b in two_way_errors(courses)]
    # Every second place along a chord is looked at, and 64 along a segment.
    assert np.allclose(found, true, rtol=0.01)
    assert (np.array(found) >= np.array(true) * 0.99).all()
