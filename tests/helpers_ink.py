"""Pages with known ink, and measures of how well it is found."""

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.raster import FlatPage, InkMap

__all__ = ["Sketch", "boundary_distance", "circle", "drawn", "flat", "ink_on_page", "ink_score", "share_kept"]


def flat(
    grey: NDArray[np.float32], colour: NDArray[np.uint8] | None = None, source: str = "page.png"
) -> FlatPage:
    """A flat page made of a grey picture, 0 to 1."""
    if colour is None:
        colour = np.repeat((np.clip(grey, 0, 1) * 255 + 0.5).astype(np.uint8)[..., None], 3, axis=2)
    return FlatPage(np.asarray(grey, np.float32), colour, None, np.eye(3), "", source)


def drawn(
    height: int, width: int, distance: object, ink: float = 0.3, blur: float = 0.7
) -> NDArray[np.float32]:
    """A picture of {(x, y): distance(x, y) < 0}, paper 1, ink `ink`, blurred in linear light as by a lens.

    A pixel's coverage is taken from the signed distance of its centre: exact for edges along the axes, and to
    0.05 px for others; the blur evens that out.
    """
    y, x = np.mgrid[0:height, 0:width].astype(float) + 0.5
    share = np.clip(0.5 - distance(x, y), 0, 1).astype(np.float32)  # type: ignore[operator]
    share = cv2.GaussianBlur(share, (0, 0), blur)
    # IEC 61966-2-1 (sRGB), from memory.
    dark = ((ink + 0.055) / 1.055) ** 2.4
    light = 1 - (1 - dark) * share
    return (1.055 * light ** (1 / 2.4) - 0.055).astype(np.float32)


class Sketch:
    """A page on which marks of known darkness are put; darkness adds up like layers of graphite."""

    _SHIFT = 4

    def __init__(self, height: int = 1000, width: int = 1400) -> None:
        self.height, self.width = height, width
        self.light = np.ones((height, width), np.float32)
        self.ink = np.zeros((height, width), np.float32)

    def coverage(self, points: object, width: float, closed: bool = False) -> NDArray[np.float32]:
        """Coverage of a stroke through (x, y) points; a single point makes a round dot."""
        scaled = np.rint((np.asarray(points, float) - 0.5) * 2**self._SHIFT * 4 + 1.5 * 2**self._SHIFT)
        large = np.zeros((4 * self.height, 4 * self.width), np.uint8)
        corners = scaled.astype(np.int32).reshape(-1, 1, 2)
        if len(corners) == 1:
            radius = round(2 * width * 2**self._SHIFT)
            cv2.circle(large, corners[0, 0].tolist(), radius, 255, -1, cv2.LINE_8, self._SHIFT)
        else:
            cv2.polylines(large, [corners], closed, 255, round(4 * width), cv2.LINE_8, self._SHIFT)
        small = cv2.resize(large, (self.width, self.height), interpolation=cv2.INTER_AREA)
        return small.astype(np.float32) / 255

    def put(self, coverage: NDArray[np.float32], tone: float, meant: bool = True) -> "Sketch":
        """Darken by a coverage; `tone` is the encoded grey under full coverage; `meant` marks it as ink."""
        self.light *= 1 - coverage * np.float32(1 - ((tone + 0.055) / 1.055) ** 2.4)
        if meant:
            self.ink = np.maximum(self.ink, coverage)
        return self

    def stroke(
        self, points: object, width: float, tone: float = 0.35, *, closed: bool = False, meant: bool = True
    ) -> "Sketch":
        """A stroke of one darkness."""
        return self.put(self.coverage(points, width, closed), tone, meant)

    def page(self, *, blur: float = 1.0, noise: float = 0.01, seed: int = 1) -> FlatPage:
        """The page as capture hands it on: blurred in linear light, with a little noise."""
        light = np.clip(cv2.GaussianBlur(self.light, (0, 0), blur), 0, 1)
        grey = 1.055 * light ** (1 / 2.4) - 0.055
        grey += noise * np.random.default_rng(seed).standard_normal(grey.shape)
        return flat(np.round(np.clip(grey, 0, 1) * 255).astype(np.float32) / 255)


def circle(x: float, y: float, radius: float, count: int = 200) -> NDArray[np.float64]:
    """Points of a circle."""
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)


def share_kept(found: NDArray[np.float32], mark: NDArray[np.float32]) -> float:
    """Share of a mark's pixels that came out as ink."""
    return float((found[mark >= 0.5] >= 0.5).mean())


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
