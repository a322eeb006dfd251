"""Find the sheet of paper in a photograph, beyond doubt or not at all.

Method: each candidate of `limner.capture.paper.candidates` is refined and then has to prove itself.

* Refined: whiteness is sampled along profiles across each side. The straight line that most profiles
  step at, with paper all along its inner side, is found by voting, then fitted to the sub-pixel places
  of the steps by least squares with Tukey's weights. Corners are where the lines meet.
* Proven: each side shows along a good part of its length, as a *sharp* step; what lies outside does
  not turn into paper again (a drawn frame does); and the inside is mostly paper.

Limits: the four sides must be straight to about a sixth of a per cent of the picture, and the table
must be darker or more coloured than the paper.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.capture.paper.candidates import sheet_candidates, whiteness
from limner.capture.paper.perspective import homography, project
from limner.capture.surfaces import cells
from limner.model.arrays import Flags, Floats

__all__ = ["Sheet", "find_sheet"]

Floats32 = NDArray[np.float32]
Bytes8 = NDArray[np.uint8]

# Longest side of the picture in which sides are located: a tenth of its pixel is below 0.01 %.
_FINE_SIDE_PX = 1600

# Candidates are off by up to this share of the longest side; the second pass looks more closely.
_FIRST_REACH_SHARE = 0.022
_SECOND_REACH_SHARE = 0.006

# Places along a side, short of its corners, which may be bent or held down.
_PLACES = 96
_SHORT_OF_CORNERS = 0.04

# Natural logarithms of brightness ratios: per pixel at a step; between paper and table; within paper.
_STEP = 0.03
_TABLE = 0.1
_PAPER = 0.25
_SHADED_PAPER = 0.9

# A place supports the fitted line within this share of the longest side: room for a lens's distortion.
_STRAIGHT_SHARE = 0.0016

# How much of each side must show, the worst one and on average. On a checked cloth about half of the
# places have a light field beside them and show nothing. A size that the user names vouches for the
# sheet, so less will do.
_WORST_SIDE = 0.3
_MEAN_SIDE = 0.42
_NAMED_EASE = 0.7

# A candidate that shows this well is taken without looking at the others.
_BEYOND_DOUBT = 0.99

# Half-widths of a step, as shares of the longest side, and how much of the wide one is in the narrow
# one: the edge of a patch of sunlight is softer.
_NARROW_SHARE = 0.004
_WIDE_SHARE = 0.012
_SHARP = 0.55

# Distances outside a side, as shares of the sheet's size, at which there must be table.
_OUTSIDE_SHARES = (0.02, 0.03, 0.045, 0.065)
_TABLE_PLACES = 0.6
_TABLE_SAMPLES = 0.3

# Share of the sheet's inside that looks like paper in some light.
_PAPER_INSIDE = 0.55

# Share of all that lies outside that may be as white as the sheet: the light half of a checked cloth,
# but not the paper around a drawn frame.
_PAPER_OUTSIDE = 0.65


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A sheet of paper found in a photograph.

    Parameters
    ----------
    corners : ndarray of float64, shape (4, 2)
        Pixels of the photograph; top left, top right, bottom right, bottom left as the sheet lies.
    shown : float
        Share of its outline that shows as a straight, sharp step, 0 to 1.
    """

    corners: Floats
    shown: float


def find_sheet(rgb: Bytes8, *, named: bool = False) -> Sheet | None:
    """Find the sheet of paper in a photograph.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The photograph.
    named : bool
        Whether the user says that a sheet is to be seen.

    Returns
    -------
    Sheet or None
        None when in doubt.
    """
    height, width = rgb.shape[:2]
    step = max(1, round(max(height, width) / _FINE_SIDE_PX))
    fine = cells(rgb, step)
    white = np.asarray(cv2.GaussianBlur(whiteness(fine), (0, 0), 0.8), dtype=np.float32)
    ease = _NAMED_EASE if named else 1.0
    best: Sheet | None = None
    for candidate in sheet_candidates(fine):
        found = _refined(white, candidate, ease)
        if found is None or (best is not None and found.shown <= best.shown):
            continue
        if _proven(white, found.corners):
            best = Sheet(_as_it_lies(found.corners * step), found.shown)
            if best.shown >= _BEYOND_DOUBT:
                break
    return best


def _as_it_lies(corners: Floats) -> Floats:
    """Turn the clockwise corners so that the first is the top left one."""
    edges = np.roll(corners, -1, axis=0) - corners
    # The side that runs most to the right is the top.
    top = int(np.argmax(edges[:, 0] / np.linalg.norm(edges, axis=1)))
    return np.roll(corners, -top, axis=0)


