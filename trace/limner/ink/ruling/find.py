"""Ruled and squared paper: the printed lines are found as a family.

Each printed line runs from border to border, nearly straight, at an even distance from the next. In a
small picture the best paths from the left to the right border are found by dynamic programming over
columns (a path may climb a little from one column to the next, so that a fold or a tilted page does not
break it); those that are dark nearly all the way and evenly spaced are the ruling. Squared paper is the
same, once more on its side.

Limits: at most 14 degrees of tilt; fewer than four lines are no ruling.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.ink.filters import odd, quantile
from limner.model.arrays import Singles

__all__ = ["LEAST_CONTRAST", "WIDEST_SHARE", "Ruling", "find_ruling", "running_median"]

_BLOCK_PX = 4
"""Columns of the small picture that are one step of a path. A path climbs by at most a row per step, thus by
14 degrees: more than a page is tilted by in a photograph taken by hand."""

_CLIMB_COST = 0.05
"""What a climb costs of the one point that a dark step earns: enough to keep a path straight over bare paper,
too little to keep it from following a tilt."""

WIDEST_SHARE = 0.005
"""Printed lines are narrower than this share of the picture's long side: 1.5 mm on A4."""

LEAST_CONTRAST = 0.03
"""A printed line paler than this is not seen as a line by the later steps either."""

_COVERED = 0.65
"""Share of a path that must be dark: the drawing hides a part of a printed line, not the most."""

_RUN = 0.25
"""Length of the run in which a dark step lies, on average, as a share of the page's width: above 0.3 for
print that drawings cross, mostly below 0.2 for rows of letters."""

_COVERED_ALONE = 0.85
"""The same for a line that has no neighbours to speak for it."""

_COVERED_BESIDE = 0.4
"""The same for a line that the spacing of the others foretells."""

_SHARED = 0.2
"""Paths that run together over this share of their way follow one printed line, the worse with detours."""

_FEWEST = 4
"""Fewer parallel lines than this may well be drawn."""

_STRAY = 0.15
"""Share of the spacing by which the distance from the neighbours' middle may change along a printed line."""

_BEYOND = 8
"""How many more lines are looked for on each side of those that cross the whole page: those that leave it
early where it is tilted."""

_UNEVEN = 0.15
"""Deviation from even spacing, as a share of it, that perspective and a fold cause between neighbours."""


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


