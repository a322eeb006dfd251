"""Corrections on a proof: drawn where they are with a number each, and told in a list."""

import html
from collections.abc import Sequence
from dataclasses import dataclass

from limner.model.touch import TouchOutcome

__all__ = ["Told", "touch_marks", "touch_words"]

_PENCIL = "#1c7ed6"
_TEXT = "#33312c"
_HALO = "#ffffff"

_STROKE_PX, _DOT_PX, _NUMBER_PX = 3.0, 7.0, 20.0

_ROW_PX, _COLUMN_PX, _SIZE_PX = 27.0, 560.0, 20.0

# More than these are no list that anybody reads: the report has all.
_MOST = 60


@dataclass(frozen=True, slots=True)
class Told:
    """A list of touches.

    Parameters
    ----------
    svg : str
        In pixels of the picture.
    height_px : float
        What it takes of the picture's height.
    """

    svg: str
    height_px: float


def touch_marks(touches: Sequence[TouchOutcome], px: float) -> str:
    """Lines and places of touches with their numbers, in millimetres of the drawing.

    Parameters
    ----------
    touches : sequence of TouchOutcome
        The touches.
    px : float
        Millimetres of a pixel.
    """
    parts = []
    for touch in touches[:_MOST]:
        (x, y), line = touch.points[0].tolist(), touch.points
        if len(line) > 1:
            points = " ".join(f"{a:.3f},{b:.3f}" for a, b in line.tolist())
            dashes = f' stroke-dasharray="{6 * px:.4f} {5 * px:.4f}"' if touch.kind == "rub" else ""
            parts.append(f'<polyline points="{points}" stroke-width="{_STROKE_PX * px:.4f}"{dashes}/>')
        parts.append(
            f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{_DOT_PX * px:.4f}" stroke-width="{2 * px:.4f}"/>'
            f'<text x="{x + 1.4 * _DOT_PX * px:.3f}" y="{y - 0.6 * _DOT_PX * px:.3f}" fill="{_PENCIL}" '
            f'stroke="{_HALO}" stroke-width="{3 * px:.4f}" paint-order="stroke">{touch.number + 1}</text>'
        )
    style = f'font-family="Source Sans Pro" font-size="{_NUMBER_PX * px:.4f}"'
    return f'<g fill="none" stroke="{_PENCIL}" {style}>{"".join(parts)}</g>'


def touch_words(
    touches: Sequence[TouchOutcome],
    lines: Sequence[int | None],
    at_px: tuple[float, float],
    width_px: float,
) -> Told:
    """Say what became of each touch, in as many columns as there is room for.

    Parameters
    ----------
    touches : sequence of TouchOutcome
        The touches.
    lines : sequence of int or None
        The line on which each stands in its file; none where no file is known.
    at_px : tuple of float
        Left and top of the list.
    width_px : float
        Width of the picture.
    """
    if not touches:
        return Told("", 0.0)
    columns = max(1, int((width_px - 2 * at_px[0]) / _COLUMN_PX))
    shown = touches[:_MOST]
    rows = -(-len(shown) // columns)
    texts = (
        f'<text x="{at_px[0] + (k // rows) * _COLUMN_PX:.1f}" y="{at_px[1] + (k % rows + 1) * _ROW_PX:.1f}">'
        f'<tspan fill="{_PENCIL}">{touch.number + 1}</tspan>  {html.escape(_said(touch, lines))}</text>'
        for k, touch in enumerate(shown)
    )
    style = f'font-family="Source Sans Pro" font-size="{_SIZE_PX}" fill="{_TEXT}" xml:space="preserve"'
    return Told(f"<g {style}>{''.join(texts)}</g>", rows * _ROW_PX + 0.5 * _ROW_PX)


def _said(touch: TouchOutcome, lines: Sequence[int | None]) -> str:
    line = lines[touch.number] if touch.number < len(lines) else None
    return f"{touch.kind}: {touch.words}" + ("" if line is None else f" (line {line})")
