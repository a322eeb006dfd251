"""A picture of what happened to one sketch.

Two panels at the same scale: the straightened sketch with the shapes' outlines, nodes, bridged gaps and
axis over it; and the result alone. Below them a caption and a scale bar. The picture is composed as SVG
and rendered by resvg, so that it shows exactly what the result's own SVG holds.
"""

import base64
import html
import math
from collections.abc import Iterable, Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.geometry.cubics import bounds
from limner.model.arrays import Indices
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import Axis
from limner.model.raster import ScaledPage
from limner.model.touch import TouchOutcome
from limner.output.markup import path_data
from limner.output.sketch.guides import Window, names, ruler
from limner.output.sketch.touches import touch_marks, touch_words

__all__ = ["trace_proof"]

# Air around the drawing, as a share of its larger side; the rest of an empty page is not shown.
_AIR = 0.06

_PANEL_PX = 1200.0  # two panels of this size fit a wide screen and stay readable when sent by mail
_MARGIN_PX = 28.0
_CAPTION_PX = 96.0
_SKETCH_PX = 1800  # of the embedded part of the sketch: enough for the panel on a dense screen
_SKETCH_QUALITY = 88
_NODE_PX = 2.6

_PAPER = "#f4f1ea"
_TEXT = "#33312c"
_OUTLINE = "#0b6e8f"
_NODE = "#d6336c"
_BRIDGE = "#f08c00"
_AXIS = "#7048e8"


def trace_proof(
    page: ScaledPage,
    drawing: Drawing,
    *,
    bridges: Sequence[NDArray[np.float64]] = (),
    page_origin_mm: tuple[float, float] = (0.0, 0.0),
    caption: str = "",
    touches: Sequence[TouchOutcome] = (),
    touch_lines: Sequence[int | None] = (),
) -> bytes:
    """Draw the proof of one traced sketch.

    Parameters
    ----------
    page : ScaledPage
        The straightened sketch.
    drawing : Drawing
        The result.
    bridges : sequence of ndarray, shape (n, 2)
        Bridged gaps as polylines in millimetres of the drawing.
    page_origin_mm : tuple of float
        Where the page's top left corner lies in the drawing (a completed half may need a larger page).
    caption : str
        One line below the panels.
    touches : sequence of TouchOutcome
        Drawn on the sketch with a number each, and told below.
    touch_lines : sequence of int or None
        The line on which each of them stands in its file; none where no file is known.

    Returns
    -------
    bytes
        A PNG file.
    """
    window = _window(drawing)
    scale = _PANEL_PX / max(window[2:])
    panel_w, panel_h = window[2] * scale, window[3] * scale
    width = 2 * panel_w + 3 * _MARGIN_PX
    told = touch_words(touches, touch_lines, (_MARGIN_PX, panel_h + _MARGIN_PX + _CAPTION_PX), width)
    above = panel_h + 2 * _MARGIN_PX + _CAPTION_PX
    height = above + told.height_px
    sketch = _sketch_panel(page, drawing, bridges, page_origin_mm, window)
    body = [
        f'<rect width="100%" height="100%" fill="{_PAPER}"/>',
        _panel(_MARGIN_PX, scale, window, sketch + touch_marks(touches, 1.0 / scale)),
        _panel(2 * _MARGIN_PX + panel_w, scale, window, _filled(drawing.shapes)),
        _caption(caption, above),
        _scale_bar(width, above, scale),
        told.svg,
    ]
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}" '
        f'viewBox="0 0 {width:.3f} {height:.3f}">{"".join(body)}</svg>'
    )
    return _render(text)


def _window(drawing: Drawing) -> Window:
    """The part of the page around the drawing."""
    boxes = np.array([bounds(path) for shape in drawing.shapes for path in shape.paths]).reshape(-1, 4)
    if not len(boxes):
        return 0.0, 0.0, drawing.width_mm, drawing.height_mm
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    air = _AIR * float((high - low).max())
    left, top = np.maximum(low - air, 0.0)
    right, bottom = np.minimum(high + air, [drawing.width_mm, drawing.height_mm])
    return float(left), float(top), float(right - left), float(bottom - top)


