"""How the page lies in the photograph, and its samples at any resolution.

For fewer samples than the photograph has pixels it is averaged over square cells first, which costs little,
and the page is then taken out of what is left.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.capture.surfaces import cells
from limner.model.arrays import Floats

__all__ = ["Lay"]

# Longest side, at most, of the picture on which the light is measured: a penumbra of a millimetre on A4
# is then two to three pixels wide.
COARSE_SIDE_PX = 1000

Bytes8 = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Lay:
    """Where the page is in the photograph.

    Parameters
    ----------
    size_px : tuple of float
        Width and height of the page in pixels of the photograph, near which it is sampled at full resolution.
    to_photo : ndarray of float64, shape (3, 3)
        Homography from pixels of the page at full resolution to those of the photograph; the identity where
        the photograph is the page.
    mm_per_px : float or None
        Scale at full resolution.
    scale_from : str
        Where that comes from.
    straightened : bool
        Whether the page is a sheet taken out of the photograph.
    """

    size_px: tuple[float, float]
    to_photo: Floats
    mm_per_px: float | None
    scale_from: str
    straightened: bool

    @property
    def coarse_step(self) -> int:
        """Pixels of the page per sample of the small picture on which its light is measured."""
        return -(-round(max(self.size_px)) // COARSE_SIDE_PX)

    def fitting(self, wanted: int) -> int:
        """Largest reduction up to `wanted` that loses nothing.

        A photograph that is the page keeps its width to the pixel: it is reduced by what divides both sides.
        """
        if self.straightened:
            return wanted
        common = math.gcd(*map(round, self.size_px))
        return max(step for step in range(1, wanted + 1) if common % step == 0)

    def grid(self, step: int) -> tuple[tuple[int, int], Floats]:
        """Width and height in samples, and the matrix from samples to pixels at full resolution.

        The samples of a sheet cover it exactly; those of a whole photograph are whole cells of it.
        """
        if self.straightened and step > 1:
            size = (max(1, round(self.size_px[0] / step)), max(1, round(self.size_px[1] / step)))
            return size, np.diag([self.size_px[0] / size[0], self.size_px[1] / size[1], 1.0])
        size = (round(self.size_px[0]) // step, round(self.size_px[1]) // step)
        return size, np.diag([float(step), float(step), 1.0])

    def sampled(self, rgb: Bytes8, step: int) -> Bytes8:
        """The page, a sample for `step` by `step` pixels of the photograph; beyond its border it stays level.

        Parameters
        ----------
        rgb : ndarray of uint8, shape (H, W, 3)
            The photograph.
        step : int
            The reduction.

        Returns
        -------
        ndarray of uint8, shape (h, w, 3)
        """
        coarse = cells(rgb, step)
        if not self.straightened:
            return coarse
        size, to_full = self.grid(step)
        to_cells = np.diag([1.0 / step, 1.0 / step, 1.0]) @ self.to_photo @ to_full
        # The library counts from the centre of the first pixel, the project from its corner.
        to_corner = np.array([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5], [0.0, 0.0, 1.0]])
        warped = cv2.warpPerspective(
            coarse,
            np.linalg.inv(to_corner) @ to_cells @ to_corner,
            size,
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(warped, dtype=np.uint8)
