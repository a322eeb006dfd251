"""Outlines of the ink as iso-lines of its coverage, between the pixels.

Method: marching squares (Lorensen and Cline's cubes in two dimensions, from memory) over the squares
between four pixel centres, linear interpolation along their sides, all squares at once; the crossings are
then walked into rings by `limner.regions.walking_order`. Where two diagonal pixels are ink and the other
two are not, the ink is taken as joined, so that rings agree with 8-connected pieces of the mask.

Limits: a straight edge comes out as exact as the coverage is linear across it; corners are cut by at most
half a pixel. Outside the raster there is no ink: a piece that runs off is closed along the border.
"""

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import Floats, Indices
from limner.model.raster import ScaledInk
from limner.model.regionmap import InkRing
from limner.regions.walking_order import order_chains

__all__ = ["iso_lines", "trace_rings"]


# Coverage at the outline: half of the pixel is ink.
_LEVEL = np.float32(0.5)

# Rings smaller than this share of a square line width are grain of the pencil, not drawing: a dot made
# by touching the paper once has at least pi / 4 = 0.79 of it.
_SMALLEST_RING_WIDTHS2 = 0.25

# Sides of the square between four pixel centres.
_TOP, _RIGHT, _BOTTOM, _LEFT = range(4)

# Walks through a square by which of its corners are ink (top left 1, top right 2, bottom left 4, bottom
# right 8): (from, to), ink to the right as seen along the walk, so that outer rings come out positive.
_WALKS: dict[int, tuple[tuple[int, int], ...]] = {
    1: ((_TOP, _LEFT),),
    2: ((_RIGHT, _TOP),),
    3: ((_RIGHT, _LEFT),),
    4: ((_LEFT, _BOTTOM),),
    5: ((_TOP, _BOTTOM),),
    6: ((_LEFT, _TOP), (_RIGHT, _BOTTOM)),
    7: ((_RIGHT, _BOTTOM),),
    8: ((_BOTTOM, _RIGHT),),
    9: ((_TOP, _RIGHT), (_BOTTOM, _LEFT)),
    10: ((_BOTTOM, _TOP),),
    11: ((_BOTTOM, _LEFT),),
    12: ((_LEFT, _RIGHT),),
    13: ((_TOP, _RIGHT),),
    14: ((_LEFT, _TOP),),
}


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
    points, offsets, seeds = iso_lines(rim)
    points += (left - 0.5, top - 0.5)
    height, width = mask.shape
    np.clip(points, 0.0, (width, height), out=points)
    pieces, labels = cv2.connectedComponents((rim >= _LEVEL).view(np.uint8), connectivity=8)
    solid = np.zeros(rim.shape, bool)
    solid[1:-1, 1:-1] = ink.solid[top:bottom, left:right]
    ink_size = np.bincount(labels.ravel(), minlength=pieces)
    solid_size = np.bincount(labels[solid], minlength=pieces)
    is_solid = 2 * solid_size > ink_size
    return _as_rings(
        points * ink.mm_per_px,
        offsets,
        labels.ravel()[seeds].astype(np.int64),
        is_solid,
        _SMALLEST_RING_WIDTHS2 * ink.line_width_mm**2,
    )


def _as_rings(
    points: Floats, offsets: Indices, pieces: Indices, is_solid: NDArray[np.bool_], smallest_mm2: float
) -> tuple[InkRing, ...]:
    following = points[_successors(offsets)]
    cross = points[:, 0] * following[:, 1] - following[:, 0] * points[:, 1]
    areas = np.add.reduceat(cross, offsets[:-1]) / 2.0
    keep = np.flatnonzero(np.abs(areas) >= smallest_mm2)
    keep = keep[np.lexsort((keep, -np.abs(areas[keep]), pieces[keep]))]
    with_outer = np.unique(pieces[keep[areas[keep] > 0]])
    keep = keep[np.isin(pieces[keep], with_outer)]
    number = np.searchsorted(with_outer, pieces[keep])
    return tuple(
        InkRing(points[offsets[ring] : offsets[ring + 1]], int(piece), bool(is_solid[pieces[ring]]))
        for ring, piece in zip(keep, number, strict=True)
    )


