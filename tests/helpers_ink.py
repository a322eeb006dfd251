"""Pages with known ink, and measures of how well it is found."""

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.raster import FlatPage, InkMap

__all__ = ["boundary_distance", "drawn", "flat", "ink_on_page", "ink_score"]

_FINE = 16
"""Coverage of a test shape is its share of 16 x 16 points in each pixel: exact to 0.002."""


def flat(
    grey: NDArray[np.float32], colour: NDArray[np.uint8] | None = None, source: str = "page.png"
) -> FlatPage:
    """A flat page made of a grey picture, 0 to 1."""
    if colour is None:
        colour = np.repeat((np.clip(grey, 0, 1) * 255 + 0.5).astype(np.uint8)[..., None], 3, axis=2)
    return FlatPage(np.asarray(grey, np.float32), colour, None, np.eye(3), "", source)


def drawn(
    height: int, width: int, inside: object, ink: float = 0.3, blur: float = 0.7
) -> NDArray[np.float32]:
    """A grey picture of {(x, y): inside(x, y)}, paper 1, ink `ink`, blurred in linear light as by a lens."""
    total = np.zeros((height, width))
    offsets = (np.arange(_FINE) + 0.5) / _FINE
    y, x = np.mgrid[0:height, 0:width].astype(float)
    for dy in offsets:
        for dx in offsets:
            total += inside(x + dx, y + dy)  # type: ignore[operator]
    share = cv2.GaussianBlur((total / _FINE**2).astype(np.float32), (0, 0), blur)
    # IEC 61966-2-1 (sRGB), from memory.
    dark = ((ink + 0.055) / 1.055) ** 2.4
    light = 1 - (1 - dark) * share
    return (1.055 * light ** (1 / 2.4) - 0.055).astype(np.float32)


def ink_on_page(ink: InkMap, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Coverage brought back onto the raster of the page that it came from (to_photo being identity there)."""
    step = float(ink.to_photo[0, 0])
    # Shift by half a pixel: warpAffine maps integer centres.
    matrix = np.array([[step, 0, step / 2 - 0.5], [0, step, step / 2 - 0.5]])
    return cv2.warpAffine(ink.coverage, matrix, (shape[1], shape[0]), flags=cv2.INTER_LINEAR)


def ink_score(found: NDArray[np.bool_], truth: NDArray[np.bool_], within_px: float) -> float:
    """F1 of ink pixels, each counted right when the other picture has ink within `within_px`."""
    precision = _share_near(found, truth, within_px)
    recall = _share_near(truth, found, within_px)
    return 2 * precision * recall / max(precision + recall, 1e-9)


def _share_near(these: NDArray[np.bool_], those: NDArray[np.bool_], within_px: float) -> float:
    if not these.any() or not those.any():
        return 0.0
    distance = cv2.distanceTransform((~those).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return float((distance[these] <= within_px).mean())


def boundary_distance(found: NDArray[np.float32], truth: NDArray[np.float32]) -> float:
    """Mean two-way distance in pixels between the 0.5 iso-lines of two coverages."""
    from skimage.measure import find_contours

    rings = [np.concatenate(find_contours(np.pad(c, 1), 0.5)) for c in (found, truth)]
    from scipy.spatial import cKDTree

    there = cKDTree(rings[1]).query(rings[0])[0].mean()
    back = cKDTree(rings[0]).query(rings[1])[0].mean()
    return float((there + back) / 2)
