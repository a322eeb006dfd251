"""Nodes at extrema and inflections, as type designers set them (common practice, no source)."""

import numpy as np
import pytest

from helpers_curves import glyph, hausdorff, iso_lines, render
from limner.curves.fit import fitting
from limner.curves.fit.fitting import fit_path, fit_paths
from limner.curves.fit.polylines import Polyline
from limner.curves.search import extrema


def _egg(turn=0.0):
    angle = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    points = np.stack([40 * np.cos(angle) * (1 + 0.25 * np.sin(angle)), 55 * np.sin(angle)], axis=1)
    return points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])


def _off_axis_deg(path):
    """For each node that curves on both sides meet smoothly at: how far its direction is off the axes."""
    smooth = path.smooth & ~path.straight & ~np.roll(path.straight, 1)
    out = (path.segments[:, 1] - path.segments[:, 0])[smooth]
    angle = np.degrees(np.arctan2(out[:, 1], out[:, 0])) % 90.0
    return np.minimum(angle, 90.0 - angle)


def _as_the_data_want(lines):
    """Fits without the preference."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fitting, "set_at_extrema", lambda runs, fits: [None] * len(runs))
        return fit_paths(lines)


@pytest.mark.parametrize(
    ("tolerance", "turn", "at_extrema"),
    [(0.05, 0.0, 3), (0.3, 0.0, 3), (0.3, 0.2, 3), (0.3, 0.4, 3), (0.3, 1.1, 3)],
)
def test_an_egg_has_its_nodes_at_extrema(tolerance, turn, at_extrema):
    line = Polyline(_egg(turn), np.full(600, tolerance), True)
    (fit,), (free,) = fit_paths([line]), _as_the_data_want([line])
    assert len(fit.path.segments) == len(free.path.segments)
    assert (_off_axis_deg(fit.path) < 0.01).sum() >= at_extrema
    assert fit.error_mm <= tolerance
    assert hausdorff(fit.path, line.points) <= fit.error_mm * 1.01 + 1e-6


def test_a_wave_has_its_nodes_at_its_crests():
    x = np.linspace(0, 60, 500)
    points = np.stack([x, 12 * np.sin(x * np.pi / 15 + 0.7)], axis=1)
    fit = fit_path(points, tolerance_mm=0.1, closed=False)
    assert np.allclose(_off_axis_deg(fit.path), 0.0, atol=0.01)
    # The crests of the sine itself.
    crests = (np.arange(4) * np.pi + np.pi / 2 - 0.7) * 15 / np.pi
    assert np.abs(fit.path.nodes[1:-1, 0, None] - crests).min(axis=1).max() < 0.2


def test_the_one_node_of_an_s_is_its_inflection():
    x = np.linspace(0, 60, 500)
    points = np.stack([x, 12 * np.sin(x * np.pi / 30)], axis=1)
    fit = fit_path(points, tolerance_mm=0.05, closed=False)
    assert len(fit.path.segments) == 2
    assert np.allclose(fit.path.segments[1, 0], [30.0, 0.0], atol=0.1)


@pytest.mark.parametrize("tolerance_px", [0.6, 1.0])
def test_letters_pay_nothing_for_nodes_at_extrema(tolerance_px):
    rings = [ring for letter in "SaeQ&g" for ring in iso_lines(render(glyph(letter), noise=0.02, seed=1))]
    lines = [Polyline(ring, np.full(len(ring), tolerance_px), True) for ring in rings]
    fits, free = fit_paths(lines), _as_the_data_want(lines)
    assert [len(fit.path.segments) for fit in fits] == [len(fit.path.segments) for fit in free]
    assert max(fit.error_mm for fit in fits) <= tolerance_px
    off, off_free = (np.concatenate([_off_axis_deg(fit.path) for fit in each]) for each in (fits, free))
    # Far above the one in some hundred that is there by chance.
    assert (off < 0.01).mean() > 0.4 > 0.1 > (off_free < 0.01).mean()


# A pentagon of which two neighbouring nodes are drawn to the same sample: between them would be a segment of
# no length.
MEETING = np.array([[0.3, 9.8], [5.0, 0.7], [8.1, 4.4], [9.0, 3.2], [8.0, 8.7]])


def test_nodes_that_would_meet_are_left_where_they_are():
    met, as_is = [], extrema._wish

    def seen(*arguments):
        wish = as_is(*arguments)
        met.append(wish is None)
        return wish

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(extrema, "_wish", seen)
        fit = fit_path(MEETING, tolerance_mm=0.1, closed=False)
    assert any(met)
    assert fit.error_mm <= 0.1