def _successors(offsets: Indices) -> Indices:
    """Index of the point after each one, around its own ring."""
    following = np.arange(1, offsets[-1] + 1)
    following[offsets[1:] - 1] = offsets[:-1]
    return following


def iso_lines(values: NDArray[np.float32]) -> tuple[Floats, Indices, Indices]:
    """All rings at the level of 0.5 of a field whose rim is below it, outer ones positive.

    Returns
    -------
    points : ndarray, shape (n, 2)
        Crossings (x, y) in pixels of the field, pixel centres at whole numbers; ring after ring.
    offsets : ndarray of int64, shape (k + 1,)
        Where each ring starts.
    seeds : ndarray of int64, shape (k,)
        Flat index of an ink pixel beside each ring.
    """
    mask = values >= _LEVEL
    width = mask.shape[1]
    across = np.flatnonzero(mask[:, :-1] != mask[:, 1:])
    row, column = np.divmod(across, width - 1)
    first_across = row * width + column
    first_down = np.flatnonzero(mask[:-1] != mask[1:])
    first = np.concatenate([first_across, first_down])
    step = np.concatenate([np.full(len(first_across), 1), np.full(len(first_down), width)])
    flat = values.ravel()
    near, far = flat[first].astype(np.float64), flat[first + step].astype(np.float64)
    share = (_LEVEL - near) / (far - near)
    points = np.stack([first % width, first // width], axis=1).astype(np.float64)
    points[: len(first_across), 0] += share[: len(first_across)]
    points[len(first_across) :, 1] += share[len(first_across) :]
    beside = np.where(near >= _LEVEL, first, first + step)

    id_across = np.empty(mask.size, np.int32)
    id_across[first_across] = np.arange(len(first_across))
    id_down = np.empty(mask.size, np.int32)
    id_down[first_down] = len(first_across) + np.arange(len(first_down))
    following = _follow(mask, id_across, id_down, len(first))
    chains = order_chains(np.stack([np.arange(len(first)), following], axis=1), len(first))
    order = _walk_forwards(chains.order, chains.offsets, following)
    return points[order], chains.offsets, beside[order[chains.offsets[:-1]]]


def _follow(
    mask: NDArray[np.bool_], id_across: NDArray[np.int32], id_down: NDArray[np.int32], count: int
) -> Indices:
    """For each crossing the next one along its ring."""
    width = mask.shape[1]
    bits = mask.view(np.uint8)
    code = bits[:-1, :-1] + 2 * bits[:-1, 1:] + 4 * bits[1:, :-1] + 8 * bits[1:, 1:]
    cells = np.flatnonzero((code > 0) & (code < 15))
    codes = code.ravel()[cells]
    row, column = np.divmod(cells, width - 1)
    corner = row * width + column
    following = np.empty(count, np.int64)
    sides: dict[int, Callable[[Indices], NDArray[np.int32]]] = {
        _TOP: lambda at: id_across[at],
        _RIGHT: lambda at: id_down[at + 1],
        _BOTTOM: lambda at: id_across[at + width],
        _LEFT: lambda at: id_down[at],
    }
    for which, walks in _WALKS.items():
        at = corner[codes == which]
        for start, end in walks:
            following[sides[start](at)] = sides[end](at)
    return following


def _walk_forwards(order: Indices, offsets: Indices, following: Indices) -> Indices:
    """Turn those rings round that were walked against their direction."""
    starts, lengths = offsets[:-1], np.diff(offsets)
    second = order[np.minimum(starts + 1, offsets[1:] - 1)]
    backwards = np.repeat(following[order[starts]] != second, lengths)
    position = np.arange(len(order))
    begin, end = np.repeat(starts, lengths), np.repeat(offsets[1:], lengths)
    return order[np.where(backwards, begin + end - 1 - position, position)]
