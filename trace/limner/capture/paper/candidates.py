"""Candidates for the four sides of a sheet of paper in a photograph, at a coarse resolution.

Method: paper is whiter than the table, so each side is a straight run of gradients that all point to
the inside. A Hough transform over *directed* lines (Duda and Hart 1972, from memory, with the direction
taken from the gradient) keeps the four sides apart; quadrilaterals are then put together from lines
whose inner sides face each other and are ranked by the share of each side that shows such gradients.

"White" is the lowest channel against its own bright end: yellowed paper stays white, a pale but
coloured table does not. Logarithms make a step the same in light and in shadow. Drawn lines are closed
beforehand, and once more the light parts of a tablecloth's pattern opened, which leaves straight sides
where they are.

Limits: a table whiter than the paper gives no candidates; sides that bend by more than about a
hundredth of their length are seen in pieces.
"""

import math
from collections.abc import Iterator
from itertools import zip_longest
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.capture.surfaces import lowest
from limner.model.arrays import Floats

__all__ = ["sheet_candidates", "whiteness"]

Floats32 = NDArray[np.float32]
Bytes8 = NDArray[np.uint8]

# Longest side of the picture on which sides are looked for.
_COARSE_SIDE_PX = 480

# The brightest parts of a photograph, reflections apart, are its paper.
_BRIGHT_END = 0.98

# Lines up to this share of the longest side are closed.
_LINE_SHARE = 0.012

# Light parts of a tablecloth's pattern up to this share of the longest side are opened away.
_PATTERN_SHARE = 0.07

# Natural logarithm of the brightness ratio per pixel, in the blurred picture, that counts as a step.
_STEP = 0.035

# A side is at least this share of the picture's shorter side long; a sheet covers this share of it.
_SHORTEST_SIDE_SHARE = 0.2
_LEAST_AREA_SHARE = 0.08

# How far a corner may lie outside the picture, as a share of its longest side.
_OUTSIDE_SHARE = 0.03

# Neighbouring sides meet at no less than this angle, in perspective.
_LEAST_CORNER_DEG = 50.0

# What is worked out for a strip of this many rows stays in the processor's cache.
_STRIP_ROWS_PX = 32

_ANGLES = 180  # directed lines every 2 degrees
_SPREAD = 3  # a gradient's direction is known to about 6 degrees
_LINES = 48
_RANKED = 1500

# Share of a sheet's inside with steps in it, once thin lines are closed: solid blacks make some, a
# tablecloth's pattern makes half.
_BUSIEST = 0.3
_DISTINCT = 16


def whiteness(rgb: Bytes8) -> Floats32:
    """Logarithm of the lowest channel, each taken against its own bright end; shape (H, W)."""
    bright = [max(1, _bright_end(rgb[::4, ::4, channel])) for channel in range(3)]
    shares = np.arange(256)[:, None] / bright
    # The floor keeps the noise of blacks from counting as steps. The logarithm of the lowest is the lowest
    # of the logarithms, and those of 256 values are soon looked up.
    table = np.log(shares + 0.05).astype(np.float32)[None]
    white = np.empty(rgb.shape[:2], np.float32)
    for top in range(0, len(rgb), _STRIP_ROWS_PX):
        strip = slice(top, top + _STRIP_ROWS_PX)
        white[strip] = lowest(cv2.LUT(rgb[strip], table))
    return white


def _bright_end(values: Bytes8) -> int:
    """The value that two percent of all exceed."""
    reached = np.cumsum(np.bincount(values.ravel(), minlength=256))
    return int(np.searchsorted(reached, _BRIGHT_END * reached[-1]))


def sheet_candidates(rgb: Bytes8) -> Iterator[Floats]:
    """Quadrilaterals that may be the sheet, the likelier ones first.

    Those found with and without the pattern of a tablecloth opened away take turns; it is opened away only
    when the first candidate does not do.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photograph.

    Yields
    ------
    ndarray, shape (4, 2)
        Corners in pixels of the photograph, clockwise to the eye.
    """
    height, width = rgb.shape[:2]
    scale = max(1.0, max(height, width) / _COARSE_SIDE_PX)
    size = (max(8, round(width / scale)), max(8, round(height / scale)))
    small: Any = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
    closed = _morphed(small, cv2.MORPH_CLOSE, _LINE_SHARE * max(size))
    white = whiteness(closed)
    factor = np.array([width / size[0], height / size[1]])
    plain = _ranked(white)
    yield from (quad * factor for quad in plain[:1])
    opened = _ranked(_morphed(white, cv2.MORPH_OPEN, _PATTERN_SHARE * max(size)))
    for pair in zip_longest(opened, plain[1:]):
        yield from (quad * factor for quad in pair if quad is not None)


def _morphed(values: NDArray[Any], operation: int, size_px: float) -> NDArray[Any]:
    disc = 2 * max(1, round(size_px / 2)) + 1
    element = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (disc, disc))
    return np.asarray(cv2.morphologyEx(values, operation, element, borderType=cv2.BORDER_REPLICATE))


