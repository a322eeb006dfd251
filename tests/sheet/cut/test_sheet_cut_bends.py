"""How near cut lines come to the art, and how they bend, measured at many places of the finished cubics."""

import numpy as np
import pytest
import shapely

from helpers_cut_figures import FORMS, RADIUS_KEPT, SHAPES, kinks_deg, measured, slotted, the_cuts
from limner.geometry.cubics import evaluate
from limner.sheet.cut.cut_line import make_cut
from limner.sheet.settings import CutSettings

MOST_KINK_DEG = 0.01

# Nodes of every fifth cut by the fit before bends were held everywhere, measured once (2018 for all of them).
NODES_BEFORE_FIFTH = 466
MOST_NODES, MEAN_SPARE_MM = 1.15, 0.05


def check_cut(region, wanted):
    """Check distance and bends of the cut around a region."""
    found = measured(region, wanted)
    assert found.is_around
    assert found.spare_mm >= 0.0
    assert min(found.inner, found.outer) >= RADIUS_KEPT
    assert found.kink_deg <= MOST_KINK_DEG


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("distance_mm", [2.5, 0.5])
def test_a_cut_line_keeps_its_distance_and_its_radius_everywhere(name, distance_mm):
    check_cut(SHAPES[name](), CutSettings(distance_mm=distance_mm))


@pytest.mark.parametrize("forms", FORMS)
def test_every_form_keeps_its_distance_and_its_radius_everywhere(forms):
    for name in ("eel", "comb"):
        check_cut(SHAPES[name](), CutSettings(forms=forms))


def test_no_barb_stands_in_the_mouth_of_a_slot():
    """Where slots close at this distance, a cut line had a corner of 99 degrees."""
    for distance in (0.4, 0.5, 0.6):
        check_cut(slotted(), CutSettings(distance_mm=distance))


def test_a_cut_on_the_edge_of_the_art_is_smooth_and_cuts_nothing_off():
    for name in ("star", "moon"):
        region = SHAPES[name]()
        path = make_cut(region, CutSettings(distance_mm=0.0)).line.path
        points = evaluate(path.segments, np.linspace(0.0, 1.0, 100, endpoint=False)).reshape(-1, 2)
        assert shapely.Polygon(points).contains(region)
        assert kinks_deg(path.segments).max() <= MOST_KINK_DEG


@pytest.mark.slow
def test_a_fifth_of_the_cuts_keep_their_figures():
    """All of them: `python tests/benchmarks/cuts.py`."""
    found = [measured(shape(), wanted) for _, shape, wanted in list(the_cuts())[::5]]
    assert all(cut.is_around for cut in found)
    spares = [cut.spare_mm for cut in found]
    assert min(spares) >= 0.0
    assert np.mean(spares) <= MEAN_SPARE_MM
    assert min(min(cut.inner, cut.outer) for cut in found) >= RADIUS_KEPT
    assert max(cut.kink_deg for cut in found) <= MOST_KINK_DEG
    assert sum(cut.nodes for cut in found) <= MOST_NODES * NODES_BEFORE_FIFTH
