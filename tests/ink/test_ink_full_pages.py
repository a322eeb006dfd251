"""Pages full of ink, and lines that run off the page: drawings, however much of the paper they take."""

import cv2
import numpy as np
import pytest

from helpers_ink import flat
from limner.errors import InputError
from limner.ink.extract import extract_ink
from limner.ink.settings import InkSettings

SIZE = (420, 560)


def page(*lines, width_px, ink=0.1, blur=0.7):
    """Grey of straight lines, (x, y) to (x, y), and their coverage."""
    large = np.zeros((SIZE[0] * 4, SIZE[1] * 4), np.uint8)
    for first, last in lines:
        ends = [tuple(round(4 * value) for value in end) for end in (first, last)]
        cv2.line(large, *ends, 255, round(4 * width_px), cv2.LINE_AA)
    covered = cv2.resize(large, SIZE[::-1], interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    return 1 - (1 - ink) * cv2.GaussianBlur(covered, (0, 0), blur), covered


def mesh(step, width_px, **more):
    """Lines in two slanting directions, which no printed paper has."""
    lines = []
    for dx, dy in ((0.8, 0.6), (-0.5, 0.87)):
        for offset in np.arange(-700, 700, step):
            x, y = 280 - offset * dy, 210 + offset * dx
            lines.append(((x - 800 * dx, y - 800 * dy), (x + 800 * dx, y + 800 * dy)))
    return page(*lines, width_px=width_px, **more)


def found(grey):
    """Coverage that is found, on the raster of the page."""
    ink = extract_ink(flat(grey.astype(np.float32)), InkSettings())
    return cv2.resize(ink.coverage, SIZE[::-1], interpolation=cv2.INTER_AREA)


@pytest.mark.parametrize(("step", "width_px"), [(20, 6), (20, 8), (13, 4)])
@pytest.mark.parametrize("ink", [0.1, 0.5])
def test_a_mesh_over_the_whole_page_is_a_drawing(step, width_px, ink):
    """Half of such a page is ink: its median and its spread are no longer those of paper."""
    grey, covered = mesh(step, width_px, ink=ink)
    assert 0.45 < (covered > 0.5).mean() < 0.7
    assert (np.abs(found(grey) - covered) < 0.5).mean() > 0.97


def test_bold_scribbles_over_most_of_the_page_are_a_drawing():
    rng = np.random.default_rng(1)
    ends = rng.uniform([20, 20], [540, 400], (60, 2, 2))
    grey, covered = page(*ends, width_px=20)
    assert (covered > 0.5).mean() > 0.55
    assert (np.abs(found(grey) - covered) < 0.5).mean() > 0.97


@pytest.mark.parametrize("sigma", [0.01, 0.04, 0.08])
def test_a_page_with_nothing_but_grain_stays_empty(sigma):
    grey = np.clip(0.9 + np.random.default_rng(2).normal(0, sigma, SIZE), 0, 1)
    with pytest.raises(InputError, match="no drawing found"):
        found(grey)


def test_lines_that_meet_where_they_run_off_the_page_are_no_table():
    """The wedge between two such lines is black and cut straight by the border, but small."""
    lines = [((-40, 1), (600, 1)), ((40, -6), (700, 80)), ((300, 0), (120, 420)), ((20, -20), (480, 430))]
    grey, covered = page(*lines, width_px=6)
    assert (found(grey)[covered == 1] > 0.5).mean() > 0.99
