"""The camera's perspective on a flat sheet.

The true shape of a rectangle follows from its four corners in the picture when the camera's pixels are
square and its axis meets the picture in the middle: Zhang and He, "Whiteboard scanning and image
enhancement", Digital Signal Processing 17 (2007), formulae from memory.

Limits: a picture that was cropped unevenly has its axis elsewhere, and the shape comes out wrong by a
few per cent; where the sheet is tilted about one of its own sides only, the focal length cannot be
told, and that of a phone's main camera is taken.
"""

from dataclasses import dataclass

import numpy as np

from limner.model.arrays import Floats

__all__ = ["TrueShape", "homography", "project", "true_shape"]


# Focal length of a phone's main camera over the longest side of its picture (26 mm against the 36 mm
# of the film whose field it is compared to), and the range from wide to a short telephoto lens.
_USUAL_FOCAL = 0.72
_FOCAL_RANGE = (0.45, 3.0)


@dataclass(frozen=True, slots=True)
class TrueShape:
    """Shape of a rectangle seen in perspective.

    Parameters
    ----------
    aspect : float
        Height over width.
    lowest, highest : float
        The same for the widest and the longest lens that is plausible: how sure it is.
    """

    aspect: float
    lowest: float
    highest: float


def homography(source: Floats, target: Floats) -> Floats:
    """Projective map, shape (3, 3), that takes four points, shape (4, 2), to four others.

    Raises
    ------
    numpy.linalg.LinAlgError
        Three of the points lie on a line.
    """
    x, y = source.T
    u, v = target.T
    zero, one = np.zeros(4), np.ones(4)
    rows = np.concatenate(
        [
            np.stack([x, y, one, zero, zero, zero, -u * x, -u * y], axis=1),
            np.stack([zero, zero, zero, x, y, one, -v * x, -v * y], axis=1),
        ]
    )
    solved = np.linalg.solve(rows, np.concatenate([u, v]))
    return np.append(solved, 1.0).reshape(3, 3)


def project(matrix: Floats, points: Floats) -> Floats:
    """Map points, shape (n, 2), by a homography."""
    mapped = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def true_shape(corners: Floats, size: tuple[int, int]) -> TrueShape:
    """Shape of the rectangle whose corners are seen at `corners`.

    Parameters
    ----------
    corners : ndarray, shape (4, 2)
        In pixels: top left, top right, bottom right, bottom left.
    size : tuple of int
        Width and height of the picture.

    Returns
    -------
    TrueShape
    """
    longest = float(max(size))
    centre = np.array(size, dtype=np.float64) / 2.0
    top_left, top_right, bottom_right, bottom_left = (
        np.append(point, 1.0) for point in (corners - centre) / longest
    )
    # Directions of the sheet's sides, to a common scale.
    diagonal = np.cross(top_left, bottom_right)
    across_by = diagonal @ bottom_left / (np.cross(top_right, bottom_right) @ bottom_left)
    down_by = diagonal @ top_right / (np.cross(bottom_left, bottom_right) @ top_right)
    across = across_by * top_right - top_left
    down = down_by * bottom_left - top_left

    def aspect(focal: float) -> float:
        lens = np.array([1.0 / focal, 1.0 / focal, 1.0])
        return float(np.linalg.norm(down * lens) / np.linalg.norm(across * lens))

    wide, long = (aspect(focal) for focal in _FOCAL_RANGE)
    return TrueShape(aspect(_focal(across, down)), min(wide, long), max(wide, long))


def _focal(across: Floats, down: Floats) -> float:
    """Focal length over the longest side that makes the two directions perpendicular, if plausible."""
    depth = float(across[2] * down[2])
    if depth == 0.0:
        return _USUAL_FOCAL
    squared = -float(across[:2] @ down[:2]) / depth
    low, high = _FOCAL_RANGE
    return squared**0.5 if low * low <= squared <= high * high else _USUAL_FOCAL
