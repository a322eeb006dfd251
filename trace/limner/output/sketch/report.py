"""The report of one traced sketch, as JSON-ready values."""

from collections.abc import Mapping, Sequence
from typing import Any

from limner.model.drawing import Drawing, Shape
from limner.model.geometry import Axis
from limner.model.touch import TouchOutcome

__all__ = ["trace_report"]


def _area(shape: Shape) -> dict[str, Any]:
    return {
        "name": shape.name,
        "area_mm2": round(shape.area_mm2, 3),
        "nodes": shape.node_count,
        "error_mm": round(shape.error_mm, 4),
        "bridged_gaps": shape.bridged_gaps,
    }


def _axis(axis: Axis | None) -> dict[str, Any] | None:
    if axis is None:
        return None
    return {
        "x_mm": round(axis.x_mm, 4),
        "y_mm": round(axis.y_mm, 4),
        "angle_deg": round(axis.angle_deg, 4),
        "score": round(axis.score, 4),
        "how": axis.how,
    }


def _touch(touch: TouchOutcome, lines: Sequence[int | None]) -> dict[str, Any]:
    line = lines[touch.number] if touch.number < len(lines) else None
    return {"kind": touch.kind, "line": line, "words": touch.words}


def trace_report(
    drawing: Drawing,
    sketch: str,
    mm_per_px: float,
    seconds: Mapping[str, float],
    touches: Sequence[TouchOutcome] = (),
    touch_lines: Sequence[int | None] = (),
) -> dict[str, Any]:
    """What was found and how well it was fitted.

    Parameters
    ----------
    drawing : Drawing
        The result.
    sketch : str
        Name of the file that was traced.
    mm_per_px : float
        Scale of the page (the photograph, or the paper once straightened).
    seconds : mapping of str to float
        Wall time of each stage.
    touches : sequence of TouchOutcome
        What became of each touch.
    touch_lines : sequence of int or None
        The line on which each of them stands in its file; none where no file is known.

    Returns
    -------
    dict
        Only JSON types; lengths in millimetres. `touches` only where there are any.
    """
    lines = drawing.lines
    return {
        "sketch": sketch,
        "width_mm": round(drawing.width_mm, 3),
        "height_mm": round(drawing.height_mm, 3),
        "mm_per_px": mm_per_px,
        "line_width_mm": round(drawing.line_width_mm, 4),
        "areas": [_area(shape) for shape in drawing.fills if shape.role == "area"],
        "lines": {
            "shapes": len(lines),
            "nodes": sum(shape.node_count for shape in lines),
            "error_mm": round(max((shape.error_mm for shape in lines), default=0.0), 4),
        },
        "nodes": drawing.node_count,
        "error_mm": round(drawing.error_mm, 4),
        "axis": _axis(drawing.axis),
        **({"touches": [_touch(touch, touch_lines) for touch in touches]} if touches else {}),
        "seconds": {stage: round(value, 4) for stage, value in seconds.items()},
    }
