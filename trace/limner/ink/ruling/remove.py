"""Printed lines taken out of a page: divided by their own profile, and what is left judged.

Each line's profile is measured along it, in parts, as its focus and darkness change slowly. Under it the
page is divided by that profile, so that ink which crosses it stays; what is left counts only where it is
clearly darker than the unevenness of the print and goes on beyond it. Where there is ink above and below,
there is ink between.

Limits: a pencil line fainter than the print and lying along it is lost with it.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.ink.ruling.find import LEAST_CONTRAST, WIDEST_SHARE, Ruling, running_median
from limner.model.arrays import Flags, Singles

__all__ = ["drop_print", "erase_ruling"]

_CLEARLY = 0.35
"""What is left after the division is ink if its contrast is above this share of the print's own: print
varies along its length by less."""

_DARKER = 1.0
"""What lies along the print alone is ink all the same from this share of the print's own contrast on."""

_INK = 0.15
"""Contrast beside a printed line from which something drawn crosses it there."""

_COURSE_PX = 41
"""The course of a printed line is straight over this many pixels."""

_MARGIN_REACHES = 2
"""Height, in reaches of a band, of the bare paper that is added beyond the picture's border."""

_TAIL = 0.12
"""The profile of a printed line ends where its contrast has fallen to this share."""

_PART_PX = 80
_PARTS = 7
_LINES = 5
"""The print's profile is the median over a part of this length, over this many parts, and over this many
lines: focus and light change over longer stretches, ink along the print is shorter or on one line alone."""


def erase_ruling(grey: Singles, rulings: tuple[Ruling, ...], step: float) -> Singles:
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
        picture = grey.T if ruling.upright else grey
        reach = max(4, round(WIDEST_SHARE * max(picture.shape)))
        # Bare paper beyond the border lets a line leave the page.
        margin = _MARGIN_REACHES * reach
        picture = np.pad(picture, ((margin, margin), (0, 0)), constant_values=1.0)
        across = np.arange(picture.shape[1]) + 0.5
        lines = np.array([np.interp(across, ruling.at / step, line / step) for line in ruling.centres])
        lines += margin
        on_page = ((lines >= reach) & (lines < len(picture) - reach)).any(axis=1)
        _divide_out(picture, lines[on_page], reach)
        picture = picture[margin:-margin]
        grey = np.ascontiguousarray(picture.T if ruling.upright else picture)
    return grey


def drop_print(mask: Flags, rulings: tuple[Ruling, ...], step: float) -> Flags:
    """Leave out long marks at the picture's border that lie wholly along a printed line: what is left of it.

    A line that leaves the picture there has no paper on its other side to be measured against.

    Parameters
    ----------
    mask : ndarray of bool, shape (H, W)
        Candidates for ink.
    rulings : tuple of Ruling
        As found by `find_ruling`.
    step : float
        Page pixels per pixel of the mask.

    Returns
    -------
    ndarray of bool, shape (H, W)
        The candidates without them.
    """
    for ruling in rulings:
        picture = np.ascontiguousarray(mask.T) if ruling.upright else mask
        mask = _without_print(picture, ruling, step)
        mask = np.ascontiguousarray(mask.T) if ruling.upright else mask
    return mask


def _without_print(mask: Flags, ruling: Ruling, step: float) -> Flags:
    corridor = np.zeros(mask.shape, np.uint8)
    thick = 2 * max(4, round(WIDEST_SHARE * max(mask.shape))) + 1
    lines = [np.stack([ruling.at, line], axis=1) / step - 0.5 for line in ruling.centres]
    lines = [np.pad(line, ((1, 1), (0, 0)), mode="reflect", reflect_type="odd") for line in lines]
    cv2.polylines(corridor, [np.rint(line).astype(np.int32) for line in lines], False, 1, thick)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8), connectivity=8)
    leaves = np.zeros(count, np.bool_)
    leaves[labels[mask & (corridor == 0)]] = True
    long = stats[:, cv2.CC_STAT_WIDTH] > 2 * stats[:, cv2.CC_STAT_HEIGHT]
    top, bottom = stats[:, cv2.CC_STAT_TOP], stats[:, cv2.CC_STAT_TOP] + stats[:, cv2.CC_STAT_HEIGHT]
    drop = long & ~leaves & ((top <= thick) | (bottom >= len(mask) - thick))
    drop[0] = False
    return np.asarray(mask & ~drop[labels])