def find_ruling(small: Singles, reduction: float) -> tuple[Ruling, ...]:
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
        One for ruled paper (two where it has a margin line), two for squared paper, none for plain paper.
    """
    pictures = [small, np.ascontiguousarray(small.T)]
    families = [_find_family(picture) for picture in pictures]
    if all(family is None for family in families):
        return ()
    # Ruled paper has a margin line across its lines, alone.
    families = [
        _find_alone(picture) if family is None else family
        for picture, family in zip(pictures, families, strict=True)
    ]
    return tuple(
        _ruling(family, reduction, upright)
        for family, upright in zip(families, (False, True), strict=True)
        if family is not None
    )


def _ruling(paths: NDArray[np.float64], reduction: float, upright: bool) -> Ruling:
    at = (np.arange(paths.shape[1]) + 0.5) * _BLOCK_PX
    return Ruling(np.asarray((paths + 0.5) * reduction), np.asarray(at * reduction, np.float64), upright)


def _find_family(small: Singles) -> NDArray[np.float64] | None:
    """Rows (lines, steps) of the near-horizontal printed lines in `small`, or None."""
    response = _thin_and_level(small)
    reach = _reach(small)
    paths = _crossing(response, reach, _COVERED)
    if len(paths) < _FEWEST or not _evenly_spaced(paths):
        return None
    return _completed(response, paths, reach)


def _find_alone(small: Singles) -> NDArray[np.float64] | None:
    """Rows (lines, steps) of near-horizontal lines that run from border to border unbroken, or None."""
    paths = _crossing(_thin_and_level(small), _reach(small), _COVERED_ALONE)
    return paths if len(paths) else None


def _reach(small: Singles) -> int:
    """Rows within which a printed line lies around its path."""
    return odd(2 * WIDEST_SHARE * max(small.shape))


def _crossing(response: Singles, reach: int, covered: float) -> NDArray[np.float64]:
    """Rows (lines, steps) of the paths from border to border that are dark enough, from the top."""
    if len(response) == 0:  # narrower than one step
        return np.zeros((0, 0))
    # From both borders to the middle, where they meet.
    middle = len(response) // 2
    leftwards, rightwards = _best_paths(response[: middle + 1]), _best_paths(response[middle:][::-1])
    score = leftwards.score[-1] + rightwards.score[-1] - response[middle]
    rows = _peaks(score / len(response), reach, covered)
    if len(rows) == 0:
        return np.zeros((0, len(response)))
    rows = rows[np.argsort(-score[rows], kind="stable")]
    left = leftwards.follow(rows, middle)[::-1]
    right = rightwards.follow(rows, len(response) - 1 - middle)
    paths = _centred(response, np.concatenate([left, right[1:]]).T.astype(np.float64), reach)
    paths = paths[[_unbroken(response, path) for path in paths]]
    return _distinct(paths, reach) if len(paths) else paths


def _unbroken(response: Singles, path: NDArray[np.float64]) -> bool:
    """Whether a path is dark in long runs, as print is; a row of letters is dark in short ones."""
    rows = np.clip(np.rint(path).astype(np.intp), 1, response.shape[1] - 2)
    steps = np.arange(len(path))
    dark = np.max([response[steps, rows + shift] for shift in (-1, 0, 1)], axis=0) > 0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], dark, [False]]).astype(np.int8)))
    lengths = edges[1::2] - edges[::2]
    # The run that a dark step lies in, on average: long runs count by their length.
    return bool((lengths**2).sum() > _RUN * len(path) * max(lengths.sum(), 1))


def _thin_and_level(small: Singles) -> Singles:
    """How sure a dark thin structure lies across each step of columns, shape (steps, rows), 0 to 1."""
    tall = np.ones((odd(3 * WIDEST_SHARE * max(small.shape), 7), 1), np.uint8)
    hat = np.asarray(cv2.morphologyEx(small, cv2.MORPH_BLACKHAT, tall), np.float32)
    steps = small.shape[1] // _BLOCK_PX
    hat = hat[:, : steps * _BLOCK_PX].reshape(len(hat), steps, _BLOCK_PX).mean(axis=2)
    middle = quantile(hat, 0.5)
    spread = 1.4826 * quantile(np.abs(hat - np.float32(middle)), 0.5)
    level = max(middle + 3 * spread, LEAST_CONTRAST)
    return np.ascontiguousarray(np.clip(hat / np.float32(level) - 1, 0, 1).T)


@dataclass(frozen=True, slots=True, eq=False)
class _Paths:
    """The best path to each place from the first step on: its score, and from which row it came."""

    score: Singles
    came: NDArray[np.int8]

    def follow(self, rows: NDArray[np.intp], step: int) -> NDArray[np.intp]:
        """Rows of the paths that are at `rows` at `step`, back to the first step: shape (step + 1, n)."""
        track = [rows]
        for index in range(step, 0, -1):
            track.append(track[-1] + self.came[index][track[-1]])
        return np.array(track)


def _best_paths(response: Singles) -> _Paths:
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


def _peaks(score: Singles, reach: int, covered: float) -> NDArray[np.intp]:
    """Rows whose score is the best within reach, and good enough."""
    column = np.ascontiguousarray(score[:, None], np.float32)
    best = cv2.dilate(column, np.ones((reach, 1), np.uint8))[:, 0]
    rows = np.flatnonzero((score >= best) & (score > covered))
    starts = np.flatnonzero(np.diff(rows, prepend=-2) > 1)
    return np.array([run[len(run) // 2] for run in np.split(rows, starts[1:])] if len(rows) else [], np.intp)


def _centred(response: Singles, paths: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """Move each path to the middle of the dark structure that it follows, and smooth it."""
    offsets = np.arange(-(reach // 2), reach // 2 + 1)
    rows = np.rint(paths).astype(np.intp)[..., None] + offsets
    weight = response[np.arange(len(response))[None, :, None], np.clip(rows, 0, response.shape[1] - 1)]
    weight = np.where((rows < 0) | (rows >= response.shape[1]), 0, weight)
    total = weight.sum(axis=2)
    moved = (weight * rows).sum(axis=2) / np.maximum(total, 1e-6)
    whole = (rows[..., 0] >= 0) & (rows[..., -1] < response.shape[1])
    moved = np.where((total > 0.3) & whole, moved, np.nan)
    return np.array([_smoothed(there, path) for there, path in zip(moved, paths, strict=True)])


def _smoothed(seen: NDArray[np.float64], path: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median along the path of where it was seen, so that ink which crosses it does not bend it."""
    half = 10
    known = np.flatnonzero(np.isfinite(seen))
    if len(known) < 2 * half:
        return path
    # What is not seen keeps the course of the path.
    filled = path + np.interp(np.arange(len(seen)), known, (seen - path)[known])
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


