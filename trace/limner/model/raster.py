"""Values made of pixels: the photograph, the flattened page and the ink on it.

Pages and ink are known in pixels first. Once the pipeline has settled how large a pixel is, they become a
`ScaledPage` and a `ScaledInk`: what works in millimetres takes these, and need not ask.
"""

import math
from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

from limner.model.arrays import frozen

__all__ = ["FlatPage", "InkMap", "Photo", "ScaledInk", "ScaledPage"]


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A decoded picture, turned upright.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        sRGB; an alpha channel is already laid over white.
    dpi : float or None
        Resolution that the file states, when it is one that a scanner writes; None otherwise.
    source : str
        Name of the file, for messages and reports.
    """

    rgb: NDArray[np.uint8]
    dpi: float | None
    source: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "rgb", frozen(self.rgb, np.uint8, (None, None, 3), "rgb"))


@dataclass(frozen=True, slots=True, eq=False)
class FlatPage:
    """The page as if scanned: straight, evenly lit, at a known scale where there is one.

    Parameters
    ----------
    grey : ndarray of float32, shape (H, W)
        1 is bare paper, 0 is black. Even light: bare paper is near 1 everywhere.
    colour : ndarray of uint8, shape (H, W, 3)
        sRGB with the same even light and a white paper: what a coloured sketch takes its fills from.
    mm_per_px : float or None
        Scale, or None where neither the file, nor the paper, nor the user gives one: the pipeline
        then takes it from the size of the drawing (`ScaledPage`).
    to_photo : ndarray of float64, shape (3, 3)
        Homography from page pixels (x, y, 1) to pixels of the upright photograph.
    scale_from : str
        Where the scale comes from: "width", "paper A4" (or another size), "dpi", or "" if unknown.
    source : str
        Name of the file.
    reduction : float
        Pixels of the photograph, straightened, per pixel: more than 1 where the lines are drawn so broad that
        fewer show them as well.
    """

    grey: NDArray[np.float32]
    colour: NDArray[np.uint8]
    mm_per_px: float | None
    to_photo: NDArray[np.float64]
    scale_from: str
    source: str
    reduction: float = 1.0

    def __post_init__(self) -> None:
        grey = frozen(self.grey, np.float32, (None, None), "grey")
        object.__setattr__(self, "grey", grey)
        object.__setattr__(self, "colour", frozen(self.colour, np.uint8, (*grey.shape, 3), "colour"))
        object.__setattr__(self, "to_photo", frozen(self.to_photo, np.float64, (3, 3), "to_photo"))

    def scaled_to(self, mm_per_px: float) -> "ScaledPage":
        """The same page, so many millimetres per pixel."""
        values = {one.name: getattr(self, one.name) for one in fields(FlatPage)}
        return ScaledPage(**values | {"mm_per_px": mm_per_px})


@dataclass(frozen=True, slots=True, eq=False)
class ScaledPage(FlatPage):
    """A page whose scale is known.

    Parameters
    ----------
    mm_per_px : float
        Its scale; the other fields are those of `FlatPage`.
    """

    mm_per_px: float

    def __post_init__(self) -> None:
        FlatPage.__post_init__(self)
        _check_scale(self.mm_per_px)

    @property
    def mm_per_photo_px(self) -> float:
        """Scale of the photograph itself, straightened."""
        return self.mm_per_px / self.reduction


@dataclass(frozen=True, slots=True, eq=False)
class InkMap:
    """What is drawn, and what is not.

    Parameters
    ----------
    coverage : ndarray of float32, shape (H, W)
        Share of each pixel that is ink, 0 to 1, smooth across edges: its 0.5 iso-line between pixel
        centres is the outline of the ink. Exactly 0 where something was judged not to be ink.
    solid : ndarray of bool, shape (H, W)
        Pixels of solid blacks (filled areas of ink, as against lines).
    line_width_px : float
        Typical (median) width of the drawn lines.
    to_photo : ndarray of float64, shape (3, 3)
        Homography from pixels of this raster (x, y, 1), which may be coarser than the page, to pixels of the
        upright photograph.
    fine_width_px : float or None
        Width of far thinner lines that stand beside the typical ones; None where there are none.
    """

    coverage: NDArray[np.float32]
    solid: NDArray[np.bool_]
    line_width_px: float
    to_photo: NDArray[np.float64]
    fine_width_px: float | None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        coverage = frozen(self.coverage, np.float32, (None, None), "coverage")
        object.__setattr__(self, "coverage", coverage)
        object.__setattr__(self, "solid", frozen(self.solid, np.bool_, coverage.shape, "solid"))
        object.__setattr__(self, "to_photo", frozen(self.to_photo, np.float64, (3, 3), "to_photo"))

    @property
    def mask(self) -> NDArray[np.bool_]:
        """Pixels that are more ink than paper, shape (H, W)."""
        return self.coverage >= np.float32(0.5)

    def scaled_to(self, mm_per_px: float) -> "ScaledInk":
        """The same ink, so many millimetres per pixel."""
        values = {one.name: getattr(self, one.name) for one in fields(InkMap)}
        return ScaledInk(**values, mm_per_px=mm_per_px)


@dataclass(frozen=True, slots=True, eq=False)
class ScaledInk(InkMap):
    """Ink whose scale is known.

    Parameters
    ----------
    mm_per_px : float
        Scale of this raster; the other fields are those of `InkMap`.
    """

    mm_per_px: float

    def __post_init__(self) -> None:
        InkMap.__post_init__(self)
        _check_scale(self.mm_per_px)

    @property
    def line_width_mm(self) -> float:
        """Typical (median) width of the drawn lines."""
        return self.line_width_px * self.mm_per_px


def _check_scale(mm_per_px: float) -> None:
    if not (mm_per_px > 0 and math.isfinite(mm_per_px)):
        raise ValueError(f"a scale must be more than 0 millimetres per pixel, not {mm_per_px}")
