"""From the photograph to the page as if scanned: straight, evenly lit, at a known scale.

The page is the sheet of paper where that is found, taken out of the photograph by its perspective; otherwise
it is the photograph. What is drawn in white on black is taken as its negative. Its light is measured on a
small picture of it; the page itself is then taken at the resolution that its lines ask for. Limits: a sheet
that curls or is folded open is not flattened.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from limner.capture.chalk import drawn_in_white, turned_dark
from limner.capture.lay import Lay
from limner.capture.light import Light, even_light, measure_light
from limner.capture.paper.find import find_sheet
from limner.capture.paper.perspective import TrueShape, homography, true_shape
from limner.capture.settings import CaptureSettings
from limner.errors import InputError
from limner.geometry.lengths import ISO_216_MM, MM_PER_INCH
from limner.model.arrays import Floats
from limner.model.raster import FlatPage, Photo

__all__ = ["flatten_page"]

Floats32 = NDArray[np.float32]
Reduction = Callable[[Floats32, float, tuple[int, int], float | None], int]
Bytes8 = NDArray[np.uint8]


# A shape this near to that of ISO 216, and that a plausible lens can make of it, is taken as one: the
# focal length is uncertain, the shape of office paper is not.
_ISO_SHAPE_SHARE = 0.05

# The rim of a straightened sheet may show a sliver of table or the shade of the paper's own edge.
_RIM_SHARE = 0.004


def flatten_page(
    photo: Photo,
    settings: CaptureSettings,
    reduction_of: Reduction | None = None,
) -> FlatPage:
    """Take the page from the photograph.

    Parameters
    ----------
    photo : Photo
        The upright photograph.
    settings : CaptureSettings
        Whether to look for the sheet of paper, and what is known of its size.
    reduction_of : callable or None
        Tells from a small picture of the page (shape (h, w), even light, paper near 1), its pixels' size in
        pixels of the page, the page's height and width, and its scale in millimetres per pixel or None, how
        many times fewer pixels its lines need in x and y, 1 or more; None: the page keeps the resolution that
        it has in the photograph.

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
    lay = _lay_of(photo, settings)
    coarse = lay.sampled(photo.rgb, lay.coarse_step)
    cell = lay.grid(lay.coarse_step)[1]
    chalk = drawn_in_white(coarse)
    if chalk:
        coarse = turned_dark(coarse)
    light = measure_light(coarse, (lay.size_px[0] / cell[0, 0], lay.size_px[1] / cell[1, 1]))
    step = 1 if reduction_of is None else _reduction(lay, coarse, light, settings, reduction_of)
    sampled = lay.sampled(photo.rgb, step)
    grey, colour = even_light(turned_dark(sampled) if chalk else sampled, light)
    if lay.straightened:
        _clear_rim(grey, colour)
    to_full = lay.grid(step)[1]
    mm_per_px, scale_from = None if lay.mm_per_px is None else lay.mm_per_px * to_full[0, 0], lay.scale_from
    if settings.width_mm is not None:
        mm_per_px, scale_from = settings.width_mm / grey.shape[1], "width"
    grey.flags.writeable = False
    colour.flags.writeable = False
    return FlatPage(grey, colour, mm_per_px, lay.to_photo @ to_full, scale_from, photo.source, to_full[0, 0])


def _reduction(
    lay: Lay, coarse: Bytes8, light: Light, settings: CaptureSettings, reduction_of: Reduction
) -> int:
    """Pixels of the photograph per sample of the page."""
    width, height = lay.grid(1)[0]
    coarse_step = lay.coarse_step
    if coarse_step < 2:
        return 1
    grey, _ = even_light(coarse, light)
    # Paint hides how wide the lines are.
    grey[light.filled > 0] = 1.0
    mm_per_px = lay.mm_per_px if settings.width_mm is None else settings.width_mm / width
    return lay.fitting(reduction_of(grey, float(coarse_step), (height, width), mm_per_px))


def _lay_of(photo: Photo, settings: CaptureSettings) -> Lay:
    """Where the sheet lies in the photograph, or the photograph itself."""
    named = settings.paper in ISO_216_MM
    sheet = None if settings.paper == "none" else find_sheet(photo.rgb, named=named)
    height, width = photo.rgb.shape[:2]
    if sheet is not None:
        return _lay_of_sheet((width, height), sheet.corners, settings.paper)
    if named and settings.width_mm is None:
        raise InputError(
            f'no sheet of {settings.paper} is found in "{photo.source}": photograph all four edges '
            "on a darker table, or give the width of the picture with --width."
        )
    mm_per_px = None if photo.dpi is None else MM_PER_INCH / photo.dpi
    return Lay((width, height), np.eye(3), mm_per_px, "dpi" if mm_per_px else "", straightened=False)


def _lay_of_sheet(photo_size: tuple[int, int], corners: Floats, paper: str) -> Lay:
    """The sheet with these corners, at the resolution that it has in the photograph."""
    shape = true_shape(corners, photo_size)
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
    return Lay(size, to_photo, mm_per_px, f"paper {paper}" if mm_per_px else "", straightened=True)


def _likely_aspect(shape: TrueShape) -> float:
    """Height over width: that of ISO 216 where the shape fits it, else as measured."""
    for iso in (math.sqrt(2.0), math.sqrt(0.5)):
        near = abs(shape.aspect / iso - 1.0) <= _ISO_SHAPE_SHARE
        if near and shape.lowest * 0.99 <= iso <= shape.highest * 1.01:
            return iso
    return shape.aspect


def _clear_rim(grey: NDArray[np.float32], colour: Bytes8) -> None:
    """Make the outermost rim of a straightened sheet bare paper, in place."""
    rim = max(1, round(_RIM_SHARE * min(grey.shape)))
    for part in (np.s_[:rim], np.s_[-rim:], np.s_[:, :rim], np.s_[:, -rim:]):
        grey[part] = 1.0
        colour[part] = 255
