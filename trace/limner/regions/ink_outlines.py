"""Outlines of the ink as iso-lines of its coverage, between the pixels.

Method: marching squares (Lorensen and Cline's cubes in two dimensions, doi:10.1145/37402.37422), linear
interpolation between pixel centres. Where two diagonal pixels are ink and the other two are not, the ink is
taken as joined, so that rings agree with 8-connected pieces of the mask.

Limits: a straight edge comes out as exact as the coverage is linear across it; corners are cut by at most
half a pixel. Outside the raster there is no ink: a piece that runs off is closed along the border.
"""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.measure import find_contours

from limner.model.arrays import Flags, Floats, Indices
from limner.model.raster import ScaledInk
from limner.model.regionmap import InkRing

__all__ = ["iso_lines", "trace_rings"]


# Coverage at the outline: half of the pixel is ink.
_LEVEL = np.float32(0.5)

# The library takes what lies at the level itself for paper; a pixel that is half ink is ink.
_JUST_BELOW_LEVEL = float(np.nextafter(0.5, 0.0))

# Rings smaller than this share of a square line width are grain of the pencil, not drawing: a dot made
# by touching the paper once has at least pi / 4 = 0.79 of it.
_SMALLEST_RING_WIDTHS2 = 0.25

# Where thin lines stand beside bold ones, a bold one is at least this share of the typical width wide.
_BOLD = 0.5

# How far the outline of a bold line may lie beyond the discs that fit into it: a pixel's own unevenness.
_SOFT_PX = 2.0


def trace_rings(ink: ScaledInk) -> tuple[InkRing, ...]:
    """Trace every outline of the ink.

    Parameters
    ----------
    ink : ScaledInk
        The ink.

    Returns
    -------
    tuple of InkRing
        Closed polylines in millimetres, outer rings positive, holes negative, sorted by piece and then from
        the largest to the smallest: the first ring of each piece is its outer one. Pieces are numbered from
        0 in the order of their first pixel.
    """
    mask = ink.mask
    if not mask.any():
        return ()
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    top, bottom, left, right = int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1
    # A rim of one pixel: of the real coverage inside the raster, of no ink outside.
    rim = np.pad(ink.coverage, 1)[top : bottom + 2, left : right + 2]
    rings = iso_lines(rim)
    pieces, labels = cv2.connectedComponents((rim >= _LEVEL).view(np.uint8), connectivity=8)
    solid = np.zeros(rim.shape, bool)
    solid[1:-1, 1:-1] = ink.solid[top:bottom, left:right]
    ink_size = np.bincount(labels.ravel(), minlength=pieces)
    solid_size = np.bincount(labels[solid], minlength=pieces)
    height, width = mask.shape
    corner = np.array([left - 0.5, top - 0.5])
    found = _as_rings(
        [np.clip(ring + corner, 0.0, (width, height)) * ink.mm_per_px for ring in rings],
        np.array([labels[_ink_beside(rim, ring[0])] for ring in rings]),
        2 * solid_size > ink_size,
        _SMALLEST_RING_WIDTHS2 * ((ink.fine_width_px or ink.line_width_px) * ink.mm_per_px) ** 2,
    )
    return found if ink.fine_width_px is None else _with_widths(found, ink, ink.fine_width_px)


def _with_widths(rings: tuple[InkRing, ...], ink: ScaledInk, fine_width_px: float) -> tuple[InkRing, ...]:
    """Tell along each ring where a bold line runs and where a thin one does."""
    radius = 0.5 * _BOLD * ink.line_width_px
    deep = _distance_inside(ink.mask) > radius
    bold = _distance_inside(~deep) <= radius + _SOFT_PX
    limit = np.array(bold.shape[::-1]) - 1
    widths = []
    for ring in rings:
        column, row = np.minimum((ring.points / ink.mm_per_px).astype(np.int64), limit).T
        widths.append(np.where(bold[row, column], ink.line_width_px, fine_width_px) * ink.mm_per_px)
    return tuple(replace(ring, width_mm=width) for ring, width in zip(rings, widths, strict=True))


def _distance_inside(mask: Flags) -> NDArray[np.float32]:
    distance = cv2.distanceTransform(mask.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
    return np.asarray(distance, np.float32)


def _ink_beside(values: NDArray[np.float32], start: Floats) -> tuple[int, int]:
    """Row and column of the ink pixel beside the start of a ring."""
    row, column = int(start[1]), int(start[0])
    return row, column if values[row, column] >= _LEVEL else column + 1


def _as_rings(
    rings: list[Floats], pieces: Indices, is_solid: Flags, smallest_mm2: float
) -> tuple[InkRing, ...]:
    areas = np.array([_signed_area(ring) for ring in rings])
    keep = np.flatnonzero(np.abs(areas) >= smallest_mm2)
    keep = keep[np.lexsort((keep, -np.abs(areas[keep]), pieces[keep]))]
    with_outer = np.unique(pieces[keep[areas[keep] > 0]])
    keep = keep[np.isin(pieces[keep], with_outer)]
    number = np.searchsorted(with_outer, pieces[keep])
    return tuple(
        InkRing(rings[ring], int(piece), bool(is_solid[pieces[ring]]))
        for ring, piece in zip(keep.tolist(), number, strict=True)
    )


def _signed_area(ring: Floats) -> float:
    x, y = ring.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2.0


def iso_lines(values: NDArray[np.float32]) -> list[Floats]:
    """All rings at the level of 0.5 of a field whose rim is below it, outer ones positive.

    Parameters
    ----------
    values : ndarray of float32, shape (H, W)
        The field; what is at the level or above it is inside.

    Returns
    -------
    list of ndarray of float64, shape (n, 2)
        Crossings (x, y) in pixels of the field, pixel centres at whole numbers, first point not repeated. A
        ring starts at its first crossing between two pixels of a row, in reading order; so do the rings.
    """
    found: list[Floats] = find_contours(  # type: ignore[no-untyped-call]
        values, _JUST_BELOW_LEVEL, fully_connected="high", positive_orientation="low"
    )
    rings = [_from_first_crossing(ring[:-1, ::-1]) for ring in found]
    return sorted(rings, key=lambda ring: (ring[0, 1], ring[0, 0]))


def _from_first_crossing(ring: Floats) -> Floats:
    x, y = ring.T
    between = np.flatnonzero(y == np.floor(y))
    first = between[np.lexsort((x[between], y[between]))[0]]
    return np.roll(ring, -first, axis=0)
