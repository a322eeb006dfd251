"""Skeletons are one pixel thin and of the topology of the ink."""

import cv2
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from limner.regions.centrelines.thinning import thin


def blotted(seed, grain_px, level, size=(90, 120)):
    """Coverage of blots without any symmetry, paper all around."""
    noise = cv2.GaussianBlur(np.random.default_rng(seed).normal(size=size), (0, 0), grain_px)
    coverage = np.clip(3.0 * (noise / noise.std() - level) + 0.5, 0.0, 1.0).astype(np.float32)
    coverage[[0, -1]] = coverage[:, [0, -1]] = 0.0
    return coverage


def pieces(mask, connectivity):
    return cv2.connectedComponents(np.ascontiguousarray(mask).view(np.uint8), connectivity=connectivity)[0]


blots = given(st.integers(0, 100_000), st.floats(1.0, 6.0), st.floats(-0.5, 1.0))


@settings(max_examples=30, deadline=None)
@blots
def test_a_skeleton_has_the_pieces_and_holes_of_its_ink_and_no_thick_spot(seed, grain_px, level):
    coverage = blotted(seed, grain_px, level)
    mask = coverage >= 0.5
    skeleton = thin(mask)
    assert not (skeleton & ~mask).any()
    assert pieces(skeleton, 8) == pieces(mask, 8)
    assert pieces(~skeleton, 4) == pieces(~mask, 4)
    np.testing.assert_array_equal(thin(skeleton), skeleton)
