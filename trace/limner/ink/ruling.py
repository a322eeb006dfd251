"""Ruled and squared paper: the printed lines are found as a family, and divided out.

Each printed line runs from border to border, nearly straight, at an even distance from the next. In a
small picture the best paths from the left to the right border are found by dynamic programming over
columns (a path may climb a little from one column to the next, so that a fold or a tilted page does not
break it); those that are dark nearly all the way and evenly spaced are the ruling. Squared paper is the
same, once more on its side.

Under a printed line the page is divided by the line's own profile, so that ink which crosses it stays;
what is left there counts only where it is clearly darker than the unevenness of the print, or where
there is ink above and below.

Limits: at most 14 degrees of tilt; fewer than four lines are no ruling; a pencil line fainter than the
print and lying along it is lost with it.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.ink.filters import Floats, odd, quantile

__all__ = ["Ruling", "erase_ruling", "find_ruling"]

_BLOCK_PX = 4
"""Columns of the small picture that are one step of a path. A path climbs by at most a row per step, thus by
14 degrees: more than a page is tilted by in a photograph taken by hand."""

_CLIMB_COST = 0.05
"""What a climb costs of the one point that a dark step earns: enough to keep a path straight over bare paper,
too little to keep it from following a tilt."""

_WIDEST_SHARE = 0.005
"""Printed lines are narrower than this share of the picture's long side: 1.5 mm on A4."""

_LEAST_CONTRAST = 0.03
"""A printed line paler than this is not seen as a line by the later steps either."""

_COVERED = 0.65
"""Share of a path that must be dark: the drawing hides a part of a printed line, not the most."""

_COVERED_BESIDE = 0.4
"""The same for a line that the spacing of the others foretells."""

_SHARED = 0.2
"""Paths that run together over this share of their way follow one printed line, the worse with detours."""

_FEWEST = 4
"""Fewer parallel lines than this may well be drawn."""

_UNEVEN = 0.15
"""Deviation from even spacing, as a share of it, that perspective and a fold cause between neighbours."""

_CLEARLY = 0.6
"""What is left after the division is ink if its contrast is above this share of the print's own: print
varies along its length by less."""

_INK = 0.15
"""Contrast beside a printed line from which something drawn crosses it there."""

_DRIFT_PX = 41
"""The course of a printed line is straight over this many pixels."""

_PART_PX = 80
_PARTS = 7
"""The print's profile is the median over a part of this length, and over this many parts: focus and light
change over longer stretches, ink along the print is shorter."""

_TAIL = 0.12
"""The profile of a printed line ends where its contrast has fallen to this share."""


@dataclass(frozen=True, slots=True, eq=False)
class Ruling:
    """Printed lines of one direction.

    Parameters
    ----------
    centres : ndarray of float64, shape (lines, steps)
        Height of each line in page pixels, at `at`.
    at : ndarray of float64, shape (steps,)
        Where along the lines that is, in page pixels.
    upright : bool
        Whether the lines run from top to bottom: x and y are then swapped.
    """

    centres: NDArray[np.float64]
    at: NDArray[np.float64]
    upright: bool


def find_ruling(small: Floats, reduction: float) -> tuple[Ruling, ...]:
    """Find the printed lines of a page.

    Parameters
    ----------
    small : ndarray of float32, shape (h, w)
        The page reduced to some 1600 px, paper near 1.
    reduction : float
        Page pixels per pixel of `small`.

    Returns
    -------
    tuple of Ruling
        One for ruled paper, two for squared paper, none for plain paper.
    """
    found = []
    for upright in (False, True):
        picture = np.ascontiguousarray(small.T) if upright else small
        paths = _find_family(picture)
        if paths is not None:
            at = (np.arange(paths.shape[1]) + 0.5) * _BLOCK_PX
            found.append(
                Ruling(
                    np.asarray((paths + 0.5) * reduction, np.float64),
                    np.asarray(at * reduction, np.float64),
                    upright,
                )
            )
    return tuple(found)


def _find_family(small: Floats) -> NDArray[np.float64] | None:
    """Rows (lines, steps) of the near-horizontal printed lines in `small`, or None."""
    response = _thin_and_level(small)
    reach = odd(2 * _WIDEST_SHARE * max(small.shape))
    leftwards, rightwards = _best_paths(response), _best_paths(response[::-1])
    middle = len(response) // 2
    score = leftwards.score[middle] + rightwards.score[len(response) - 1 - middle] - response[middle]
    rows = _peaks(score / len(response), reach)
    if len(rows) < _FEWEST:
        return None
    rows = rows[np.argsort(-score[rows], kind="stable")]
    left = leftwards.follow(rows, middle)[::-1]
    right = rightwards.follow(rows, len(response) - 1 - middle)
    paths = _centred(response, np.concatenate([left, right[1:]]).T.astype(np.float64), reach)
    paths = _distinct(paths, reach)
    if len(paths) < _FEWEST or not _evenly_spaced(paths):
        return None
    return _completed(response, paths, reach)


