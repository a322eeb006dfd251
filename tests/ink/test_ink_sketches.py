"""Real drawings (openly licensed, kept beside the repository): what must be ink there, and what must not.

The places were read off the photographs by eye, as fractions of the page's width and height.
"""

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from limner.capture.load import load_photo
from limner.capture.page import flatten_page
from limner.capture.settings import CaptureSettings
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings
from limner.model.raster import InkMap

SKETCHES = Path(__file__).parents[3] / "shared" / "sketches"

pytestmark = pytest.mark.skipif(
    not SKETCHES.is_dir(), reason="the folder of real sketches is not beside this repository"
)

RULED = "p06_dino_ruled_paper_photo.jpg"
GRAPHITE = "p05_hugging_dino_pencil_photo.jpg"
PAINTED = "p08_candy_corn_coloured_photo_lowres.png"
BALLPEN = "p01_garlic_face_photo.png"
PINK = "p04_pig_pink_pencil_photo.png"
BLACK = "s08_rhinoceros_ink_cream_paper.png"


@lru_cache(maxsize=6)
def ink(name: str) -> InkMap:
    return extract_ink(flatten_page(load_photo(SKETCHES / name), CaptureSettings()), InkSettings())


def box(values: np.ndarray, x: float, y: float, width: float, height: float) -> np.ndarray:
    rows, columns = values.shape
    part = values[
        round(y * rows) : round((y + height) * rows), round(x * columns) : round((x + width) * columns)
    ]
    assert part.size
    return part


@pytest.mark.parametrize(
    ("name", "bare"),
    [
        (RULED, (0.0, 0.0, 1.0, 0.17)),  # printed lines above the drawing
        (RULED, (0.0, 0.9, 1.0, 0.1)),  # and below it
        (RULED, (0.85, 0.0, 0.15, 1.0)),
        (GRAPHITE, (0.0, 0.0, 1.0, 0.18)),  # fall of light
        (GRAPHITE, (0.0, 0.88, 1.0, 0.12)),  # erased marks under the feet
        (GRAPHITE, (0.75, 0.46, 0.25, 0.08)),  # erased writing
        (PAINTED, (0.48, 0.2, 0.1, 0.2)),  # yellow crayon
        (BALLPEN, (0.0, 0.0, 0.15, 0.25)),  # table, curled edge
        (BALLPEN, (0.0, 0.8, 1.0, 0.2)),  # cast shadow, torn edge
        (PINK, (0.0, 0.0, 1.0, 0.33)),
        (BLACK, (0.02, 0.1, 0.15, 0.2)),
    ],
)
def test_what_is_not_drawn_holds_no_ink(name, bare):
    assert box(ink(name).coverage, *bare).max() == 0.0


@pytest.mark.parametrize(
    ("name", "filled"),
    [
        (PAINTED, (0.34, 0.55, 0.02, 0.02)),  # an eye, beside its highlight
        (PAINTED, (0.606, 0.53, 0.03, 0.03)),
        (BALLPEN, (0.52, 0.538, 0.02, 0.006)),  # the mouth
        (BLACK, (0.79, 0.46, 0.02, 0.02)),  # the rhinoceros
        (BLACK, (0.93, 0.62, 0.05, 0.1)),
    ],
)
def test_solid_blacks_are_filled(name, filled):
    found = ink(name)
    assert box(found.coverage, *filled).min() >= 0.5
    assert box(found.solid, *filled).mean() >= 0.95


def crossings(name: str, x: float, y0: float, y1: float) -> int:
    """Runs of ink met going down from y0 to y1 at x."""
    mask = ink(name).mask
    column = mask[round(y0 * mask.shape[0]) : round(y1 * mask.shape[0]), round(x * mask.shape[1])]
    return int((np.diff(column.astype(np.int8), prepend=0) == 1).sum())


@pytest.mark.parametrize(
    ("name", "x", "y0", "y1", "runs"),
    [
        (RULED, 0.17, 0.35, 0.55, 3),  # snout, mouth, jaw: the printed line through them is gone
        (RULED, 0.7, 0.5, 0.75, 2),  # the tail
        (PINK, 0.48, 0.35, 0.8, 2),  # back and belly of the pig
        (GRAPHITE, 0.7, 0.28, 0.45, 2),  # the heart
        (PAINTED, 0.48, 0.0, 0.45, 1),  # the tip of the hat
    ],
)
def test_lines_are_whole_and_single(name, x, y0, y1, runs):
    assert crossings(name, x, y0, y1) == runs