def _divide_out(picture: Singles, lines: NDArray[np.float64], reach: int) -> None:
    """Divide the picture by the profile of the printed lines, in place."""
    band = _Band.around(picture, lines, reach)
    band = _Band.around(picture, band.course(), reach)
    profile, half = band.profile()
    print_contrast = 1 - profile.min(axis=1, keepdims=True)
    through = band.at_offset(profile)
    divided = np.where(through > 0.98, band.values, band.values / np.maximum(through, np.float32(0.1)))
    divided[divided > 1 - _CLEARLY * print_contrast] = 1.0
    beside = [band.beside(picture, side * (half + 1.0)) for side in (-1, 1)]
    width = 2 * round(float(half.max())) + 1
    ink_near = np.minimum(*(cv2.erode(level, np.ones((1, width), np.uint8)) for level in beside))
    # Ink in the band goes on beyond it; what lies along the print alone is print.
    alone = (ink_near > 1 - _INK)[:, None, :] & (divided > 1 - _DARKER * print_contrast)
    divided[alone] = 1.0
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
    values: Singles
    height: int

    @classmethod
    def around(cls, picture: Singles, lines: NDArray[np.float64], reach: int) -> "_Band":
        """The band that reaches `reach` pixels to both sides of each line.

        Where a line has left the picture its last column on it is repeated.
        """
        on_page = (lines >= reach) & (lines < len(picture) - reach)
        columns = np.broadcast_to(np.arange(picture.shape[1]), lines.shape)
        first = np.argmax(on_page, axis=1)[:, None]
        last = picture.shape[1] - 1 - np.argmax(on_page[:, ::-1], axis=1)[:, None]
        columns = np.clip(columns, first, last)
        lines = np.take_along_axis(lines, columns, axis=1)
        rows = np.floor(lines).astype(np.intp)[:, None, :] + np.arange(-reach, reach + 1)[None, :, None]
        inside = (rows >= 0) & (rows < len(picture))
        rows = np.clip(rows, 0, len(picture) - 1)
        offset = rows + 0.5 - lines[:, None, :]
        columns = np.broadcast_to(columns[:, None, :], rows.shape)
        return cls(lines, rows, columns, inside, offset, picture[rows, columns], len(picture))

    @property
    def reach(self) -> int:
        """Rows of the band to each side of its middle."""
        return int(self.rows.shape[1] // 2)

    @property
    def margin(self) -> int:
        """Rows of bare paper that were added at the top and at the bottom."""
        return _MARGIN_REACHES * self.reach

    def course(self) -> NDArray[np.float64]:
        """Height of each line's dark middle, per column; smoothed along it, places near ink left out."""
        darkness = np.where(self.inside, 1 - self.values, 0)
        usual = self._usual(darkness.max(axis=1))[:, None, :]
        weight = np.clip(darkness - 0.3 * usual, 0, None)
        total = weight.sum(axis=1)
        shift = (weight * self.offset).sum(axis=1) / np.maximum(total, 1e-6)
        # A column with much more darkness than usual holds ink, one with none says nothing.
        inked = total > 1.4 * self._usual(total)
        inked = cv2.dilate(inked.view(np.uint8), np.ones((1, 4 * self.reach + 1), np.uint8)) > 0
        # Near the border of the picture a part of the line is cut off.
        whole = (self.rows[:, 0] > self.margin) & (self.rows[:, -1] < self.height - 1 - self.margin)
        plain = ~inked & whole & (total > 0)
        rows = [_bent(*line) for line in zip(self.lines, shift, plain, strict=True)]
        return running_median(np.array(rows), _COURSE_PX)

    def _parts(self) -> list[NDArray[np.intp]]:
        count = self.rows.shape[2]
        return np.array_split(np.arange(count), max(1, count // _PART_PX))

    def _usual(self, values: NDArray[Any]) -> NDArray[np.float64]:
        """Slowly changing median along each line."""
        parts = self._parts()
        medians = _settled(np.array([np.median(values[:, part], axis=1) for part in parts]).T)
        middles = [part.mean() for part in parts]
        across = np.arange(values.shape[1])
        return np.array([np.interp(across, middles, line) for line in medians])

    def profile(self) -> tuple[Singles, NDArray[np.float64]]:
        """Level of the print at each whole offset, paper being 1, and half its width, both along the line.

        Returns
        -------
        profile : ndarray of float32, shape (lines, offsets, columns)
        half : ndarray of float64, shape (lines, columns)
        """
        parts = self._parts()
        middles = np.array([part.mean() for part in parts])
        levels = np.array([np.median(self.values[:, :, part], axis=2) for part in parts])
        paper = np.median(levels[:, :, [0, 1, -2, -1]], axis=2)
        levels = np.minimum(levels / np.maximum(paper, 0.1)[:, :, None], 1.0)
        # Ink that runs along the print fills some parts of one line; the print is like its other parts.
        levels = _settled(levels.T).T
        deepest = 1 - levels.min(axis=2)
        dark = 1 - levels > np.maximum(_TAIL * deepest, LEAST_CONTRAST / 2)[:, :, None]
        halves = np.where(dark, np.abs(np.arange(-self.reach, self.reach + 1)), 0).max(axis=2) + 0.5
        across = np.arange(self.rows.shape[2])
        place = np.interp(across, middles, np.arange(len(parts)))
        low = np.minimum(place.astype(np.intp), max(len(parts) - 2, 0))
        high = np.minimum(low + 1, len(parts) - 1)
        share = place - low
        profile = levels[low] * (1 - share)[:, None, None] + levels[high] * share[:, None, None]
        half = np.maximum(halves[low], halves[high])
        return np.asarray(profile.transpose(1, 2, 0), np.float32), half.T

    def at_offset(self, profile: Singles) -> Singles:
        """The profile, moved by each column's fraction of a pixel onto the rows of the band."""
        share = (self.offset[:, :1, :] - np.round(self.offset[:, :1, :])).astype(np.float32)
        before = np.concatenate([profile[:, :1], profile[:, :-1]], axis=1)
        after = np.concatenate([profile[:, 1:], profile[:, -1:]], axis=1)
        return np.where(share < 0, profile + share * (profile - before), profile + share * (after - profile))

    def beside(self, picture: Singles, distance: NDArray[np.float64]) -> Singles:
        """Level of the picture at a distance from each line, per column."""
        rows = np.clip(np.floor(self.lines + distance).astype(np.intp), 0, len(picture) - 1)
        return np.asarray(picture[rows, np.arange(picture.shape[1])[None, :]], np.float32)


def _settled(values: NDArray[Any]) -> NDArray[Any]:
    """Median over neighbouring parts, then over neighbouring lines; shape (..., lines, parts)."""
    along = running_median(values, _PARTS)
    side = min(_LINES, 2 * ((values.shape[-2] - 1) // 2) + 1)
    return running_median(along.swapaxes(-1, -2), side).swapaxes(-1, -2)


def _bent(
    line: NDArray[np.float64], shift: NDArray[np.float64], known: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """A line moved by the shifts that are known, straight between them, parallel to itself beyond them."""
    places = np.flatnonzero(known)
    if len(places) < _COURSE_PX:
        return line
    seen = line[places] + shift[places]
    moved = np.interp(np.arange(len(line)), places, seen)
    moved[: places[0]] = line[: places[0]] + shift[places[0]]
    moved[places[-1] :] = line[places[-1] :] + shift[places[-1]]
    return moved
