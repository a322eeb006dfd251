"""The compiled loops against the same steps by NumPy, and against damaged arguments."""

import hashlib
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from limner.curves.fit import error as measure
from limner.curves.fit.fitting import Polyline, fit_paths
from limner.curves.kernels import compiled
from limner.curves.plan import single_cubics as spans
from limner.curves.refine import paths as feet
from limner.curves.refine import polish as polishing
from limner.curves.refine.paths import Data, Nodes, controls, distances, follow_feet, subset
from limner.curves.refine.polish import polish
from limner.geometry.cubics import evaluate

pytestmark = pytest.mark.skipif(compiled is None, reason="limner was installed without its compiled loops")

MODULES = (feet, measure, polishing, spans)


def by_numpy(call, *arguments, **settings):
    with pytest.MonkeyPatch.context() as patch:
        for module in MODULES:
            patch.setattr(module, "compiled", None)
        return call(*arguments, **settings)


def wave(count=900, noise=0.0, seed=1):
    x = np.linspace(0, 40, count)
    rng = np.random.default_rng(seed)
    return np.stack([x, 3 * np.sin(x) + 0.02 * x**2], axis=1) + rng.normal(0, noise, (count, 2))


def paths(seed=2):
    """An open path with a straight segment and a held end, a closed one, one segment alone, two segments that
    share both nodes, and data near all of them."""
    rng = np.random.default_rng(seed)
    sizes, rings = [4, 5, 1, 2], [False, True, False, True]
    start, end, before, after, path, smooth, places, first = [], [], [], [], [], [], [], 0
    for k, (size, ring) in enumerate(zip(sizes, rings, strict=True)):
        count, base = size if ring else size + 1, len(start)
        for i in range(size):
            start.append(first + i)
            end.append(first + (i + 1) % count)
            before.append(base + (i - 1) % size if ring or i else -1)
            after.append(base + (i + 1) % size if ring or i < size - 1 else -1)
            path.append(k)
        smooth += [ring or 0 < i < size for i in range(count)]
        turn = np.linspace(0, 2 * np.pi, count, endpoint=False) if ring else np.linspace(0, 3, count)
        places.append(10 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
        first += count
    place, smooth = np.concatenate(places), np.array(smooth)
    turn = np.arctan2(place[:, 1], place[:, 0]) + np.pi / 2
    angle = np.repeat(turn[:, None], 2, axis=1)
    straight = np.zeros(len(start), bool)
    straight[1] = True
    held = np.zeros((first, 2), bool)
    held[0, 1] = True
    chord = np.hypot(*(place[np.array(end)] - place[np.array(start)]).T)
    handle = np.zeros((first, 2))
    handle[np.array(start), 1] = handle[np.array(end), 0] = chord / 2.5
    nodes = Nodes(
        place, angle, handle, smooth, ~smooth, held, np.array(start), np.array(end), straight,
        np.array(before), np.array(after), np.array(path),
    )  # fmt: skip
    t = np.tile(np.linspace(0, 1, 30), len(start))
    points = evaluate(controls(nodes), np.linspace(0, 1, 30)).reshape(-1, 2)
    points = points * (1.0 + 0.05 * np.sin(3 * np.arctan2(points[:, 1], points[:, 0])))[:, None]
    points += rng.normal(0, 0.01, points.shape)
    return nodes, Data(points, np.full(len(t), 0.05), np.repeat(np.arange(len(start)), 30), t)


def cost(nodes, data):
    away = distances(controls(nodes), data)[2] / data.tolerance
    return np.bincount(nodes.path[data.segment], away**2)


def test_spans_are_fitted_alike():
    points, tolerance = wave(), np.full(900, 0.02)
    first = np.repeat(np.arange(0, 700, 10), 3)
    last = first + np.tile([8, 40, 150], 70)
    assert np.allclose(spans.fit_spans(points, first, last), by_numpy(spans.fit_spans, points, first, last))
    found = spans.span_errors(points, tolerance, first, last)
    wanted = by_numpy(spans.span_errors, points, tolerance, first, last)
    between = (wanted > spans.SURELY_MET) & (wanted < spans.SURELY_NOT)
    assert between.sum() > 20
    assert np.allclose(found[between], wanted[between], rtol=1e-6)
    assert ((found < spans.SURELY_MET) == (wanted < spans.SURELY_MET)).all()
    assert ((found > spans.SURELY_NOT) == (wanted > spans.SURELY_NOT)).all()


def test_feet_are_followed_alike_across_nodes():
    nodes, data = paths()
    away = Data(data.points, data.tolerance, data.segment, np.clip(data.t + 0.35, 0, 1))
    found = follow_feet(controls(nodes), nodes, away, steps=4)
    wanted = by_numpy(follow_feet, controls(nodes), nodes, away, steps=4)
    assert (found.segment != data.segment).any()
    assert np.array_equal(found.segment, wanted.segment)
    assert np.allclose(found.t, wanted.t)
    for ours, theirs in zip(
        distances(controls(nodes), found), by_numpy(distances, controls(nodes), found), strict=True
    ):
        assert np.allclose(ours, theirs)


@pytest.mark.parametrize("sharp", [False, True])
def test_one_step_of_the_polish_is_the_same(sharp):
    nodes, data = paths()
    found, near = polish(nodes, data, steps=1, sharp=sharp)
    wanted, near_too = by_numpy(polish, nodes, data, steps=1, sharp=sharp)
    assert (cost(found, near) < cost(nodes, data)).all()
    for name in ("place", "angle", "handle"):
        assert np.allclose(getattr(found, name), getattr(wanted, name), rtol=1e-7, atol=1e-9)
    assert np.allclose(near.segment + near.t, near_too.segment + near_too.t, atol=1e-7)
    assert np.array_equal(found.place[nodes.fixed], nodes.place[nodes.fixed])
    assert found.angle[0, 1] == nodes.angle[0, 1]


@pytest.mark.parametrize("sharp", [False, True])
def test_the_polish_ends_as_low(sharp):
    nodes, data = paths()
    found, wanted = (
        polish(nodes, data, steps=12, sharp=sharp),
        by_numpy(polish, nodes, data, steps=12, sharp=sharp),
    )
    # Each path stops by itself; with NumPy some go on as long as others do.
    assert np.allclose(cost(*found), cost(*wanted), rtol=0.02)


def test_a_path_comes_out_the_same_in_any_company():
    nodes, data = paths()
    together, feet_of = polish(nodes, data, steps=6)
    for k in range(4):
        part, some, at, samples = subset(nodes, data, np.arange(4) == k)
        alone, near = polish(part, some, steps=6)
        assert np.array_equal(alone.place, together.place[at])
        assert np.array_equal(near.t, feet_of.t[samples])


@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_whole_fits_need_as_many_segments(noise):
    lines = [
        Polyline(wave(noise=noise, seed=seed) + seed, np.full(900, 0.05), closed=False) for seed in range(12)
    ]
    found, wanted = fit_paths(lines), by_numpy(fit_paths, lines)
    ours, theirs = (sum(len(fit.path.segments) for fit in fits) for fits in (found, wanted))
    assert abs(ours - theirs) <= 0.03 * theirs
    assert max(fit.error_mm for fit in found) <= 0.05 * 1.25


def test_what_does_not_fit_together_is_refused():
    points, two = wave(), np.array([0, 1])
    even, inner, out = spans._EVEN, spans._INNER, np.empty((2, 4, 2))
    with pytest.raises(IndexError, match="outside"):
        compiled.fit_spans(points, two, np.array([5, 900]), even, inner, out, 3)
    with pytest.raises(IndexError, match="outside"):
        compiled.fit_spans(points, np.array([-1, 0]), np.array([5, 9]), even, inner, out, 3)
    with pytest.raises(ValueError, match="bytes"):
        compiled.fit_spans(points, two, two + 5, even[:-1].copy(), inner, out, 3)
    with pytest.raises(ValueError, match="bytes"):
        compiled.fit_spans(points, two, two + 5, even, inner, out[:1].copy(), 3)
    with pytest.raises(TypeError, match="arguments"):
        compiled.fit_spans(points, two)
    with pytest.raises((ValueError, BufferError)):
        compiled.fit_spans(points[:, ::-1], two, two + 5, even, inner, out, 3)
    out.flags.writeable = False
    with pytest.raises((ValueError, BufferError)):
        compiled.fit_spans(points, two, two + 5, even, inner, out, 3)


def test_samples_that_lie_mixed_are_refused():
    nodes, data = paths()
    mixed = np.roll(np.arange(len(data.t)), 40)
    with pytest.raises(ValueError, match="follow each other"):
        polish(nodes, Data(*(getattr(data, name)[mixed] for name in data.__slots__)), steps=1)


def test_a_path_without_segments_is_refused():
    curves, one, none = np.zeros((1, 4, 2)), np.zeros(1), np.array([0, 0])
    with pytest.raises(ValueError, match="no segment"):
        compiled.nearest(curves, none, np.zeros(1, bool), np.array([0]), one, one, one.copy(), one.copy(), 2)


def test_what_is_no_number_does_no_harm():
    points = wave()
    points[30:50] = np.nan
    first = np.arange(0, 80, 8)
    errors = spans.span_errors(points, np.full(900, 0.02), first, first + 60)
    assert np.isnan(errors[:5]).all()
    best, u = np.full(1, np.inf), np.full(1, np.nan)
    curves = np.zeros((1, 4, 2))
    compiled.nearest(
        curves, np.array([0, 1]), np.zeros(1, bool), np.array([0]), np.ones(1), np.ones(1), u, best, 3
    )
    assert best[0] == pytest.approx(2.0)


def test_the_module_is_made_from_these_sources():
    sources = sorted((Path(spans.__file__).parents[1] / "kernels").glob("*.[ch]"))
    if not sources:
        pytest.skip("limner is installed from an archive, which has no sources of its loops")
    digest = hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()
    assert compiled.source_digest == digest, "install limner again: its compiled loops are of older sources"


def test_without_the_module_limner_computes_by_numpy():
    code = (
        "import sys; sys.modules['limner.curves.kernels._compiled'] = None\n"
        "import numpy as np\n"
        "from limner.curves.kernels import compiled\n"
        "from limner.curves.fit.fitting import fit_path\n"
        "angle = np.linspace(0, 3, 400)\n"
        "points = 10 * np.stack([np.cos(angle), np.sin(angle)], axis=1)\n"
        "fit = fit_path(points, tolerance_mm=0.01, closed=False)\n"
        "assert compiled is None and fit.error_mm <= 0.01\n"
        "print(len(fit.path.segments))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) <= 3
