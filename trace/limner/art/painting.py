"""The shapes of an SVG in the order in which they are painted.

Method: the tree is walked with its styles and transforms; picosvg reads basic shapes and transforms.
"""

import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from limner.art.document import Document, local_name
from limner.art.outlines import Subpath, subpaths_of
from limner.art.style import Look, StyleSheet, number
from limner.errors import InputError
from limner.geometry.lengths import MM_PER_INCH
from limner.model.arrays import Floats
from limner.model.drawing import ShapeRole

__all__ = ["Page", "Painted", "page_of", "painted_shapes"]

# Far more than a hand draws; keeps what refers to itself many times over from growing without end.
_MOST_SHAPES = 20_000
_MOST_NODES = 400_000
_DEEPEST = 60

_SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
_GROUPS = ("g", "a")
_IGNORED = ("", "defs", "title", "desc", "metadata", "style", "symbol", "marker")

_WHY = {
    "text": "is text: turn it into paths",
    "image": "is a picture: trace it, or draw it",
    "foreignObject": "holds something that is no SVG: take it out",
    "switch": "shows one thing or another: keep one of them",
    "script": "is a program: take it out",
    "svg": "is a drawing inside the drawing: ungroup it",
}
_TRANSFORM = re.compile(r"(?:[\s,]*(?:matrix|translate|scale|rotate|skewX|skewY)\s*\([^()]*\))+[\s,]*")

_UNDRAWN = ("linearGradient", "radialGradient", "pattern", "filter", "mask", "clipPath")

_PX_MM = MM_PER_INCH / 96  # CSS Values 3


@dataclass(frozen=True, slots=True, eq=False)
class Painted:
    """One shape as it is painted.

    Parameters
    ----------
    names : tuple of str
        Its own id and those of the groups around it, innermost first.
    role : ShapeRole
        Fill or stroke.
    screen : str
        Its colour.
    element : Element
        Where it comes from.
    subpaths : list of Subpath
        What it follows, in its own units.
    matrix : ndarray, shape (2, 3)
        From there to the page.
    look : Look
        How it is painted.
    is_around : bool
        Whether it is the stroke around a fill.
    """

    names: tuple[str, ...]
    role: ShapeRole
    screen: str
    element: Any
    subpaths: list[Subpath]
    matrix: Floats
    look: Look
    is_around: bool = False


@dataclass(slots=True)
class _Walk:
    """What is found on the way through a document."""

    document: Document
    sheet: StyleSheet
    painted: list[Painted] = field(default_factory=list)
    nodes: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """The page of a document.

    Parameters
    ----------
    matrix : ndarray, shape (2, 3)
        From user units to millimetres.
    size_mm : tuple of float or None
        Its size, where the document gives one.
    """

    matrix: Floats
    size_mm: tuple[float, float] | None


def painted_shapes(document: Document) -> list[Painted]:
    """Every fill and every stroke, bottom to top.

    Raises
    ------
    InputError
        Something in the document is not a shape of one colour.
    """
    walk = _Walk(document, StyleSheet(document))
    look = Look({}).inside(document, document.root, walk.sheet.of(document.root))
    _children(walk, document.root, page_of(document).matrix, look, (), 0)
    return walk.painted


def page_of(document: Document) -> Page:
    """Size and scale of the page.

    Raises
    ------
    InputError
        The document gives a size that is none.
    """
    root = document.root
    box = [part for part in (root.get("viewBox") or "").replace(",", " ").split() if part]
    given = {name: root.get(name) for name in ("width", "height")}
    sized = all(value is not None and "%" not in value for value in given.values())
    try:
        x, y, width, height = (float(part) for part in box) if len(box) == 4 else (0.0, 0.0, 0.0, 0.0)
        size = (number(given["width"]) * _PX_MM, number(given["height"]) * _PX_MM) if sized else None
        # What is given in millimetres is not to differ by the way over pixels.
        scale = round(size[0] / width, 9) if size is not None and width else _PX_MM
    except ValueError:
        problem = "has a size that is none: give it a width, a height and a viewBox"
        raise document.refuse(root, problem) from None
    if size is None and width and height:
        size = width * scale, height * scale
    return Page(np.array([[scale, 0.0, -x * scale], [0.0, scale, -y * scale]]), size)


def _children(
    walk: _Walk, parent: Any, matrix: Floats, look: Look, names: tuple[str, ...], depth: int
) -> None:
    for element in parent:
        _visit(walk, element, matrix, look, names, depth + 1)


