"""The same drawing gives the same bits wherever its arrays happen to lie in memory."""

import hashlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

from limner.errors import InputError
from limner.pipeline.processes.opencv import steady_opencv
from limner.pipeline.sketch.settings import TraceSettings
from limner.pipeline.sketch.trace import trace


def strokes() -> np.ndarray:
    """Ink of many strokes, thin and broad; as large as a working raster, where the trouble was seen."""
    rng = np.random.default_rng(0)
    mask = np.zeros((1835, 1299), np.uint8)
    for _ in range(60):
        (x0, y0), (x1, y1) = rng.integers(0, 1299, (2, 2)).tolist()
        cv2.line(mask, (x0, y0), (x1, y1), 1, int(rng.integers(4, 60)))
    return mask


def distances_on_threads(mask: np.ndarray, threads: int) -> set[str]:
    """Digests of the same distances, written to places of every alignment."""
    own = cv2.getNumThreads()
    cv2.setNumThreads(threads)
    try:
        return {
            hashlib.sha256(exact_distances(mask, start_floats=k).tobytes()).hexdigest() for k in range(16)
        }
    finally:
        cv2.setNumThreads(own)


def exact_distances(mask: np.ndarray, start_floats: int) -> np.ndarray:
    room = np.empty(mask.size + start_floats, np.float32)[start_floats:].reshape(mask.shape)
    return np.asarray(cv2.distanceTransform(mask, cv2.DIST_L2, cv2.DIST_MASK_PRECISE, room))


def test_distances_depend_neither_on_memory_nor_on_threads() -> None:
    mask = strokes()
    with steady_opencv():
        assert len(distances_on_threads(mask, 1) | distances_on_threads(mask, 2)) == 1
        found = exact_distances(mask, 0)
    # SciPy's exact Euclidean distances, in double precision; single precision is good for 1e-7 of 200 px.
    assert np.abs(found - distance_transform_edt(mask)).max() < 1e-5


@pytest.mark.parametrize("before", [True, False])
def test_the_setting_of_the_caller_is_put_back(before: bool, tmp_path: Path) -> None:
    own = cv2.ipp.useIPP()
    cv2.ipp.setUseIPP(before)
    try:
        there = cv2.ipp.useIPP()
        with steady_opencv():
            assert not cv2.ipp.useIPP()
        assert cv2.ipp.useIPP() == there
        with pytest.raises(InputError):
            trace(tmp_path / "not-there.jpg", TraceSettings())
        assert cv2.ipp.useIPP() == there
    finally:
        cv2.ipp.setUseIPP(own)