def _ranked(white: Floats32) -> list[Floats]:
    """Quadrilaterals of one map of whiteness, the likeliest first."""
    white = np.asarray(cv2.GaussianBlur(white, (0, 0), 1.0), dtype=np.float32)
    # A central difference, in logarithms per pixel.
    across = np.asarray(cv2.Scharr(white, cv2.CV_32F, 1, 0), dtype=np.float32) / np.float32(32.0)
    down = np.asarray(cv2.Scharr(white, cv2.CV_32F, 0, 1), dtype=np.float32) / np.float32(32.0)
    return _quads(_directed_lines(across, down), across, down)


def _directed_lines(across: Floats32, down: Floats32) -> Floats:
    """Strongest lines x cos a + y sin a = r whose inner side is where that grows; rows (a, r)."""
    strength = np.hypot(across, down)
    rows, columns = np.nonzero(strength > _STEP)
    if len(rows) == 0:
        return np.empty((0, 2))
    weight = np.minimum(strength[rows, columns], 4 * _STEP)
    direction = np.arctan2(down[rows, columns], across[rows, columns])
    step = 2 * math.pi / _ANGLES
    reach = math.ceil(math.hypot(*across.shape)) + 2
    nearest = np.round(direction / step).astype(np.intp)
    votes = np.zeros(_ANGLES * 2 * reach)
    for spread in range(-_SPREAD, _SPREAD + 1):
        angle = (nearest + spread) % _ANGLES
        r = (columns + 0.5) * np.cos(angle * step) + (rows + 0.5) * np.sin(angle * step)
        cell = angle * 2 * reach + np.floor(r).astype(np.intp) + reach
        votes += np.bincount(cell, weight, minlength=len(votes))
    table = votes.reshape(_ANGLES, 2 * reach).astype(np.float32)
    # Angles go round: two more rows on each side, so that peaks near 0 are found once.
    padded: Any = cv2.GaussianBlur(np.concatenate([table[-4:], table, table[:4]]), (3, 3), 0.8)
    peaks = padded >= cv2.dilate(padded, np.ones((5, 9)))
    peaks &= padded > 0.0
    padded = np.where(peaks, padded, 0.0)[4:-4]
    order = np.argsort(-padded, axis=None, kind="stable")[:_LINES]
    angle, offset = np.unravel_index(order, padded.shape)
    found = padded.ravel()[order] > 0.05 * padded.max()
    return np.asarray(np.stack([angle * step, offset - reach + 0.5], axis=1)[found])


def _quads(lines: Floats, across: Floats32, down: Floats32) -> list[Floats]:
    """Put quadrilaterals together from directed lines and sort them by how well each side shows."""
    first, second = _facing_pairs(lines, across.shape)
    if len(first) == 0:
        return []
    a, b = (index.ravel() for index in np.meshgrid(*[np.arange(len(first))] * 2, indexing="ij"))
    # The second pair of sides is met a quarter turn on: each quadrilateral comes up once.
    turn = _turn(lines[first[b], 0] - lines[first[a], 0])
    least = math.radians(_LEAST_CORNER_DEG)
    crossing = (turn > least) & (turn < math.pi - least)
    sides = np.stack([first[a], first[b], second[a], second[b]], axis=1)[crossing]
    corners = _corners(lines, sides)
    good = _plausible(corners, across.shape)
    sides, corners = sides[good], corners[good]
    if len(sides) == 0:
        return []
    shares = _support(lines, sides, corners, across, down)
    area = _areas(corners) / across.size
    # The weakest side decides; a larger sheet wins over one inside it that shows as well.
    score = shares.min(axis=1) * shares.mean(axis=1) * area**0.25
    best = np.argsort(-score, kind="stable")[:_RANKED]
    corners, score = corners[best], score[best]
    calm = 1.0 - _busy(corners, np.hypot(across, down)) / _BUSIEST
    corners, score = corners[calm > 0.0], (score * calm)[calm > 0.0]
    return [corners[index] for index in _distinct(corners, score, max(across.shape))]


def _busy(corners: Floats, strength: Floats32) -> Floats:
    """Share of the inside of each quadrilateral where there are steps: a tablecloth is full of them."""
    u, v = (grid.ravel() for grid in np.meshgrid(*[np.linspace(0.06, 0.94, 18)] * 2))
    weight = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v])
    height, width = strength.shape
    column = np.clip((corners[:, :, 0] @ weight).astype(np.int32), 0, width - 1)
    row = np.clip((corners[:, :, 1] @ weight).astype(np.int32), 0, height - 1)
    return np.asarray((strength > _STEP).ravel()[row * width + column].mean(axis=1))


def _turn(angle: Floats) -> Floats:
    """Angles in (-pi, pi]."""
    return np.asarray(-((math.pi - angle) % (2 * math.pi) - math.pi))


