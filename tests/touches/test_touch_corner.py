"""Corners made and taken. Thresholds are the project's own aims."""

import numpy as np
import pytest

from helpers_regions import circle, drawn, regions_of
from limner.curves.drawing import trace_curves
from limner.curves.settings import CurveSettings
from limner.errors import GeometryError
from limner.geometry.cubics import flatten
from limner.model.touch import Pull
from limner.touches import mark_corner, pull_map

SMOOTHING = CurveSettings(smoothing_mm=0.16)


def polygon(count, seed):
    """Corners, in pixels, of a polygon about (200, 200)."""
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 0.5, count) + np.arange(count)) / count * 2 * np.pi
    return 200 + 120 * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def ring(corners):
    return drawn([np.concatenate([corners, corners[:1]])])


def turns(path):
    """Nodes of a closed path, and by how many degrees it turns in each."""
    segments = path.segments
    out, into = segments[:, 1] - segments[:, 0], np.roll(segments[:, 3] - segments[:, 2], 1, axis=0)
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    return segments[:, 0], np.degrees(np.abs(np.arctan2(cross, (into * out).sum(axis=1))))


def paths(drawing):
    return [path for shape in drawing.shapes for path in shape.paths]


@pytest.mark.parametrize("count", [3, 4, 5, 6, 7])
@pytest.mark.parametrize("seed", [0, 1])
def test_a_smoothed_corner_is_none(count, seed):
    corners, rng = polygon(count, seed), np.random.default_rng(seed)
    regions = regions_of(ring(corners))
    for corner in corners / 10:
        # Off it by a quarter of a line's width.
        regions = mark_corner(regions, tuple(corner + rng.normal(0.0, 0.2, 2)), sharp=False)
    for path in paths(trace_curves(regions, SMOOTHING)):
        assert path.smooth.all()
        assert turns(path)[1].max() < 0.1
        # It still goes there, but for a line width, and at an acute corner the length of its ink's tip.
        for corner in corners / 10:
            assert np.hypot(*(flatten(path, 0.01) - corner).T).min() < 2.0


@pytest.mark.parametrize("radius", [30, 60, 120, 170])
def test_a_circle_gets_one_corner(radius):
    regions = regions_of(drawn([circle(200, 200, radius)]))
    there = (20 + radius / 10 * np.cos(1.0), 20 + radius / 10 * np.sin(1.0) + 0.1)
    drawing = trace_curves(mark_corner(regions, there, sharp=True), SMOOTHING)
    for path in paths(drawing):
        at, turn = turns(path)
        assert int((~path.smooth).sum()) == 1
        assert int((turn > 5.0).sum()) == 1
        assert np.hypot(*(at[turn.argmax()] - there)) < 1.0
    assert drawing.error_mm <= 0.16


def test_a_mark_changes_the_fit_around_it_and_nothing_else():
    corners = polygon(5, 0)
    regions = regions_of(drawn([np.concatenate([corners, corners[:1]]), corners[[0, 2]]]))
    plain = trace_curves(regions, SMOOTHING)
    marked = trace_curves(mark_corner(regions, tuple(corners[1] / 10), sharp=False), SMOOTHING)
    for before, after in zip(paths(plain), paths(marked), strict=True):
        far = np.hypot(*(before.segments - corners[1] / 10).transpose(2, 0, 1)).min(axis=1) > 6.0
        kept = {segment.tobytes() for segment in after.segments}
        assert {segment.tobytes() for segment in before.segments[far]} <= kept


def test_neighbours_share_a_marked_edge():
    regions = regions_of(drawn([circle(200, 200, 120), [(80, 200), (200, 200), (320, 200)]]))
    drawing = trace_curves(mark_corner(regions, (20.0, 20.0), sharp=True), SMOOTHING)
    one, other = (shape.paths[0] for shape in drawing.fills if shape.role == "area")
    shared = {tuple(node) for node in one.nodes.tolist()} & {tuple(node) for node in other.nodes.tolist()}
    assert (20.0, 20.0) in {(round(x, 0), round(y, 0)) for x, y in shared}
    assert len(shared) == 3


def test_lines_of_an_even_width_lose_a_smoothed_corner():
    corners = polygon(5, 0)
    regions, even = regions_of(ring(corners)), CurveSettings(smoothing_mm=0.16, lines="even")
    for corner in corners / 10:
        regions = mark_corner(regions, tuple(corner), sharp=False)
    (line,) = trace_curves(regions, even).lines
    assert all(path.smooth.all() for path in line.paths)


@pytest.mark.parametrize(("sharp", "smooth_ends"), [(False, 2), (True, 0)])
def test_where_lines_meet_the_mark_says_who_runs_on(sharp, smooth_ends):
    # The halves of a circle that a line parts run on past it; a line does so where they are told not to.
    regions = regions_of(drawn([circle(200, 200, 120), [(80, 200), (320, 200)]]))
    for x in (8.0, 32.0):
        regions = mark_corner(regions, (x, 20.0), sharp=sharp)
    (silhouette,) = [shape for shape in trace_curves(regions, SMOOTHING).fills if shape.role == "silhouette"]
    (path,) = silhouette.paths
    at, _ = turns(path)
    ends = [np.hypot(*(at - (x, 20.0)).T).argmin() for x in (8.0, 32.0)]
    assert int(path.smooth[ends].sum()) == smooth_ends


def test_the_later_mark_counts():
    regions = regions_of(drawn([circle(200, 200, 120)]))
    there = (32.0, 20.0)
    again = mark_corner(mark_corner(regions, there, sharp=True), there, sharp=False)
    assert all(path.smooth.all() for path in paths(trace_curves(again, SMOOTHING)))
    assert not any(mark.sharp for mark in again.marks)


def test_a_pulled_corner_stays_one():
    regions = mark_corner(regions_of(drawn([circle(200, 200, 120)])), (32.0, 20.0), sharp=True)
    pulled = pull_map(regions, Pull((32.0, 20.0), (34.0, 20.0), 8.0))
    for path in paths(trace_curves(pulled, SMOOTHING)):
        at, turn = turns(path)
        assert int((~path.smooth).sum()) == 1
        assert np.hypot(*(at[turn.argmax()] - (34.0, 20.0))) < 1.0


def test_a_corner_far_from_every_line_is_refused():
    regions = regions_of(drawn([circle(200, 200, 120)]))
    with pytest.raises(GeometryError, match=r"lies on no outline: the nearest one is 11\.\d+ mm away"):
        mark_corner(regions, (20.0, 20.0), sharp=True)
