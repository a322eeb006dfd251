"""A traced drawing as SVG 1.1: layers of closed, filled paths, at true size."""

from collections.abc import Sequence
from io import StringIO

import svgwrite

from limner.model.drawing import Drawing, Shape
from limner.output.markup import path_data, plain_text, unique_ids, xml_id

__all__ = ["drawing_svg"]

_FILLS_TITLE = "Fills"
_LINES_TITLE = "Lines"


def drawing_svg(drawing: Drawing, title: str) -> bytes:
    """Write a drawing as an SVG file.

    Parameters
    ----------
    drawing : Drawing
        What to write; one unit of the viewBox is one millimetre.
    title : str
        Title of the document, usually the sketch's name.

    Returns
    -------
    bytes
        UTF-8 text; the same drawing gives the same bytes.
    """
    width, height = round(drawing.width_mm, 3), round(drawing.height_mm, 3)
    # Validation while writing costs more than the tracing; the tests validate the result instead.
    svg = svgwrite.Drawing(
        size=(f"{width:g}mm", f"{height:g}mm"),
        viewBox=f"0 0 {width:g} {height:g}",
        profile="full",
        debug=False,
    )
    svg.set_desc(title=plain_text(title))
    ids = iter(unique_ids(["fills", "lines", *(shape.name for shape in drawing.shapes)])[2:])
    svg.add(_layer(svg, "fills", _FILLS_TITLE, drawing.fills, [next(ids) for _ in drawing.fills]))
    svg.add(_layer(svg, "lines", _LINES_TITLE, drawing.lines, list(ids)))
    text = StringIO()
    svg.write(text, pretty=True, indent=1)
    return text.getvalue().encode("utf-8")


def _layer(
    svg: svgwrite.Drawing, name: str, title: str, shapes: Sequence[Shape], ids: Sequence[str]
) -> svgwrite.container.Group:
    """A named group with a title that holds one path per shape."""
    group = svg.g(id=name)
    group.set_desc(title=title)
    for shape, identifier in zip(shapes, ids, strict=True):
        path = svg.path(d=path_data(shape.paths), id=identifier, fill=shape.fill, fill_rule="evenodd")
        if xml_id(shape.name) != shape.name:
            path.set_desc(title=plain_text(shape.name))
        group.add(path)
    return group
