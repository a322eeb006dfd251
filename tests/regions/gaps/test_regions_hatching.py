"""Hatching as hands draw it: its lines end where they like, and each loose end could be a gap's."""

import time

import numpy as np
import pytest

from helpers_regions import drawn, regions_of

# As much as the same page may take without loose ends, on a machine that others use.
MOST_SECONDS = 12.0


def hatched(seed):
    """74 lines each way, 16 px apart, that run up to 12 px over the outermost ones; 6 px wide."""
    rng = np.random.default_rng(seed)
    places = np.arange(20, 1181, 16.0)
    first, last = places[0], places[-1]
    lines = []
    for at in places:
        over = rng.uniform(4, 12, 4)
        lines.append([(at, first - over[0]), (at, last + over[1])])
        lines.append([(first - over[2], at), (last + over[3], at)])
    return drawn(lines, size=(1200, 1200), width=6)


def test_hatching_with_hundreds_of_loose_ends_takes_bounded_time():
    ink = hatched(1)
    start = time.process_time()
    regions = regions_of(ink)
    assert time.process_time() - start < MOST_SECONDS
    # Cells of 2.8 square line widths are one hatched area, out to the outermost lines.
    area = max(regions.areas, key=lambda area: area.area_mm2)
    assert area.area_mm2 == pytest.approx(115.2**2, rel=0.02)


def test_strokes_that_enclose_nothing_take_bounded_time():
    """A coat of 900 short strokes: 1,800 loose ends near one another."""
    rng = np.random.default_rng(2)
    roots = rng.uniform(60, 1140, (900, 2))
    hairs = roots + rng.normal(0, 4, (900, 2)) + [0, 28]
    ink = drawn(np.stack([roots, hairs], axis=1), size=(1200, 1200), width=4)
    start = time.process_time()
    regions = regions_of(ink)
    assert time.process_time() - start < MOST_SECONDS
    assert len(regions.ink) > 100