def _completed(response: Singles, paths: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """Add the lines that the spacing foretells: hidden ones between, and those that leave the page."""
    paths = _agreed(paths)
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
        beyond += [edge + pitch * count for count in range(1, _BEYOND + 1)]
    extra = _centred(response, np.array(between + beyond), reach)
    seen = np.array([_seen(response, path, reach) for path in extra])
    paths = np.concatenate([paths, extra[seen > _COVERED_BESIDE]])
    return _agreed(paths[np.argsort(paths[:, paths.shape[1] // 2], kind="stable")])


def _agreed(paths: NDArray[np.float64]) -> NDArray[np.float64]:
    """Correct each path by its neighbours, which bend as it does: a fold bends all, drawn ink pulls at one.

    How far a path lies from half way between two neighbours changes slowly and little along it; taken as a
    median over half of its length, stretches along ink do not count. Of three pairs of neighbours the median
    one is believed, as they may be pulled at themselves.
    """
    steps = paths.shape[1]
    unit = float(np.median(np.diff(paths, axis=0)))
    sparse = np.arange(0, steps, 4)
    side = odd(len(sparse) / 2)
    estimates = []
    for apart in (1, 2, 3):
        halfway = _halfway(paths, apart)
        if halfway is not None:
            off = running_median((paths - halfway)[:, sparse], side)
            usual = np.median(off, axis=1, keepdims=True)
            # Farther off it follows the next line for a while.
            off = np.where(np.abs(off - usual) > _STRAY * unit, usual, off)
            smooth = np.array([np.interp(np.arange(steps), sparse, line) for line in off])
            estimates.append(halfway + smooth)
    if len(estimates) < 3:
        return paths
    return np.asarray(np.median(estimates, axis=0))


def _halfway(paths: NDArray[np.float64], apart: int) -> NDArray[np.float64] | None:
    """Course of each line as foretold by those `apart` lines before and after, or by two on one side."""
    count = len(paths)
    if count < 3 * apart:
        return None
    index = np.arange(count)
    first = np.where(index < apart, index + apart, index - apart)
    second = np.where(index < apart, index + 2 * apart, index + apart)
    beyond = index + apart >= count
    second = np.where(beyond & (index >= apart), index - 2 * apart, second)
    one_sided = (index < apart) | beyond
    weight = np.where(one_sided, 2.0, 0.5)[:, None]
    return np.asarray(weight * paths[first] + (1 - weight) * paths[second])


def running_median(values: NDArray[np.float64], side: int) -> NDArray[np.float64]:
    """Median over `side` (odd) neighbours along the last axis; at the ends the last value is repeated."""
    pad = [(0, 0)] * (values.ndim - 1) + [(side // 2, side // 2)]
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(values, pad, mode="edge"), side, axis=-1)
    return np.asarray(np.median(windows, axis=-1))


def _usual_gap(gaps: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(gaps[np.argsort(np.median(gaps, axis=1))[len(gaps) // 2]])


def _seen(response: Singles, path: NDArray[np.float64], reach: int) -> float:
    """Share of the path's part on the page that is dark; 0 where hardly any of it is on the page."""
    rows = np.rint(path).astype(np.intp)
    on_page = (rows >= reach // 2) & (rows < response.shape[1] - reach // 2)
    if on_page.mean() < 0.03:
        return 0.0
    steps = np.flatnonzero(on_page)
    near = [response[steps, rows[steps] + shift] for shift in (-1, 0, 1)]
    return float(np.mean(np.max(near, axis=0) > 0))
