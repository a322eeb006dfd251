"""Where lines are thin."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["thin_stretch"]

# Widths along lines are taken at steps of this: about the smallest width that is looked for.
_STEP_MM = 0.1

# Two sides of a line face each other where their directions inwards differ by more than 120 degrees.
_OPPOSITE = -0.5


def thin_stretch(
    shapes: Sequence[Sequence[NDArray[np.float64]]], width_mm: float, least_mm: float
) -> tuple[float, tuple[float, float]] | None:
    """The thinnest place of the longest stretch along which shapes are narrower than a width.

    Method: places on the outlines that face each other across the inside, paired by a tree.

    Parameters
    ----------
    shapes : sequence of sequence of ndarray, shape (n, 2)
        Closed outlines of each shape in millimetres, outer ones positive, holes negative.
    width_mm : float
        What counts as narrow.
    least_mm : float
        Length of the shortest stretch that counts.

    Returns
    -------
    tuple of float and tuple of float, or None
        Width there, and its place; None where no stretch is as long.
    """
    rings = [ring for rings in shapes for ring in rings]
    if not rings:
        return None
    points, inward, owner = _facing(rings)
    # SciPy's tree is loaded by those alone who check a sheet.
    from scipy.spatial import cKDTree

    # Places lie apart along the outline, so that the nearest one across may be off by half a step.
    pairs = cKDTree(points).query_pairs(math.hypot(width_mm, _STEP_MM / 2), output_type="ndarray")
    one, other = pairs[:, 0], pairs[:, 1]
    across = np.sum((points[other] - points[one]) * inward[one], axis=1)
    facing = (np.sum(inward[one] * inward[other], axis=1) < _OPPOSITE) & (across > 0) & (across < width_mm)
    width = np.full(len(points), np.inf)
    np.minimum.at(width, one[facing], across[facing])
    np.minimum.at(width, other[facing], across[facing])
    return _longest_stretch(points, width, owner, least_mm)


def _facing(
    rings: Sequence[NDArray[np.float64]],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.intp]]:
    """Evenly spaced places on outlines, the direction inwards at each, and the number of its outline."""
    points, inward = [], []
    for ring in rings:
        step = np.roll(ring, -1, axis=0) - ring
        length = np.hypot(step[:, 0], step[:, 1])
        along = np.concatenate([[0.0], np.cumsum(length)])
        count = max(int(along[-1] / _STEP_MM), 3)
        places = (np.arange(count) + 0.5) * along[-1] / count
        piece = np.minimum(np.searchsorted(along, places, side="right") - 1, len(ring) - 1)
        unit = step[piece] / np.maximum(length[piece], 1e-12)[:, None]
        points.append(ring[piece] + unit * (places - along[piece])[:, None])
        inward.append(np.stack([-unit[:, 1], unit[:, 0]], axis=1))
    owner = np.repeat(np.arange(len(rings)), [len(part) for part in points])
    return np.concatenate(points), np.concatenate(inward), owner


def _longest_stretch(
    points: NDArray[np.float64], width: NDArray[np.float64], owner: NDArray[np.intp], least_mm: float
) -> tuple[float, tuple[float, float]] | None:
    thin = np.isfinite(width)
    begins = thin & ~(np.append(False, thin[:-1]) & (owner == np.append(-1, owner[:-1])))
    if not thin.any():
        return None
    run = np.cumsum(begins)[thin] - 1
    longest = int(np.argmax(np.bincount(run)))
    places = np.flatnonzero(thin)[run == longest]
    if len(places) * _STEP_MM < least_mm:
        return None
    at = int(places[np.argmin(width[places])])
    return float(width[at]), (round(float(points[at, 0]), 3), round(float(points[at, 1]), 3))