def _thin_and_level(small: Floats) -> Floats:
    """How sure a dark thin structure lies across each step of columns, shape (steps, rows), 0 to 1."""
    tall = np.ones((odd(3 * _WIDEST_SHARE * max(small.shape), 7), 1), np.uint8)
    hat = np.asarray(cv2.morphologyEx(small, cv2.MORPH_BLACKHAT, tall), np.float32)
    steps = small.shape[1] // _BLOCK_PX
    hat = hat[:, : steps * _BLOCK_PX].reshape(len(hat), steps, _BLOCK_PX).mean(axis=2)
    middle = quantile(hat, 0.5)
    spread = 1.4826 * quantile(np.abs(hat - np.float32(middle)), 0.5)
    level = max(middle + 3 * spread, _LEAST_CONTRAST)
    return np.ascontiguousarray(np.clip(hat / np.float32(level) - 1, 0, 1).T)


@dataclass(frozen=True, slots=True, eq=False)
class _Paths:
    """The best path to each place from the first step on: its score, and from which row it came."""

    score: Floats
    came: NDArray[np.int8]

    def follow(self, rows: NDArray[np.intp], step: int) -> NDArray[np.intp]:
        """Rows of the paths that are at `rows` at `step`, back to the first step: shape (step + 1, n)."""
        track = [rows]
        for index in range(step, 0, -1):
            track.append(track[-1] + self.came[index][track[-1]])
        return np.array(track)


def _best_paths(response: Floats) -> _Paths:
    score = response.copy()
    came = np.zeros(response.shape, np.int8)
    low = np.float32(-1e9)
    for step in range(1, len(response)):
        before = score[step - 1]
        above = np.concatenate([[low], before[:-1]]) - np.float32(_CLIMB_COST)
        below = np.concatenate([before[1:], [low]]) - np.float32(_CLIMB_COST)
        best = np.maximum(before, np.maximum(above, below))
        came[step] = np.where(before >= best, 0, np.where(above >= best, -1, 1))
        score[step] += best
    return _Paths(score, came)


