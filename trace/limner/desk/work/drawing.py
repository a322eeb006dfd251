"""A traced sketch in JSON types, as the page draws it."""

from collections.abc import Sequence
from typing import Any

from limner.desk.work.tasks import DrawTask, Look
from limner.model.arrays import Floats
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import Axis
from limner.output import path_data
from limner.pipeline import TraceResult
from limner.symmetry import kept_side

__all__ = ["art_json", "drawing_json", "dressed"]

# Fractions of the page to a ten-thousandth: a hundredth of a millimetre on a page of 100 mm.
_DIGITS = 4

Frame = tuple[float, float, float, float]


def drawing_json(result: TraceResult) -> dict[str, Any]:
    """A trace as the page draws it.

    Parameters
    ----------
    result : TraceResult
        What was traced.

    Returns
    -------
    dict
        Lengths in millimetres of the drawing's page; places of areas and bridges in fractions of the
        photographed page, as in a job.
    """
    frame = _frame(result)
    inside = {area.name: area.inside for area in result.regions.areas}
    drawing = result.drawing
    return {
        **_common(drawing),
        "page": dict(zip(("x_mm", "y_mm", "width_mm", "height_mm"), _rounded(frame), strict=True)),
        "smoothing_mm": round(result.smoothing_mm, 4),
        "axes": [_axis(mirrored.axis) for mirrored in result.mapped.mirrored],
        "fills": [
            {**_shape(shape), "at": _fraction(inside.get(shape.name), frame)} for shape in drawing.fills
        ],
        "lines": [_shape(shape) for shape in drawing.lines],
        "bridges": _bridges(result, frame),
        "touches": [
            {"index": touch.number, "kind": touch.kind, "words": touch.words} for touch in result.touches
        ],
        "notes": _notes(result),
    }


def art_json(drawing: Drawing) -> dict[str, Any]:
    """Art of the author's own as the page draws it: there is no photograph under it."""
    page = {"x_mm": 0.0, "y_mm": 0.0, "width_mm": drawing.width_mm, "height_mm": drawing.height_mm}
    return {
        **_common(drawing),
        "page": page,
        "smoothing_mm": 0.0,
        "axes": [],
        "fills": [_shape(shape) for shape in drawing.fills],
        "lines": [_shape(shape) for shape in drawing.lines],
        "bridges": [],
        "touches": [],
        "notes": [],
    }


def dressed(drawing: dict[str, Any], task: DrawTask) -> dict[str, Any]:
    """A drawing in the colours that it has on the sheet, as the pipeline gives them by the numbers of tables.

    Parameters
    ----------
    drawing : dict
        As it was drawn, with marks for the fills that the job gives.
    task : DrawTask
        What was asked for.
    """
    look = task.look
    fills = [
        {**shape, "fill": _fill(shape, look), "rule": shape["rule"] if task.numbered else None}
        for shape in drawing["fills"]
        if shape["role"] != "silhouette" or look.base != ""
    ]
    lines = [{**shape, "fill": _fill(shape, look)} for shape in drawing["lines"]]
    return {**drawing, "token": task.token, "fills": fills, "lines": lines}


def _fill(shape: dict[str, Any], look: Look) -> str:
    own, rule = str(shape["fill"]), shape["rule"]
    if shape["role"] == "silhouette":
        return look.base or own
    given = None if rule is None or rule >= len(look.fills) else look.fills[rule]
    is_ink = shape["role"] in ("line", "solid") or shape["inked"]
    return (look.ink or given or own) if is_ink else (given or own)


def _common(drawing: Drawing) -> dict[str, Any]:
    return {
        "width_mm": round(drawing.width_mm, 3),
        "height_mm": round(drawing.height_mm, 3),
        "line_width_mm": round(drawing.line_width_mm, 4),
        "nodes": drawing.node_count,
        "error_mm": round(drawing.error_mm, 4),
    }


def _frame(result: TraceResult) -> Frame:
    height, width = result.page.grey.shape
    scale = result.page.mm_per_px
    return (*result.page_origin_mm, width * scale, height * scale)


def _rounded(values: Sequence[float]) -> list[float]:
    return [round(value, 3) for value in values]


def _axis(axis: Axis) -> dict[str, Any]:
    return {
        "x_mm": round(axis.x_mm, 3),
        "y_mm": round(axis.y_mm, 3),
        "angle_deg": round(axis.angle_deg, 3),
        "how": axis.how,
        "keep": kept_side(axis),
    }


def _shape(shape: Shape) -> dict[str, Any]:
    return {
        "name": shape.name,
        "role": shape.role,
        "d": path_data(shape.paths),
        "fill": shape.fill,
        "at": None,
        "rule": shape.rule,
        "nodes": [node for path in shape.paths for node in _nodes(path.nodes, path.smooth.tolist())],
        "error_mm": round(shape.error_mm, 4),
        "area_mm2": round(shape.area_mm2, 3),
        "bridged_gaps": shape.bridged_gaps,
        "inked": shape.inked,
    }


def _nodes(points: Floats, smooth: Sequence[bool]) -> list[list[Any]]:
    return [
        [round(x, 3), round(y, 3), "smooth" if runs_on else "corner"]
        for (x, y), runs_on in zip(points.tolist(), smooth, strict=True)
    ]


def _fraction(point: tuple[float, float] | None, frame: Frame) -> list[float] | None:
    """A place on the photographed page; None for one beyond it, as in the half that mirroring adds."""
    if point is None:
        return None
    left, top, width, height = frame
    at = [round((point[0] - left) / width, _DIGITS), round((point[1] - top) / height, _DIGITS)]
    return at if all(0.0 <= fraction <= 1.0 for fraction in at) else None


def _bridges(result: TraceResult, frame: Frame) -> list[dict[str, Any]]:
    found = []
    for edge in result.regions.graph.edges:
        if edge.kind == "bridge":
            middle = edge.points[len(edge.points) // 2] if len(edge.points) > 2 else edge.points.mean(axis=0)
            at = _fraction((float(middle[0]), float(middle[1])), frame)
            found.append({"at": at, "d": _polyline(edge.points)})
    return found


def _polyline(points: Floats) -> str:
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points.tolist())


def _notes(result: TraceResult) -> list[str]:
    notes = []
    if not any(shape.role == "area" for shape in result.drawing.fills):
        notes.append("No closed area was found: fills need lines that close.")
    if not result.page.scale_from:
        notes.append("No scale was found: the drawn part is taken as 100 mm wide.")
    return notes
