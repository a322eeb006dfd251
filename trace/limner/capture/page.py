"""From the photograph to the page as if scanned: straight, evenly lit, at a known scale.

The page is the sheet of paper where that is found, taken out of the photograph by its perspective;
otherwise it is the photograph. Limits: a sheet that curls or is folded open is not flattened.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.capture.light import even_light, measure_light
from limner.capture.paper import find_sheet
from limner.capture.perspective import TrueShape, homography, true_shape
from limner.capture.settings import CaptureSettings
from limner.errors import InputError
from limner.geometry.lengths import ISO_216_MM
from limner.model.raster import FlatPage, Photo

__all__ = ["flatten_page"]

Floats = NDArray[np.float64]
Bytes8 = NDArray[np.uint8]

_MM_PER_INCH = 25.4

# A shape this near to that of ISO 216, and that a plausible lens can make of it, is taken as one: the
# focal length is uncertain, the shape of office paper is not.
_ISO_SHAPE_SHARE = 0.05

# The rim of a straightened sheet may show a sliver of table or the shade of the paper's own edge.
_RIM_SHARE = 0.004


@dataclass(frozen=True, slots=True, eq=False)
class _Straight:
    """The page before its light is evened."""

    rgb: Bytes8
    to_photo: Floats
    mm_per_px: float | None
    scale_from: str


def flatten_page(photo: Photo, settings: CaptureSettings) -> FlatPage:
    """Take the page from the photograph.

    Parameters
    ----------
    photo : Photo
        The upright photograph.
    settings : CaptureSettings
        Whether to look for the sheet of paper, and what is known of its size.

    Returns
    -------
    FlatPage
        `grey` is gamma-coded like the photograph. The scale comes from the width that the settings
        give, else from the named size of the sheet, else from the file's dpi where the photograph
        was not straightened.

    Raises
    ------
    InputError
        A size of paper is named, but no sheet is found, nor is the width given.
    """
    page = _straightened(photo, settings)
    light = measure_light(page.rgb)
    grey, colour = even_light(page.rgb, light)
    if not np.array_equal(page.to_photo, np.eye(3)):
        _clear_rim(grey, colour)
    mm_per_px, scale_from = page.mm_per_px, page.scale_from
    if settings.width_mm is not None:
        mm_per_px, scale_from = settings.width_mm / page.rgb.shape[1], "width"
    grey.flags.writeable = False
    colour.flags.writeable = False
    return FlatPage(grey, colour, mm_per_px, page.to_photo, scale_from, photo.source)


def _straightened(photo: Photo, settings: CaptureSettings) -> _Straight:
    """The sheet taken out of the photograph, or the photograph itself."""
    named = settings.paper in ISO_216_MM
    sheet = None if settings.paper == "none" else find_sheet(photo.rgb, named=named)
    if sheet is not None:
        return _taken_out(photo.rgb, sheet.corners, settings.paper)
    if named and settings.width_mm is None:
        raise InputError(
            f'no sheet of {settings.paper} is found in "{photo.source}": photograph all four edges '
            "on a darker table, or give the width of the picture with --width."
        )
    if photo.dpi is None:
        return _Straight(photo.rgb, np.eye(3), None, "")
    return _Straight(photo.rgb, np.eye(3), _MM_PER_INCH / photo.dpi, "dpi")


def _taken_out(rgb: Bytes8, corners: Floats, paper: str) -> _Straight:
    """Straighten the sheet with these corners, at the resolution that it has in the photograph."""
    height, width = rgb.shape[:2]
    shape = true_shape(corners, (width, height))
    mm_per_px: float | None = None
    following = np.roll(corners, -1, axis=0)
    area = float((corners[:, 0] * following[:, 1] - corners[:, 1] * following[:, 0]).sum() / 2.0)
    if paper in ISO_216_MM:
        short_mm, long_mm = ISO_216_MM[paper]
        size_mm = (short_mm, long_mm) if shape.aspect >= 1.0 else (long_mm, short_mm)
        mm_per_px = math.sqrt(size_mm[0] * size_mm[1] / area)
        size = (size_mm[0] / mm_per_px, size_mm[1] / mm_per_px)
    else:
        aspect = _likely_aspect(shape)
        size = (math.sqrt(area / aspect), math.sqrt(area * aspect))
    rectangle = np.array([[0.0, 0.0], [size[0], 0.0], [size[0], size[1]], [0.0, size[1]]])
    to_photo = homography(rectangle, corners)
    straight = _warped(rgb, to_photo, (round(size[0]), round(size[1])))
    return _Straight(straight, to_photo, mm_per_px, f"paper {paper}" if mm_per_px else "")


def _likely_aspect(shape: TrueShape) -> float:
    """Height over width: that of ISO 216 where the shape fits it, else as measured."""
    for iso in (math.sqrt(2.0), math.sqrt(0.5)):
        near = abs(shape.aspect / iso - 1.0) <= _ISO_SHAPE_SHARE
        if near and shape.lowest * 0.99 <= iso <= shape.highest * 1.01:
            return iso
    return shape.aspect


def _warped(rgb: Bytes8, to_photo: Floats, size: tuple[int, int]) -> Bytes8:
    """Sample the photograph at the pixels of the page; beyond its border is white."""
    # The library counts from the centre of the first pixel, the project from its corner.
    to_corner = np.array([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5], [0.0, 0.0, 1.0]])
    matrix = np.linalg.inv(to_corner) @ to_photo @ to_corner
    warped = cv2.warpPerspective(
        rgb,
        matrix,
        size,
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(warped, dtype=np.uint8)


def _clear_rim(grey: NDArray[np.float32], colour: Bytes8) -> None:
    """Make the outermost rim of a straightened sheet bare paper, in place."""
    rim = max(1, round(_RIM_SHARE * min(grey.shape)))
    for part in (np.s_[:rim], np.s_[-rim:], np.s_[:, :rim], np.s_[:, -rim:]):
        grey[part] = 1.0
        colour[part] = 255