def _visit(walk: _Walk, element: Any, matrix: Floats, look: Look, names: tuple[str, ...], depth: int) -> None:
    name = local_name(element)
    if name in _IGNORED or name in _UNDRAWN:
        return
    if depth > _DEEPEST:
        raise walk.document.refuse(element, f"lies more than {_DEEPEST} groups deep: ungroup it")
    declared = walk.sheet.of(element)
    if declared.get("display") == "none":
        return
    if name not in (*_SHAPES, *_GROUPS, "use"):
        raise walk.document.refuse(
            element, _WHY.get(name, "is nothing that a sticker can be cut from: take it out")
        )
    inner = look.inside(walk.document, element, declared)
    placed = _compose(matrix, _transform(walk.document, element))
    own = (*_names_of(element), *names)
    if name in _GROUPS:
        _children(walk, element, placed, inner, own, depth)
    elif name == "use":
        _visit_used(walk, element, placed, inner, own, depth)
    elif inner.values.get("visibility", "visible") == "visible":
        _paint(walk, element, placed, inner, own)


def _names_of(element: Any) -> tuple[str, ...]:
    """An element's id; before it a title that is the same but for spaces, which no id may hold."""
    identifier = element.get("id")
    if not identifier:
        return ()
    titles = (child.text or "" for child in element if local_name(child) == "title")
    title = next(titles, "").strip()
    return (title, identifier) if title != identifier == title.replace(" ", "-") else (identifier,)


def _visit_used(
    walk: _Walk, element: Any, matrix: Floats, look: Look, names: tuple[str, ...], depth: int
) -> None:
    target = walk.document.used(element)
    shift = np.array([[1.0, 0.0, _length(walk, element, "x")], [0.0, 1.0, _length(walk, element, "y")]])
    if local_name(target) == "symbol":
        if target.get("viewBox"):
            raise walk.document.refuse(element, "uses a symbol with a view of its own: expand it first")
        _children(walk, target, _compose(matrix, shift), look, names, depth + 1)
    else:
        _visit(walk, target, _compose(matrix, shift), look, names, depth + 1)


def _length(walk: _Walk, element: Any, name: str) -> float:
    try:
        return number(element.get(name))
    except ValueError:
        raise walk.document.refuse(
            element, f"has {name} = {element.get(name)[:20]}, which is no length"
        ) from None


def _transform(document: Document, element: Any) -> Floats:
    from picosvg.svg_transform import Affine2D

    text = element.get("transform")
    if not text or not text.strip():
        return np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    try:
        if not _TRANSFORM.fullmatch(text):
            raise ValueError("not a list of transforms")
        a, b, c, d, e, f = Affine2D.fromstring(text)  # type: ignore[no-untyped-call]
        matrix = np.array([[a, c, e], [b, d, f]], dtype=np.float64)
    except (ValueError, TypeError, IndexError, KeyError):
        matrix = np.full((2, 3), np.nan)
    if not np.isfinite(matrix).all():
        raise document.refuse(element, "has a transform that is none")
    return matrix


def _compose(outer: Floats, inner: Floats) -> Floats:
    """First the inner map, then the outer one."""
    return np.asarray(outer @ np.vstack([inner, [0.0, 0.0, 1.0]]))


def _paint(walk: _Walk, element: Any, matrix: Floats, look: Look, names: tuple[str, ...]) -> None:
    fill = look.colour(walk.document, element, "fill", "black")
    stroke = look.colour(walk.document, element, "stroke", "none")
    if fill is None and stroke is None:
        return
    subpaths = _subpaths(walk, element)
    if not subpaths:
        return
    walk.nodes += sum(path.node_count for path, _ in subpaths)
    if len(walk.painted) >= _MOST_SHAPES or walk.nodes > _MOST_NODES:
        raise InputError(f"{walk.document.name} shows more than a sticker can hold: simplify the art.")
    is_filled = fill is not None and local_name(element) != "line"
    if fill is not None and is_filled:
        walk.painted.append(Painted(names, "area", fill, element, subpaths, matrix, look))
    if stroke is not None:
        walk.painted.append(Painted(names, "line", stroke, element, subpaths, matrix, look, is_filled))


def _subpaths(walk: _Walk, element: Any) -> list[Subpath]:
    from picosvg import svg_types

    kinds = {
        "path": (svg_types.SVGPath, ("d",)),
        "rect": (svg_types.SVGRect, ("x", "y", "width", "height", "rx", "ry")),
        "circle": (svg_types.SVGCircle, ("cx", "cy", "r")),
        "ellipse": (svg_types.SVGEllipse, ("cx", "cy", "rx", "ry")),
        "line": (svg_types.SVGLine, ("x1", "y1", "x2", "y2")),
        "polyline": (svg_types.SVGPolyline, ("points",)),
        "polygon": (svg_types.SVGPolygon, ("points",)),
    }
    kind, attributes = kinds[local_name(element)]
    texts = ("d", "points")
    given: dict[str, Any] = {
        name: element.get(name) if name in texts else _length(walk, element, name)
        for name in attributes
        if element.get(name) is not None
    }
    if not all(given.get(name, "1") for name in ("width", "height", "r", *texts)):
        return []
    try:
        return subpaths_of(kind(**given).as_path())
    except (ValueError, TypeError, IndexError, ZeroDivisionError, OverflowError):
        raise walk.document.refuse(element, "has path data that are damaged: save it again") from None
