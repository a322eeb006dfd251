"""What helps to find one's way on a proof: a ruler of fractions along its edges, and the names of areas."""

import html
from collections.abc import Sequence
from itertools import chain

import numpy as np

from limner.model.drawing import Shape

__all__ = ["Window", "names", "ruler"]

Window = tuple[float, float, float, float]
"""Left, top, width and height in millimetres of the drawing."""

_TEXT = "#33312c"
_HALO = "#ffffff"

# Ticks at every hundredth of the page where they are this far apart, else at every twentieth or tenth;
# numbers where they do not run into each other.
_TICK_PX, _NUMBER_PX = 7.0, 46.0
_STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5)

_LONG_PX, _SHORT_PX = 12.0, 6.0
_NUMBER_SIZE_PX, _NAME_SIZE_PX = 15.0, 17.0

# An area is named where its name fits into the square of its size: smaller ones are found by the file of
# areas.
_NAME_WIDTH_EM = 0.5

# The largest areas alone: more names than this hide the drawing.
_MOST_NAMES = 40


def ruler(window: Window, page: Window, px: float) -> str:
    """Ticks and numbers along the top and left edges of what is shown.

    Parameters
    ----------
    window, page : tuple of float
        What is shown of the drawing, and where the page lies in it.
    px : float
        Millimetres of a pixel.

    Returns
    -------
    str
        SVG, in millimetres of the drawing.
    """
    return (
        f'<g fill="none" stroke="{_TEXT}" stroke-width="{px:.4f}">{_ticks(window, page, px)}</g>'
        f'<g font-family="Source Sans Pro" font-size="{_NUMBER_SIZE_PX * px:.4f}" fill="{_TEXT}" '
        f'stroke="{_HALO}" stroke-width="{3 * px:.4f}" paint-order="stroke">{_numbers(window, page, px)}</g>'
    )


def _places(window: Window, page: Window, axis: int, apart_mm: float) -> list[float]:
    """Fractions of the page within the window that lie at least so far apart."""
    size = page[2 + axis]
    step = next((step for step in _STEPS if step * size >= apart_mm), 1.0)
    low = max(0.0, (window[axis] - page[axis]) / size)
    high = min(1.0, (window[axis] + window[2 + axis] - page[axis]) / size)
    first = int(np.ceil(low / step - 1e-9))
    return [round(k * step, 4) for k in range(first, int(np.floor(high / step + 1e-9)) + 1)]


def _ticks(window: Window, page: Window, px: float) -> str:
    left, top = window[:2]
    parts = []
    for axis in (0, 1):
        long = set(_places(window, page, axis, _NUMBER_PX * px))
        for place in _places(window, page, axis, _TICK_PX * px):
            at = page[axis] + place * page[2 + axis]
            length = (_LONG_PX if place in long else _SHORT_PX) * px
            way = f"M{at:.3f} {top:.3f}v{length:.3f}" if axis == 0 else f"M{left:.3f} {at:.3f}h{length:.3f}"
            parts.append(way)
    return f'<path d="{"".join(parts)}"/>'


def _numbers(window: Window, page: Window, px: float) -> str:
    left, top = window[:2]
    parts = []
    for axis in (0, 1):
        for place in _places(window, page, axis, _NUMBER_PX * px):
            at = page[axis] + place * page[2 + axis]
            beside = (_LONG_PX + 3.0) * px
            x, y = (at, top + beside + 0.8 * _NUMBER_SIZE_PX * px) if axis == 0 else (left + beside, at)
            anchor = "middle" if axis == 0 else "start"
            shift = 0.0 if axis == 0 else 0.33 * _NUMBER_SIZE_PX * px
            parts.append(f'<text x="{x:.3f}" y="{y + shift:.3f}" text-anchor="{anchor}">{place:g}</text>')
    return "".join(parts)


def names(shapes: Sequence[Shape], px: float) -> str:
    """The names of the larger areas, in them.

    Parameters
    ----------
    shapes : sequence of Shape
        Areas and others; areas alone are named.
    px : float
        Millimetres of a pixel.
    """
    areas = sorted(
        (shape for shape in shapes if shape.role == "area"), key=lambda shape: (-shape.area_mm2, shape.name)
    )
    size = _NAME_SIZE_PX * px
    fitting = [shape for shape in areas if shape.area_mm2 > (len(shape.name) * _NAME_WIDTH_EM * size) ** 2]
    texts = (
        f'<text x="{x:.3f}" y="{y + 0.33 * size:.3f}">{html.escape(shape.name)}</text>'
        for shape, (x, y) in ((shape, _inside(shape)) for shape in fitting[:_MOST_NAMES])
    )
    return (
        f'<g font-family="Source Sans Pro" font-size="{size:.4f}" fill="{_TEXT}" stroke="{_HALO}" '
        f'stroke-width="{3 * px:.4f}" paint-order="stroke" text-anchor="middle">{"".join(texts)}</g>'
    )


def _inside(shape: Shape) -> tuple[float, float]:
    """A point well inside of a shape's largest path."""
    import shapely

    from limner.geometry.cubics import flatten

    rings = [shapely.polygons(flatten(path, 0.05)) for path in shape.paths]
    largest = max(rings, key=lambda ring: float(ring.area))
    circle = shapely.maximum_inscribed_circle(shapely.make_valid(largest))
    x, y = next(chain(circle.coords))
    return float(x), float(y)