def _render(svg: str) -> bytes:
    import font_source_sans_pro
    import resvg_py

    font = Path(font_source_sans_pro.__file__).parent / "files" / "SourceSansPro-Regular.otf"
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=svg,
            font_files=[str(font)],
            skip_system_fonts=True,
            sans_serif_family="Source Sans Pro",
        )
    )


def _panel(x_px: float, scale: float, window: Window, body: str) -> str:
    """One panel in millimetres of the drawing, on white."""
    left, top, w, h = window
    return (
        f'<svg x="{x_px:.3f}" y="{_MARGIN_PX:.3f}" width="{w * scale:.3f}" height="{h * scale:.3f}" '
        f'viewBox="{left:.4f} {top:.4f} {w:.4f} {h:.4f}">'
        f'<rect x="{left:.4f}" y="{top:.4f}" width="100%" height="100%" fill="#ffffff"/>{body}</svg>'
    )


def _sketch_panel(
    page: ScaledPage,
    drawing: Drawing,
    bridges: Sequence[NDArray[np.float64]],
    page_origin_mm: tuple[float, float],
    window: Window,
) -> str:
    px = max(window[2:]) / _PANEL_PX
    outlines = "".join(
        f'<path d="{path_data(shape.paths)}" fill="{shape.fill}" fill-opacity="0.18" fill-rule="evenodd" '
        f'stroke="{_OUTLINE}" stroke-width="{1.2 * px:.4f}"/>'
        for shape in drawing.shapes
    )
    gaps = "".join(
        f'<polyline points="{_points(line)}" fill="none" stroke="{_BRIDGE}" stroke-width="{3 * px:.4f}"/>'
        for line in bridges
    )
    return (
        _sketch(page, page_origin_mm, window)
        + outlines
        + gaps
        + _axis(drawing.axis, drawing, px)
        + _nodes(drawing, px)
        + names(drawing.shapes, px)
        + ruler(window, _page_frame(page, page_origin_mm), px)
    )


def _page_frame(page: ScaledPage, origin_mm: tuple[float, float]) -> Window:
    height, width = page.grey.shape
    return (*origin_mm, width * page.mm_per_px, height * page.mm_per_px)


def _sketch(page: ScaledPage, origin_mm: tuple[float, float], window: Window) -> str:
    """The part of the page within the window: to enlarge a whole page for one dot takes minutes."""
    first, end = _pixels_within(page, origin_mm, window)
    if (end <= first).any():
        return ""
    part = np.asarray(page.colour)[first[1] : end[1], first[0] : end[0]]
    shrink = min(1.0, _SKETCH_PX / max(part.shape))
    size = (max(1, round(part.shape[1] * shrink)), max(1, round(part.shape[0] * shrink)))
    small = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
    jpeg = cv2.imencode(
        ".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, _SKETCH_QUALITY]
    )
    data = base64.b64encode(jpeg[1].tobytes()).decode("ascii")
    (x, y), (width, height) = first * page.mm_per_px + origin_mm, (end - first) * page.mm_per_px
    return (
        f'<image x="{x:.4f}" y="{y:.4f}" width="{width:.4f}" height="{height:.4f}" '
        f'preserveAspectRatio="none" href="data:image/jpeg;base64,{data}"/>'
    )


def _pixels_within(
    page: ScaledPage, origin_mm: tuple[float, float], window: Window
) -> tuple[Indices, Indices]:
    """First (x, y) and end of the page's pixels that lie within the window in part."""
    low, extent = np.array(window[:2]) - origin_mm, np.array(window[2:])
    limit = page.grey.shape[::-1]
    first = np.clip(np.floor(low / page.mm_per_px), 0, limit)
    end = np.clip(np.ceil((low + extent) / page.mm_per_px), 0, limit)
    return first.astype(np.int64), end.astype(np.int64)


def _points(line: NDArray[np.float64]) -> str:
    return " ".join(f"{x:.3f},{y:.3f}" for x, y in line.tolist())


