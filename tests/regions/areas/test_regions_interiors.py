"""White paper is not black, and solid blacks are: whatever lies at an area's deepest point."""

import numpy as np
import pytest

from helpers_regions import circle, clean_ink, drawn, regions_of

FACE = circle(400, 400, 300)
SIZE = (800, 800)


def disc(x, y, radius):
    """Pixels of a filled circle."""
    row, column = np.mgrid[: SIZE[1], : SIZE[0]] + 0.5
    return np.hypot(column - x, row - y) < radius


def inked(ink):
    return [area.inked for area in regions_of(ink).areas]


@pytest.mark.parametrize(
    "line",
    [
        [(400, 350), (400, 450)],  # a nose
        [(400, 340), (400, 400), (430, 400)],  # a nose with its wing
        circle(400, 400, 40, 180, 400),  # a hook
        [(200, 400), (600, 400)],  # a mouth
    ],
    ids=["nose", "wing", "hook", "mouth"],
)
def test_a_line_at_the_middle_of_a_face_leaves_it_white(line):
    assert inked(drawn([FACE, line], size=SIZE)) == [False]


@pytest.mark.parametrize("radius", [6, 8, 12, 40, 150])
def test_a_face_around_a_pupil_is_white_and_the_pupil_black(radius):
    pupil = disc(400, 400, radius)
    face = drawn([FACE], size=SIZE).coverage
    found = inked(clean_ink(np.maximum(face, pupil), 8.0, 0.1, solid=pupil))
    # A pupil that is hardly wider than its own rim has no inside to be filled.
    assert found == ([False] if radius <= 12 else [False, True])


def test_hatching_leaves_paper_white():
    # Strokes of 8 pixels, 16 apart, that touch nothing: half of the middle is ink.
    strokes = [[(x, 180), (x, 620)] for x in range(200, 601, 16)]
    assert not any(inked(drawn([FACE, *strokes], size=SIZE)))


def test_a_black_with_specks_of_paper_is_black():
    speckled = disc(400, 400, 200)
    for x, y in np.random.default_rng(0).uniform(250, 550, (60, 2)):
        speckled &= ~disc(x, y, 3)
    face = drawn([FACE], size=SIZE).coverage
    assert True in inked(clean_ink(np.maximum(face, speckled), 8.0, 0.1, solid=disc(400, 400, 200)))


def test_a_bead_between_broad_lines_is_white():
    # Its hole is two line widths across: most of the area up to the lines' middles is ink.
    assert inked(drawn([circle(400, 400, 14)], size=SIZE)) == [False]
