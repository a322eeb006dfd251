"""Segments and time of the fit against its tolerance, and against the number of points."""

import time

import numpy as np
import pytest

from helpers_curves import glyph, iso_lines, render
from limner.curves.fit.fitting import fit_path, fit_paths
from limner.curves.fit.polylines import Polyline


def _lines(letters="aegnSR&"):
    return [line for letter in letters for line in iso_lines(render(glyph(letter), noise=0.02, seed=1))]


@pytest.mark.parametrize("tolerance_px", [0.5, 1.0, 2.0, 4.0])
def test_segments_and_time_against_tolerance(benchmark, tolerance_px):
    lines = [Polyline(line, np.full(len(line), tolerance_px), closed=True) for line in _lines()]
    fits = benchmark(fit_paths, lines)
    segments = sum(len(fit.path.segments) for fit in fits)
    benchmark.extra_info |= {"points": sum(len(line.points) for line in lines), "segments": segments}
    assert max(fit.error_mm for fit in fits) <= tolerance_px * 1.25


def test_a_coarser_tolerance_never_takes_more_segments():
    lines = _lines("aSg")
    counts = []
    for tolerance_px in (0.5, 1.0, 2.0, 4.0):
        fits = fit_paths([Polyline(line, np.full(len(line), tolerance_px), closed=True) for line in lines])
        counts.append(sum(len(fit.path.segments) for fit in fits))
    assert counts == sorted(counts, reverse=True)


def test_time_grows_no_faster_than_n_log_n():
    def seconds(count):
        x = np.linspace(0, count / 100, count)
        wave = np.stack([10 * x, 20 * np.sin(x) + 5 * np.sin(2.7 * x)], axis=1)
        best = np.inf
        for _ in range(2):
            start = time.process_time()
            fit_path(wave, tolerance_mm=0.3, closed=False, noise_mm=0.0)
            best = min(best, time.process_time() - start)
        return best

    small, large = 4_000, 32_000
    seconds(1_000)
    growth = seconds(large) / seconds(small)
    # Twice the bound of n log n: a machine that others use, too, cannot be timed more closely.
    assert growth <= 2.0 * (large * np.log(large)) / (small * np.log(small))