def _peaks(score: Floats, reach: int) -> NDArray[np.intp]:
    """Rows whose score is the best within reach, and good enough."""
    column = np.ascontiguousarray(score[:, None], np.float32)
    best = cv2.dilate(column, np.ones((reach, 1), np.uint8))[:, 0]
    rows = np.flatnonzero((score >= best) & (score > _COVERED))
    starts = np.flatnonzero(np.diff(rows, prepend=-2) > 1)
    return np.array([run[len(run) // 2] for run in np.split(rows, starts[1:])] if len(rows) else [], np.intp)


def _centred(response: Floats, paths: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """Move each path to the middle of the dark structure that it follows, and smooth it."""
    offsets = np.arange(-(reach // 2), reach // 2 + 1)
    rows = np.rint(paths).astype(np.intp)[..., None] + offsets
    weight = response[np.arange(len(response))[None, :, None], np.clip(rows, 0, response.shape[1] - 1)]
    weight = np.where((rows < 0) | (rows >= response.shape[1]), 0, weight)
    total = weight.sum(axis=2)
    moved = (weight * rows).sum(axis=2) / np.maximum(total, 1e-6)
    moved = np.where(total > 0.3, moved, np.nan)
    return np.array([_smoothed(there, path) for there, path in zip(moved, paths, strict=True)])


def _smoothed(seen: NDArray[np.float64], path: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median along the path of where it was seen, so that ink which crosses it does not bend it."""
    half = 10
    known = np.flatnonzero(np.isfinite(seen))
    if len(known) < 2 * half:
        return path
    filled = np.interp(np.arange(len(seen)), known, seen[known])
    padded = np.pad(filled, half, mode="reflect", reflect_type="odd")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    middle = np.median(windows, axis=1)
    kernel = np.ones(half) / half
    return np.convolve(np.pad(middle, (half // 2, half - 1 - half // 2), mode="edge"), kernel, mode="valid")


def _distinct(paths: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """Paths in order from the top, without those that share a part of their way with a better one."""
    keep: list[int] = []
    for index in range(len(paths)):
        shared = np.abs(paths[keep] - paths[index]) <= reach
        if not keep or shared.mean(axis=1).max() < _SHARED:
            keep.append(index)
    return paths[keep][np.argsort(np.median(paths[keep], axis=1))]


def _evenly_spaced(paths: NDArray[np.float64]) -> bool:
    """Whether nearly all distances are whole multiples of one."""
    gaps = np.diff(np.median(paths, axis=1))
    unit = np.median(gaps)
    off = np.abs(gaps / unit - np.rint(gaps / unit))
    return bool(np.mean(off < _UNEVEN) >= 0.8)


def _completed(response: Floats, paths: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """Add the lines that the spacing foretells: hidden ones between, and those that leave the page."""
    gaps = np.diff(paths, axis=0)
    unit = float(np.median(gaps))
    between = [
        low + gap * part / count
        for low, gap in zip(paths[:-1], gaps, strict=True)
        if (count := round(float(np.median(gap)) / unit)) > 1
        for part in range(1, count)
    ]
    beyond = []
    for edge, pitch in ((paths[0], -_usual_gap(gaps[:3])), (paths[-1], _usual_gap(gaps[-3:]))):
        beyond += [edge + pitch * count for count in range(1, 5)]
    extra = _centred(response, np.array(between + beyond), reach)
    seen = np.array([_seen(response, path, reach) for path in extra])
    return np.concatenate([paths, extra[seen > _COVERED_BESIDE]])


def _usual_gap(gaps: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(gaps[np.argsort(np.median(gaps, axis=1))[len(gaps) // 2]])


def _seen(response: Floats, path: NDArray[np.float64], reach: int) -> float:
    """Share of the path's part on the page that is dark; 0 where hardly any of it is on the page."""
    rows = np.rint(path).astype(np.intp)
    on_page = (rows >= reach // 2) & (rows < response.shape[1] - reach // 2)
    if on_page.mean() < 0.1:
        return 0.0
    steps = np.flatnonzero(on_page)
    near = [response[steps, rows[steps] + shift] for shift in (-1, 0, 1)]
    return float(np.mean(np.max(near, axis=0) > 0))


def erase_ruling(grey: Floats, rulings: tuple[Ruling, ...], step: float) -> Floats:
    """Take the printed lines out of a picture.

    Parameters
    ----------
    grey : ndarray of float32, shape (H, W)
        The page on some raster, paper near 1.
    rulings : tuple of Ruling
        As found by `find_ruling`.
    step : float
        Page pixels per pixel of that raster.

    Returns
    -------
    ndarray of float32, shape (H, W)
        The page without them; `grey` itself where there are none.
    """
    for ruling in rulings:
        picture = np.ascontiguousarray(grey.T) if ruling.upright else grey.copy()
        across = np.arange(picture.shape[1]) + 0.5
        lines = np.array([np.interp(across, ruling.at / step, line / step) for line in ruling.centres])
        _divide_out(picture, lines)
        grey = np.ascontiguousarray(picture.T) if ruling.upright else picture
    return grey


def _divide_out(picture: Floats, lines: NDArray[np.float64]) -> None:
    """Divide the picture by the profile of the printed lines, in place."""
    reach = max(4, round(_WIDEST_SHARE * max(picture.shape)))
    band = _Band.around(picture, lines, reach)
    band = _Band.around(picture, lines + band.drift(), reach)
    profile, half = band.profile()
    print_contrast = 1 - profile.min(axis=1, keepdims=True)
    through = band.at_offset(profile)
    divided = np.where(through > 0.98, band.values, band.values / np.maximum(through, np.float32(0.1)))
    divided[divided > 1 - _CLEARLY * print_contrast] = 1.0
    beside = [band.beside(picture, side * (half + 1.0)) for side in (-1, 1)]
    width = 2 * round(float(half.max())) + 1
    ink_near = np.minimum(*(cv2.erode(level, np.ones((1, width), np.uint8)) for level in beside))
    # Ink in the band goes on beyond it; what lies along the print alone is print.
    divided[np.broadcast_to((ink_near > 1 - _INK)[:, None, :], divided.shape)] = 1.0
    result = np.minimum(divided, np.maximum(*beside)[:, None, :])
    change = band.inside & (np.abs(band.offset) <= half[:, None, :] + 0.5)
    picture[band.rows[change], band.columns[change]] = np.maximum(result, band.values)[change]


@dataclass(frozen=True, slots=True, eq=False)
class _Band:
    """The pixels around each printed line, all arrays (lines, rows of the band, columns)."""

    lines: NDArray[np.float64]
    rows: NDArray[np.intp]
    columns: NDArray[np.intp]
    inside: NDArray[np.bool_]
    offset: NDArray[np.float64]
    values: Floats

    @classmethod
    def around(cls, picture: Floats, lines: NDArray[np.float64], reach: int) -> "_Band":
        """The band that reaches `reach` pixels to both sides of each line."""
        rows = np.floor(lines).astype(np.intp)[:, None, :] + np.arange(-reach, reach + 1)[None, :, None]
        inside = (rows >= 0) & (rows < len(picture))
        rows = np.clip(rows, 0, len(picture) - 1)
        columns = np.broadcast_to(np.arange(picture.shape[1]), rows.shape)
        offset = rows + 0.5 - lines[:, None, :]
        return cls(lines, rows, columns, inside, offset, picture[rows, columns])

    @property
    def reach(self) -> int:
        """Rows of the band to each side of its middle."""
        return int(self.rows.shape[1] // 2)

    def drift(self) -> NDArray[np.float64]:
        """How far the dark middle lies from the line, per column; smoothed along it, ink left out."""
        darkness = np.where(self.inside, 1 - self.values, 0)
        usual = np.median(darkness.max(axis=1), axis=1)[:, None, None]
        weight = np.clip(darkness - 0.3 * usual, 0, None)
        total = weight.sum(axis=1)
        shift = (weight * self.offset).sum(axis=1) / np.maximum(total, 1e-6)
        # A column with much more darkness than usual holds ink, one with none says nothing.
        plain = (total < 1.6 * np.median(total, axis=1, keepdims=True)) & (total > 0)
        shift = np.array([_interpolated(line, seen) for line, seen in zip(shift, plain, strict=True)])
        return _running_median(shift, _DRIFT_PX)

    def profile(self) -> tuple[Floats, NDArray[np.float64]]:
        """Level of the print at each whole offset, paper being 1, and half its width, both along the line.

        Returns
        -------
        profile : ndarray of float32, shape (lines, offsets, columns)
        half : ndarray of float64, shape (lines, columns)
        """
        parts = np.array_split(np.arange(self.rows.shape[2]), max(1, self.rows.shape[2] // _PART_PX))
        middles = np.array([part.mean() for part in parts])
        levels = np.array([np.median(self.values[:, :, part], axis=2) for part in parts])
        paper = np.median(levels[:, :, [0, 1, -2, -1]], axis=2)
        levels = np.minimum(levels / np.maximum(paper, 0.1)[:, :, None], 1.0)
        # Ink that runs along the print fills a part or two; the print itself is like its other parts.
        levels = _running_median(levels.T, _PARTS).T
        deepest = 1 - levels.min(axis=2)
        dark = 1 - levels > np.maximum(_TAIL * deepest, _LEAST_CONTRAST / 2)[:, :, None]
        halves = np.where(dark, np.abs(np.arange(-self.reach, self.reach + 1)), 0).max(axis=2) + 0.5
        across = np.arange(self.rows.shape[2])
        place = np.interp(across, middles, np.arange(len(parts)))
        low = np.minimum(place.astype(np.intp), max(len(parts) - 2, 0))
        high = np.minimum(low + 1, len(parts) - 1)
        share = place - low
        profile = levels[low] * (1 - share)[:, None, None] + levels[high] * share[:, None, None]
        half = np.maximum(halves[low], halves[high])
        return np.asarray(profile.transpose(1, 2, 0), np.float32), half.T

    def at_offset(self, profile: Floats) -> Floats:
        """The profile, moved by each column's fraction of a pixel onto the rows of the band."""
        share = (self.offset[:, :1, :] - np.round(self.offset[:, :1, :])).astype(np.float32)
        before = np.concatenate([profile[:, :1], profile[:, :-1]], axis=1)
        after = np.concatenate([profile[:, 1:], profile[:, -1:]], axis=1)
        return np.where(share < 0, profile + share * (profile - before), profile + share * (after - profile))

    def beside(self, picture: Floats, distance: NDArray[np.float64]) -> Floats:
        """Level of the picture at a distance from each line, per column."""
        rows = np.clip(np.floor(self.lines + distance).astype(np.intp), 0, len(picture) - 1)
        return np.asarray(picture[rows, np.arange(picture.shape[1])[None, :]], np.float32)


def _interpolated(values: NDArray[np.float64], known: NDArray[np.bool_]) -> NDArray[np.float64]:
    if not known.any():
        return np.zeros_like(values)
    return np.interp(np.arange(len(values)), np.flatnonzero(known), values[known])


def _running_median(values: NDArray[np.float64], side: int) -> NDArray[np.float64]:
    """Median over `side` neighbours along the last axis; at the ends the last value is repeated."""
    pad = [(0, 0)] * (values.ndim - 1) + [(side // 2, side // 2)]
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(values, pad, mode="edge"), side, axis=-1)
    return np.asarray(np.median(windows, axis=-1))
