"""Zones of a job as rings in millimetres on the page of their sketch."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from limner.errors import InputError
from limner.job.tables import ZoneTable
from limner.model.arrays import Floats
from limner.model.drawing import Zone

__all__ = ["zone_value"]


# An ellipse as a polygon of this many sides is within 0.03 percent of its radius of the true one.
_ELLIPSE_SIDES = 128

# Largest mask that is read; bigger ones are no help, as the border of a zone is not drawn.
_MASK_PIXELS = 64_000_000


def zone_value(
    zone: ZoneTable,
    width_mm: float,
    height_mm: float,
    *,
    folder: Path,
    areas: Mapping[str, tuple[Floats, ...]] | None = None,
    name: str = "zone",
) -> Zone:
    """The zone in millimetres.

    Parameters
    ----------
    zone : ZoneTable
        As the job has it.
    width_mm, height_mm : float
        Size of the page of the sketch.
    folder : Path
        Where the job lies: the place of a painted mask is relative to it.
    areas : mapping of str to tuple of ndarray, shape (n, 2), optional
        Outlines in millimetres of the areas that a zone may name.
    name : str
        What messages call it.

    Returns
    -------
    Zone

    Raises
    ------
    InputError
        The mask cannot be read or is empty, or no area has the name asked for.
    """
    scale = np.array([width_mm, height_mm])
    if zone.area is not None:
        if areas is None or zone.area not in areas:
            raise InputError(f'{name} names the area "{zone.area}", which the drawing does not have.')
        rings = areas[zone.area]
    else:
        rings = tuple(ring * scale for ring in _unit_rings(zone, folder, name))
    return Zone(rings, zone.smoothing, zone.nodes, name)


def _unit_rings(zone: ZoneTable, folder: Path, name: str) -> tuple[Floats, ...]:
    """Rings as fractions of the page."""
    if zone.box is not None:
        x0, y0, x1, y1 = zone.box
        return (np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]),)
    if zone.ellipse is not None:
        x0, y0, x1, y1 = zone.ellipse
        turn = np.linspace(0.0, 2 * np.pi, _ELLIPSE_SIDES, endpoint=False)
        unit = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        return ((np.array([x0 + x1, y0 + y1]) + unit * [x1 - x0, y1 - y0]) / 2,)
    if zone.polygon is not None:
        return (np.array(zone.polygon),)
    assert zone.mask is not None
    return _mask_rings(folder / zone.mask, name)


def _mask_rings(path: Path, name: str) -> tuple[Floats, ...]:
    import cv2

    mask = _read_mask(path, name)
    height, width = mask.shape
    contours, _ = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    # Contours run through pixel centres, which lie at half-integers.
    rings = tuple((c[:, 0].astype(float) + 0.5) / [width, height] for c in contours if len(c) >= 3)
    if not rings:
        raise InputError(f'{name}: the mask "{path.name}" has nothing painted: paint the zone in black.')
    return rings


def _read_mask(path: Path, name: str) -> NDArray[np.uint8]:
    from PIL import Image

    try:
        with Image.open(path) as picture:
            if picture.width * picture.height > _MASK_PIXELS:
                raise InputError(f'{name}: the mask "{path.name}" is too large: make it smaller.')
            painted = picture.convert("RGBA")
    except InputError:
        raise
    except Exception as error:
        raise InputError(f'{name}: the mask "{path.name}" is missing or not a picture.') from error
    on_white = Image.alpha_composite(Image.new("RGBA", painted.size, "white"), painted).convert("L")
    return (np.asarray(on_white) < 128).astype(np.uint8)