def _facing_pairs(lines: Floats, shape: tuple[int, ...]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Indices of lines whose inner sides face each other, far enough apart."""
    angle, offset = lines.T
    opposite = np.abs(np.abs(_turn(angle[:, None] - angle[None, :])) - math.pi) < math.radians(40.0)
    centre = np.array([shape[1], shape[0]]) / 2.0
    inside = np.cos(angle) * centre[0] + np.sin(angle) * centre[1] - offset
    # Measured at the middle of the picture: the sum of distances is what lies between the two.
    between = inside[:, None] + inside[None, :] > _SHORTEST_SIDE_SHARE * min(shape)
    first, second = np.nonzero(opposite & between)
    return first, second


def _corners(lines: Floats, sides: NDArray[np.intp]) -> Floats:
    """Where each side meets the next, shape (n, 4, 2); corner i is where side i - 1 meets side i."""
    angle, offset = lines[sides, 0], lines[sides, 1]
    before_angle, before_offset = np.roll(angle, 1, axis=1), np.roll(offset, 1, axis=1)
    sine = np.sin(angle - before_angle)
    sine = np.where(np.abs(sine) < 1e-9, 1e-9, sine)
    x = (before_offset * np.sin(angle) - offset * np.sin(before_angle)) / sine
    y = (offset * np.cos(before_angle) - before_offset * np.cos(angle)) / sine
    return np.stack([x, y], axis=2)


def _plausible(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    height, width = shape
    margin = _OUTSIDE_SHARE * max(shape)
    x, y = corners[:, :, 0], corners[:, :, 1]
    inside = (x > -margin) & (x < width + margin) & (y > -margin) & (y < height + margin)
    edge = np.roll(corners, -1, axis=1) - corners
    length = np.linalg.norm(edge, axis=2)
    following = np.roll(edge, -1, axis=1)
    sine = edge[:, :, 0] * following[:, :, 1] - edge[:, :, 1] * following[:, :, 0]
    sine /= np.maximum(length * np.roll(length, -1, axis=1), 1e-9)
    convex = sine > math.sin(math.radians(_LEAST_CORNER_DEG))
    long = length > _SHORTEST_SIDE_SHARE * min(shape)
    good: NDArray[np.bool_] = (inside & convex & long).all(axis=1)
    return good & (_areas(corners) > _LEAST_AREA_SHARE * height * width)


def _areas(corners: Floats) -> Floats:
    following = np.roll(corners, -1, axis=1)
    cross = corners[:, :, 0] * following[:, :, 1] - corners[:, :, 1] * following[:, :, 0]
    return np.asarray(cross.sum(axis=1) / 2.0)


def _support(
    lines: Floats, sides: NDArray[np.intp], corners: Floats, across: Floats32, down: Floats32
) -> Floats:
    """Share of each side, shape (n, 4), along which the gradient points to its inside."""
    reach = math.ceil(math.hypot(*across.shape))
    along = np.arange(-reach, reach + 1, dtype=np.float64)
    sums = np.stack([_running_support(line, along, across, down) for line in lines])
    angle = lines[sides, 0]
    tangent = np.stack([-np.sin(angle), np.cos(angle)], axis=2)
    start = (corners * tangent).sum(axis=2)
    end = (np.roll(corners, -1, axis=1) * tangent).sum(axis=2)
    low = np.clip(np.round(np.minimum(start, end)).astype(np.intp) + reach, 0, 2 * reach)
    high = np.clip(np.round(np.maximum(start, end)).astype(np.intp) + reach, 0, 2 * reach)
    return np.asarray((sums[sides, high] - sums[sides, low]) / np.maximum(high - low, 1))


def _running_support(line: Floats, along: Floats, across: Floats32, down: Floats32) -> Floats:
    """Number of supported places along one line up to each place."""
    height, width = across.shape
    cosine, sine = math.cos(line[0]), math.sin(line[0])
    best = np.zeros(len(along))
    for shift in (-1.5, 0.0, 1.5):
        column = np.floor((line[1] + shift) * cosine - along * sine).astype(np.intp)
        row = np.floor((line[1] + shift) * sine + along * cosine).astype(np.intp)
        seen = (column >= 0) & (column < width) & (row >= 0) & (row < height)
        slope = np.zeros(len(along))
        slope[seen] = cosine * across[row[seen], column[seen]] + sine * down[row[seen], column[seen]]
        best = np.maximum(best, slope)
    return np.asarray(np.cumsum(best > _STEP), dtype=np.float64)


def _distinct(corners: Floats, score: Floats, side_px: int) -> list[int]:
    """Indices by falling score, near doubles left out."""
    order = np.argsort(-score, kind="stable")
    left = corners[order]
    kept: list[int] = []
    while len(order) and len(kept) < _DISTINCT:
        kept.append(int(order[0]))
        turned = np.stack([np.roll(left[0], turn, axis=0) for turn in range(4)])
        # The largest distance between corners, at the nearest way round.
        apart = np.abs(left[:, None] - turned).max(axis=(2, 3)).min(axis=1)
        order, left = order[apart > 0.012 * side_px], left[apart > 0.012 * side_px]
    return kept
