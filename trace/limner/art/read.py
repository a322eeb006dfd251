"""Read an SVG file of the author's own as a drawing.

Method: every fill becomes a closed shape in the order in which it is painted, every stroke another one,
outlined. Shapes in a last group of lines (`id="lines"`, or one that ends in "-lines", as limner writes them)
become the drawing's lines.

Limits: one colour for each shape. Text, pictures, gradients, filters, masks, clips and dashes are refused by
name and line, as are shapes that are see-through. Lengths are taken in user units at 96 to the inch, unless
the file gives its page in other units; a sticker's width then decides.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from limner.art.document import Document, open_document
from limner.art.outlines import Fitter, even_odd_paths, stroke_paths
from limner.art.painting import Page, Painted, page_of, painted_shapes
from limner.art.style import number
from limner.errors import InputError
from limner.geometry.cubics import bounds, flatten_all, signed_area, transform
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import CubicPath

__all__ = ["read_art"]

# Outlines of strokes may be off by this share of the drawing's size: 0.01 mm of 30 mm.
_TOLERANCE_SHARE = 1 / 3000


def read_art(path: Path, fit: Fitter, names: Sequence[str | None] = (), skip: Sequence[bool] = ()) -> Drawing:
    """Read an SVG file.

    Parameters
    ----------
    path : Path
        The file; it is only read.
    fit : Fitter
        Fits the outlines of strokes.
    names : sequence of str or None
        For each rule of the user the id of a shape or group that it is meant for.
    skip : sequence of bool
        For each of them, whether its shapes are left out.

    Returns
    -------
    Drawing
        In millimetres; shapes without an error, as they are what was drawn.

    Raises
    ------
    InputError
        The file cannot be read, shows nothing, holds what is not a shape of one colour, or has no shape of a
        name that is asked for.
    """
    document = open_document(path)
    painted = painted_shapes(document)
    if not painted:
        raise InputError(f"{path.name} shows no shape with a fill or a stroke: draw one.")
    painted, shapes = _made(document, painted, fit)
    is_line = _on_top(painted)
    shapes = _ruled(document, painted, shapes, is_line, names)
    kept = [i for i, shape in enumerate(shapes) if shape.rule is None or not (skip and skip[shape.rule])]
    if not kept:
        raise InputError(f"{path.name}: nothing is left of the art: skip less of it.")
    # A colour for a shape is one for its fill; what is drawn around it keeps its own.
    shapes = [replace(s, rule=None) if p.is_around else s for s, p in zip(shapes, painted, strict=True)]
    return _drawing([shapes[i] for i in kept], [is_line[i] for i in kept], page_of(document))


def _made(document: Document, painted: Sequence[Painted], fit: Fitter) -> tuple[list[Painted], list[Shape]]:
    """The shapes that come out, and what they come from."""
    boxes = np.array([bounds(transform(path, item.matrix)) for item in painted for path, _ in item.subpaths])
    tolerance = float((boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0)).max()) * _TOLERANCE_SHARE
    if not tolerance > 0:
        raise InputError(f"{document.name} shows nothing that has a size: draw larger shapes.")
    made = [(item, _shape(document, item, n, tolerance, fit)) for n, item in enumerate(painted, 1)]
    kept = [(item, shape) for item, shape in made if shape is not None]
    return [item for item, _ in kept], [shape for _, shape in kept]


def _on_top(painted: Sequence[Painted]) -> list[bool]:
    """Whether each shape lies in a group of lines above all others."""
    in_lines = [any(name == "lines" or name.endswith("-lines") for name in item.names) for item in painted]
    first = next((i for i in range(len(in_lines)) if all(in_lines[i:])), len(in_lines))
    return [i >= first and first > 0 for i in range(len(in_lines))]


def _shape(document: Document, item: Painted, count: int, tolerance: float, fit: Fitter) -> Shape | None:
    """None for a stroke or a fill without extent."""
    scale = float(np.sqrt(abs(np.linalg.det(item.matrix[:, :2]))))
    if scale == 0.0:
        return None
    paths = [path for path, _ in item.subpaths]
    if item.role == "line":
        paths = _stroke(document, item, tolerance / scale, fit)
    elif item.look.values.get("fill-rule", "nonzero") != "evenodd":
        paths = even_odd_paths(paths, tolerance / scale, fit)
    placed = tuple(transform(path, item.matrix) for path in paths)
    placed = tuple(path for path in placed if abs(signed_area(path)) > 0 or path.node_count > 2)
    if not placed:
        return None
    name = item.names[0] if item.names else f"shape-{count}"
    return Shape(f"{name}-stroke" if item.is_around else name, item.role, placed, item.screen, 0.0)


def _stroke(document: Document, item: Painted, tolerance: float, fit: Fitter) -> list[CubicPath]:
    values = item.look.values
    if values.get("stroke-dasharray", "none") not in ("none", "", "0"):
        raise document.refuse(item.element, "is dashed: outline its stroke first")
    try:
        width = number(values.get("stroke-width"), 1.0)
        limit = number(values.get("stroke-miterlimit"), 4.0)
    except ValueError:
        raise document.refuse(item.element, "has a stroke width that is no length") from None
    if width <= 0:
        return []
    cap, join = values.get("stroke-linecap", "butt"), values.get("stroke-linejoin", "miter")
    return stroke_paths(item.subpaths, width, cap, join, limit, tolerance=tolerance, fit=fit)


def _ruled(
    document: Document,
    painted: Sequence[Painted],
    shapes: Sequence[Shape],
    is_line: Sequence[bool],
    names: Sequence[str | None],
) -> list[Shape]:
    """Shapes with the rule of the innermost name that one is meant for; names that are unique."""
    known = {name for item in painted for name in item.names}
    for name in names:
        if name is not None and name not in known:
            listed = ", ".join(sorted(known)[:12]) or "none at all"
            raise InputError(f'{document.name} has no shape with the id "{name}"; it has: {listed}.')
    ruled, taken = [], set[str]()
    for item, shape, on_top in zip(painted, shapes, is_line, strict=True):
        rule = next((names.index(name) for name in item.names if name in names), None)
        unique, number_ = shape.name, 1
        while unique in taken:
            number_ += 1
            unique = f"{shape.name}-{number_}"
        taken.add(unique)
        ruled.append(replace(shape, name=unique, rule=rule, role="line" if on_top else shape.role))
    return ruled


def _drawing(shapes: Sequence[Shape], is_line: Sequence[bool], page: Page) -> Drawing:
    """On the page of the document; where it gives none, one that holds everything."""
    boxes = np.array([bounds(path) for shape in shapes for path in shape.paths])
    fills = tuple(shape for shape, on_top in zip(shapes, is_line, strict=True) if not on_top)
    lines = tuple(shape for shape, on_top in zip(shapes, is_line, strict=True) if on_top)
    width, height = page.size_mm or (float(boxes[:, 2].max()), float(boxes[:, 3].max()))
    return Drawing(width, height, fills, lines, _line_width([*lines, *fills]))


def _line_width(shapes: Sequence[Shape]) -> float:
    """Mean width of all lines: twice their area by the length of their outlines; 0 where there are none."""
    paths = [path for shape in shapes if shape.role == "line" for path in shape.paths]
    if not paths:
        return 0.0
    rings = flatten_all(paths, 0.01)
    length = sum(float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum()) for ring in rings)
    area = abs(sum(signed_area(path) for path in paths))
    return 2.0 * area / length if length > 0 else 0.0
