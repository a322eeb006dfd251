"""Art to cut around."""

import numpy as np
import shapely
from numpy.typing import NDArray

from limner.geometry.cubics import polygon_path
from limner.model.geometry import CubicPath

__all__ = ["art", "blob", "regular", "star", "ten_irregular"]

Points = NDArray[np.float64]


def star(arms: int = 5, outer: float = 16.0, inner: float = 6.0) -> Points:
    """Corners of a star, shape (2 * arms, 2)."""
    angle = np.arange(2 * arms) * np.pi / arms
    radius = np.where(np.arange(2 * arms) % 2, inner, outer)
    return np.stack([radius * np.sin(angle), -radius * np.cos(angle)], axis=1)


def regular(sides: int, radius: float) -> Points:
    """Corners of a regular polygon."""
    angle = np.arange(sides) * 2 * np.pi / sides
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def blob(seed: int, radius: float = 12.0, wildness: float = 0.5, waves: int = 8) -> Points:
    """A smooth random outline around the origin, shape (360, 2)."""
    rng = np.random.default_rng(seed)
    t = np.linspace(0.0, 2 * np.pi, 360, endpoint=False)
    swell = sum(
        wildness / k * rng.normal() * np.cos(k * t + rng.uniform(0, 2 * np.pi)) for k in range(2, waves)
    )
    r = radius * np.maximum(1.0 + swell, 0.25)
    return np.stack([r * np.cos(t), r * np.sin(t)], axis=1)


def ten_irregular(seed: int) -> list[shapely.Polygon]:
    """Ten irregular outlines of different sizes, as cut lines are: rounded, without holes."""
    sizes = np.random.default_rng(seed).uniform(9.0, 15.0, 10)
    return [
        shapely.Polygon(blob(100 * seed + i, size)).buffer(1.5).simplify(0.02) for i, size in enumerate(sizes)
    ]


def art(*rings: Points) -> list[CubicPath]:
    """Closed paths of straight lines."""
    return [polygon_path(ring) for ring in rings]