def _refined(white: Floats32, corners: Floats, ease: float) -> Sheet | None:
    """Fit the four sides; None where they do not show."""
    side_px = max(white.shape)
    for share in (_FIRST_REACH_SHARE, _SECOND_REACH_SHARE):
        reach = max(4, round(share * side_px))
        lines, shown = np.empty((4, 3)), np.empty(4)
        for index in range(4):
            start, end = corners[index], corners[(index + 1) % 4]
            lines[index], shown[index] = _fitted_side(white, start, end, reach)
            if shown[index] < _WORST_SIDE * ease:
                return None
        if shown.mean() < _MEAN_SIDE * ease:
            return None
        corners = _meeting_points(lines)
    return Sheet(corners, float(shown.mean()))


def _meeting_points(lines: Floats) -> Floats:
    """Corner i is where line i - 1 meets line i; lines as homogeneous rows."""
    points = np.cross(np.roll(lines, 1, axis=0), lines)
    return np.asarray(points[:, :2] / points[:, 2:])


def _profiles(
    white: Floats32, start: Floats, end: Floats, across: Floats
) -> tuple[Floats32, Floats, Floats, Flags]:
    """Sample across a side.

    Parameters
    ----------
    white : ndarray of float32
        The map sampled.
    start, end : ndarray, shape (2,)
        The side's ends; its inside is to the right of its way, as the eye sees it.
    across : ndarray, shape (k,)
        Distances from the side, pixels, positive inside.

    Returns
    -------
    values : ndarray of float32, shape (n, k)
    places : ndarray, shape (n, 2)
        Points on the side.
    normal : ndarray, shape (2,)
        Unit vector to the inside.
    seen : ndarray of bool, shape (n, k)
        Which samples lie in the picture.
    """
    along = np.linspace(_SHORT_OF_CORNERS, 1.0 - _SHORT_OF_CORNERS, _PLACES)
    tangent = (end - start) / np.linalg.norm(end - start)
    normal = np.array([-tangent[1], tangent[0]])
    places = start + along[:, None] * (end - start)
    points = places[:, None, :] + across[None, :, None] * normal
    height, width = white.shape
    seen = ((points > 0.0) & (points < (width, height))).all(axis=2)
    sample = (points - 0.5).astype(np.float32)
    values = cv2.remap(
        white, sample[:, :, 0], sample[:, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(values, dtype=np.float32), places, normal, seen


def _fitted_side(white: Floats32, start: Floats, end: Floats, reach: int) -> tuple[Floats, float]:
    """Line, homogeneous, along which one side shows best, and the share of its places that show it."""
    across = np.arange(-reach - 8, reach + 9, dtype=np.float64)
    values, places, normal, seen = _profiles(white, start, end, across)
    rise = np.zeros_like(values)
    rise[:, 1:-1] = (values[:, 2:] - values[:, :-2]) / 2.0
    rise *= _paper_inside(values) & seen
    offset, slope = _voted(np.clip(rise / _STEP, 0.0, 1.0), reach)
    expected = offset + slope * np.linspace(-0.5, 0.5, _PLACES)
    found, strong = _steps_near(rise, expected + reach + 8)
    distance = found - (reach + 8)
    tolerance = max(1.0, _STRAIGHT_SHARE * max(white.shape))
    coefficients = _robust_line(np.linspace(-0.5, 0.5, _PLACES), distance, strong, tolerance)
    fitted = coefficients[0] + coefficients[1] * np.linspace(-0.5, 0.5, _PLACES)
    shows = strong & (np.abs(distance - fitted) <= tolerance)
    in_view = seen[:, reach + 8]
    share = float(shows.sum() / max(int(in_view.sum()), _PLACES // 2))
    ends = places[[0, -1]] + fitted[[0, -1], None] * normal
    return np.cross([*ends[0], 1.0], [*ends[1], 1.0]), share


def _paper_inside(values: Floats32) -> Flags:
    """Where the next few samples to the inside of each are as white as the paper further in."""
    paper = np.median(values[:, -(values.shape[1] // 4) :], axis=1, keepdims=True)
    lowest = cv2.erode(values, np.ones((1, 7), np.uint8), borderType=cv2.BORDER_REPLICATE)
    ahead = np.roll(lowest, -5, axis=1)
    ahead[:, -5:] = lowest[:, -1:]
    return np.asarray(ahead > paper - np.float32(_PAPER))


def _voted(support: Floats32, reach: int) -> tuple[float, float]:
    """Offset at the middle and slope from end to end of the straight line with most support."""
    offsets = np.arange(-reach, reach + 1)
    slopes = np.linspace(-reach, reach, reach + 1)
    every = np.arange(0, _PLACES, 2)
    part = np.linspace(-0.5, 0.5, _PLACES)[every]
    reached = offsets[:, None, None] + slopes[None, :, None] * part
    inside = np.abs(reached) <= reach + 4
    index = np.clip(np.round(reached), -reach - 7, reach + 7).astype(np.intp) + reach + 8
    votes = (support[every, index] * inside).sum(axis=2)
    best = np.unravel_index(int(np.argmax(votes)), votes.shape)
    return float(offsets[best[0]]), float(slopes[best[1]])


def _steps_near(rise: Floats32, expected: Floats) -> tuple[Floats, Flags]:
    """Sub-pixel places of the steepest rise near what is expected, and whether there is one."""
    window = np.arange(-4, 5)
    middle = np.round(expected).astype(np.intp)
    index = np.clip(middle[:, None] + window, 1, rise.shape[1] - 2)
    rows = np.arange(len(rise))
    peak = index[rows, np.argmax(rise[rows[:, None], index], axis=1)]
    before, at, after = (rise[rows, peak + shift].astype(np.float64) for shift in (-1, 0, 1))
    bend = before - 2.0 * at + after
    shift = np.where(bend < 0.0, 0.5 * (before - after) / np.where(bend < 0.0, bend, 1.0), 0.0)
    return peak + np.clip(shift, -0.5, 0.5), at > _STEP


def _robust_line(at: Floats, value: Floats, use: Flags, scale: float) -> Floats:
    """Intercept and slope by least squares with Tukey's biweight, from the median outwards."""
    if use.sum() < 4:
        return np.zeros(2)
    design = np.stack([np.ones_like(at), at], axis=1)
    coefficients = np.array([np.median(value[use]), 0.0])
    width = max(4.0 * scale, 6.0)
    for _ in range(8):
        residual = (value - design @ coefficients) / width
        weight = np.where(use & (np.abs(residual) < 1.0), (1.0 - residual**2) ** 2, 0.0)
        if np.count_nonzero(weight) < 4:
            break
        root = np.sqrt(weight)
        coefficients = np.linalg.lstsq(design * root[:, None], value * root, rcond=None)[0]
        width = max(width * 0.7, 1.5 * scale)
    return coefficients


def _proven(white: Floats32, corners: Floats) -> bool:
    """Whether the inside is paper, the sides are sharp, and the outside is table."""
    lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    outside = -np.array(_OUTSIDE_SHARES) * float(np.sqrt(lengths.min() * lengths.max()))
    narrow, wide = (share * max(white.shape) for share in (_NARROW_SHARE, _WIDE_SHARE))
    across = np.concatenate([outside, [-wide, -narrow, narrow, wide]])
    sides_seen = 0
    for index in range(4):
        values, _, _, seen = _profiles(white, corners[index], corners[(index + 1) % 4], across)
        if not _is_sharp(values[:, -4:]):
            return False
        if _goes_on_as_table(values[:, -1], values[:, :-4], seen[:, :-4]):
            sides_seen += 1
        elif seen[:, 0].mean() > 0.25:
            return False
    # Where the sheet ends at the picture's border, the other sides have to vouch for it.
    return sides_seen >= 3 and _is_paper(white, corners)


def _is_sharp(values: Floats32) -> bool:
    """Whether the step, where there is one, happens within the narrow distance; columns far to near."""
    far_out, out, near_in, far_in = values.T
    step = near_in - out
    shows = step > _TABLE
    if not shows.any():
        return False
    # Beside a pattern the wide step may be none at all.
    share = np.median(step[shows] / np.maximum(far_in - far_out, step)[shows])
    return bool(share >= _SHARP)


def _goes_on_as_table(paper: Floats32, outside: Floats32, seen: Flags) -> bool:
    """Whether what lies outside a side differs from the paper inside it, well away from the side too."""
    differs = (paper[:, None] - outside > _TABLE) & seen
    places: Flags = np.asarray(seen.any(axis=1))
    if places.sum() < 0.25 * len(places):
        return False
    by_place = np.asarray(differs.any(axis=1))[places].mean()
    by_sample = differs.sum() / max(int(seen.sum()), 1)
    return bool(by_place >= _TABLE_PLACES and by_sample >= _TABLE_SAMPLES)


def _is_paper(white: Floats32, corners: Floats) -> bool:
    """Whether most of the inside is as white as paper in some light, and the outside is not."""
    grid = (np.arange(32) + 0.5) / 32.0
    unit = np.stack(np.meshgrid(grid, grid), axis=2).reshape(-1, 2)
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    size = np.array([white.shape[1], white.shape[0]])
    to_square = homography(corners, square)
    column, row = np.clip(np.floor(project(homography(square, corners), unit)), 0, size - 1).astype(np.intp).T
    inside = white[row, column]
    shaded = inside > np.percentile(inside, 90) - _SHADED_PAPER
    everywhere = unit * size
    column, row = np.floor(everywhere).astype(np.intp).T
    place = project(to_square, everywhere)
    around = white[row, column][((place < -0.02) | (place > 1.02)).any(axis=1)]
    like_paper = around > np.percentile(inside, 30) - _TABLE
    return bool(shaded.mean() >= _PAPER_INSIDE and like_paper.mean() <= _PAPER_OUTSIDE)
