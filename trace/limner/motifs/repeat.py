"""Place motifs again: exact copies of the fitted curves, turned, scaled or flipped.

Method: the motif is every shape whose outline lies inside a ring, in the fills and in the lines. A copy's
fills go above all fills, its ink above all ink, and ink that its areas lie on is taken away (`covering`), so
that it hides what it lies on though all ink lies above all fills. A copy that leaves the base brings one.

Limits: a motif whose lines touch others is one shape with them, so that no ring holds it. Copies are not
counted against a budget of nodes, and know nothing of an axis.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from limner.errors import GeometryError
from limner.geometry.cubics import bounds, flatten_all, reverse, transform
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.drawing import Drawing, Shape
from limner.model.motif import MotifPlace, Repeat
from limner.motifs.covering import FLATTEN_MM, filled_region, without

__all__ = ["repeat_motifs"]

# A copy may reach past the page by what coordinates are rounded to.
_ROUNDING_MM = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class _Motif:
    """Shapes that are copied together, and the middle of their box."""

    fills: tuple[Shape, ...]
    lines: tuple[Shape, ...]
    middle: Floats

    @property
    def shapes(self) -> tuple[Shape, ...]:
        return self.fills + self.lines


def repeat_motifs(drawing: Drawing, repeats: Sequence[Repeat]) -> Drawing:
    """Add the copies of motifs to a drawing.

    Parameters
    ----------
    drawing : Drawing
        What the motifs are part of.
    repeats : sequence of Repeat
        In millimetres of the drawing. Every motif is one of the drawing as it was, without any copies.

    Returns
    -------
    Drawing

    Raises
    ------
    GeometryError
        A ring holds no shape, or a copy runs off the page; the error is about its table.
    """
    motifs = [_motif(drawing, repeat, number) for number, repeat in enumerate(repeats)]
    bases = [filled_region(shape.paths) for shape in drawing.fills if shape.role == "silhouette"]
    covered = shapely.union_all(bases)
    taken = {shape.name for shape in drawing.shapes}
    for number, (motif, repeat) in enumerate(zip(motifs, repeats, strict=True)):
        for k, place in enumerate(repeat.places):
            copy = _copied(motif, place, taken)
            if not _on_page(copy.shapes, drawing):
                raise GeometryError(
                    f"this copy of a motif runs off the page at {place.scale:g} times its size: "
                    "move it inwards, or make it smaller.",
                    about=("repeat", number, "to", k),
                )
            drawing = _added(drawing, copy, covered)
    return drawing


def _motif(drawing: Drawing, repeat: Repeat, number: int) -> _Motif:
    fills = tuple(shape for shape in drawing.fills if _is_inside(shape, repeat.ring))
    lines = tuple(shape for shape in drawing.lines if _is_inside(shape, repeat.ring))
    if not fills and not lines:
        raise GeometryError(
            "this ring holds no whole shape: draw it around a motif whose lines touch no others.",
            about=("repeat", number, "ring"),
        )
    low, high = _box((*fills, *lines))
    if not any(shape.role == "silhouette" for shape in fills):
        fills = (*_base(drawing, fills), *fills)
    return _Motif(fills, lines, (low + high) / 2)


def _is_inside(shape: Shape, ring: Floats) -> bool:
    points = np.concatenate(flatten_all(shape.paths, FLATTEN_MM))
    low, high = ring.min(axis=0), ring.max(axis=0)
    # Most shapes lie far away.
    if (points < low).any() or (points > high).any():
        return False
    return bool(inside_rings(points, [ring]).all())


def _base(drawing: Drawing, fills: Sequence[Shape]) -> tuple[Shape, ...]:
    """What is to lie under a motif that has no base of its own, as it lies on another one's."""
    others = [shape for shape in drawing.fills if shape.role == "silhouette"]
    areas = [shape for shape in fills if shape.role == "area"]
    if not others or not areas:
        return ()
    regions = [filled_region(shape.paths) for shape in areas]
    outer = [
        shape
        for i, shape in enumerate(areas)
        if not any(
            j != i and regions[j].area > regions[i].area and shapely.covers(regions[j], regions[i])
            for j in range(len(areas))
        )
    ]
    paths = tuple(path for shape in outer for path in shape.paths)
    error = max(shape.error_mm for shape in outer)
    return (Shape("silhouette", "silhouette", paths, others[0].fill, error),)


def _copied(motif: _Motif, place: MotifPlace, taken: set[str]) -> _Motif:
    """The motif at a place, its shapes under names that are free."""
    turn = np.radians(place.turn_deg)
    c, s = place.scale * np.cos(turn), place.scale * np.sin(turn)
    matrix = np.array([[c, -s], [s, c]]) @ np.diag([-1.0 if place.flip else 1.0, 1.0])
    at = np.array(place.at_mm)
    shift = at - matrix @ motif.middle
    whole = np.concatenate([matrix, shift[:, None]], axis=1)

    def copied(shape: Shape) -> Shape:
        paths = tuple(transform(path, whole) for path in shape.paths)
        if place.flip:
            paths = tuple(reverse(path) for path in paths)
        return replace(
            shape,
            name=_free_name(shape.name, taken),
            paths=paths,
            error_mm=shape.error_mm * place.scale,
            area_mm2=shape.area_mm2 * place.scale**2,
        )

    return _Motif(tuple(map(copied, motif.fills)), tuple(map(copied, motif.lines)), at)


def _free_name(name: str, taken: set[str]) -> str:
    number = 1
    while f"{name}-copy-{number}" in taken:
        number += 1
    free = f"{name}-copy-{number}"
    taken.add(free)
    return free


def _box(shapes: Iterable[Shape]) -> tuple[Floats, Floats]:
    boxes = np.array([bounds(path) for shape in shapes for path in shape.paths])
    return boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)


def _on_page(shapes: Sequence[Shape], drawing: Drawing) -> bool:
    low, high = _box(shapes)
    size = np.array([drawing.width_mm, drawing.height_mm])
    return bool((low >= -_ROUNDING_MM).all() and (high <= size + _ROUNDING_MM).all())


def _added(drawing: Drawing, copy: _Motif, covered: Any) -> Drawing:
    """The drawing with a copy above all else; its base lies with the others, where it leaves those."""
    areas = [shape for shape in copy.fills if shape.role == "area"]
    bases = tuple(
        shape
        for shape in copy.fills
        if shape.role == "silhouette" and not shapely.covers(covered, filled_region(shape.paths))
    )
    below = tuple(shape for shape in drawing.fills if shape.role == "silhouette")
    above = tuple(shape for shape in drawing.fills if shape.role != "silhouette")
    cover = tuple(path for shape in areas for path in shape.paths)
    cleared = [without(shape, cover) for shape in drawing.lines] if cover else list(drawing.lines)
    lines = tuple(shape for shape in cleared if shape is not None)
    return replace(drawing, fills=(*below, *bases, *above, *areas), lines=(*lines, *copy.lines))