def _nodes(drawing: Drawing, px: float) -> str:
    """Corners as squares, smooth nodes as dots; a node that several shapes share is drawn once."""
    smooth: dict[tuple[float, float], bool] = {}
    for shape in drawing.shapes:
        for path in shape.paths:
            for (x, y), is_smooth in zip(np.round(path.nodes, 3).tolist(), path.smooth.tolist(), strict=True):
                smooth[x, y] = smooth.get((x, y), False) or is_smooth
    r = _NODE_PX * px
    style = f'fill="#ffffff" stroke="{_NODE}" stroke-width="{px:.4f}"'
    dots = (
        f'<circle cx="{x:g}" cy="{y:g}" r="{r:.4f}"/>'
        if is_smooth
        else f'<rect x="{x - r:.4f}" y="{y - r:.4f}" width="{2 * r:.4f}" height="{2 * r:.4f}"/>'
        for (x, y), is_smooth in smooth.items()
    )
    return f"<g {style}>{''.join(dots)}</g>"


def _axis(axis: Axis | None, drawing: Drawing, px: float) -> str:
    if axis is None:
        return ""
    reach = drawing.width_mm + drawing.height_mm
    dx, dy = math.cos(math.radians(axis.angle_deg)) * reach, math.sin(math.radians(axis.angle_deg)) * reach
    return (
        f'<line x1="{axis.x_mm - dx:.3f}" y1="{axis.y_mm - dy:.3f}" x2="{axis.x_mm + dx:.3f}" '
        f'y2="{axis.y_mm + dy:.3f}" stroke="{_AXIS}" stroke-width="{2 * px:.4f}" '
        f'stroke-dasharray="{14 * px:.4f} {5 * px:.4f} {3 * px:.4f} {5 * px:.4f}"/>'
    )


def _filled(shapes: Iterable[Shape]) -> str:
    return "".join(
        f'<path d="{path_data(shape.paths)}" fill="{shape.fill}" fill-rule="evenodd"/>' for shape in shapes
    )


def _caption(caption: str, height: float) -> str:
    y = height - _CAPTION_PX + 34
    style = f'font-family="Source Sans Pro" font-size="24" fill="{_TEXT}"'
    return (
        f'<text x="{_MARGIN_PX}" y="{y:.1f}" {style}>{html.escape(caption)}</text>'
        f'<g font-family="Source Sans Pro" font-size="19" fill="{_TEXT}">'
        f'<circle cx="{_MARGIN_PX + 6}" cy="{y + 27:.1f}" r="4.5" fill="#ffffff" '
        f'stroke="{_NODE}" stroke-width="1.6"/>'
        f'<text x="{_MARGIN_PX + 18}" y="{y + 33:.1f}">smooth node</text>'
        f'<rect x="{_MARGIN_PX + 134}" y="{y + 22.5:.1f}" width="9" height="9" fill="#ffffff" '
        f'stroke="{_NODE}" stroke-width="1.6"/>'
        f'<text x="{_MARGIN_PX + 150}" y="{y + 33:.1f}">corner</text>'
        f'<rect x="{_MARGIN_PX + 222}" y="{y + 25:.1f}" width="22" height="4" fill="{_BRIDGE}"/>'
        f'<text x="{_MARGIN_PX + 252}" y="{y + 33:.1f}">bridged gap</text></g>'
    )


def _scale_bar(width: float, height: float, scale: float) -> str:
    """A bar of a round length, about a fifth of a panel."""
    target = 0.2 * _PANEL_PX / scale
    power = 10.0 ** math.floor(math.log10(target))
    length = max(step * power for step in (1.0, 2.0, 5.0) if step * power <= target)
    x1 = width - _MARGIN_PX
    x0, y = x1 - length * scale, height - _CAPTION_PX + 40
    return (
        f'<path d="M{x0:.2f} {y - 8:.2f}V{y:.2f}H{x1:.2f}V{y - 8:.2f}" fill="none" '
        f'stroke="{_TEXT}" stroke-width="2.4"/>'
        f'<text x="{(x0 + x1) / 2:.2f}" y="{y + 26:.2f}" text-anchor="middle" font-family="Source Sans Pro" '
        f'font-size="22" fill="{_TEXT}">{length:g} mm</text>'
    )
