"""Place motifs again: exact copies of the fitted curves, turned, scaled or flipped.

Method: the motif is every shape whose outline lies inside a ring, in the fills and in the lines. A copy's
fills go above all fills, its ink above all ink, and ink that its areas lie on is taken away (`covering`), so
that it hides what it lies on though all ink lies above all fills. A copy that leaves the base brings one.

Limits: a motif whose lines touch others is one shape with them, so that no ring holds it. Copies are not
counted against a budget of nodes, and know nothing of an axis.
"""

from collections import Counter
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
from limner.motifs.covering import FLATTEN_MM, Cover, filled_region, without

__all__ = ["repeat_motifs"]

# A copy may reach past the page by what coordinates are rounded to.
_ROUNDING_MM = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class _Motif:
    """Shapes that are copied together, which of their fills lie in no other, and the middle of their box."""

    fills: tuple[Shape, ...]
    lines: tuple[Shape, ...]
    outer: tuple[bool, ...]
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
    pile = _Pile(drawing)
    names = _Names(shape.name for shape in drawing.shapes)
    for number, (motif, repeat) in enumerate(zip(motifs, repeats, strict=True)):
        for k, place in enumerate(repeat.places):
            copy = _copied(motif, place, names)
            if not _on_page(copy.shapes, drawing):
                raise GeometryError(
                    f"this copy of a motif runs off the page at {place.scale:g} times its size: "
                    "move it inwards, or make it smaller.",
                    about=("repeat", number, "to", k),
                )
            pile.add(copy)
    return pile.drawing()


def _motif(drawing: Drawing, repeat: Repeat, number: int) -> _Motif:
    fills = tuple(shape for shape in drawing.fills if _is_inside(shape, repeat.ring))
    lines = tuple(shape for shape in drawing.lines if _is_inside(shape, repeat.ring))
    if not fills and not lines:
        raise GeometryError(
            "this ring holds no whole shape: draw it around a motif whose lines touch no others.",
            about=("repeat", number, "ring"),
        )
    low, high = _box((*fills, *lines))
    outer = _outer(fills)
    if not any(shape.role == "silhouette" for shape in fills):
        base = _base(drawing, [shape for shape, is_outer in zip(fills, outer, strict=True) if is_outer])
        fills, outer = (*base, *fills), (*(False for _ in base), *outer)
    return _Motif(fills, lines, outer, (low + high) / 2)


def _is_inside(shape: Shape, ring: Floats) -> bool:
    points = np.concatenate(flatten_all(shape.paths, FLATTEN_MM))
    low, high = ring.min(axis=0), ring.max(axis=0)
    # Most shapes lie far away.
    if (points < low).any() or (points > high).any():
        return False
    return bool(inside_rings(points, [ring]).all())


def _outer(fills: Sequence[Shape]) -> tuple[bool, ...]:
    """Which fills are areas that lie in no larger area."""
    regions = [filled_region(shape.paths) if shape.role == "area" else None for shape in fills]
    areas = [region for region in regions if region is not None]
    return tuple(
        region is not None
        and not any(other.area > region.area and shapely.covers(other, region) for other in areas)
        for region in regions
    )


def _base(drawing: Drawing, outer: Sequence[Shape]) -> tuple[Shape, ...]:
    """What is to lie under a motif that has no base of its own, as it lies on another one's."""
    others = [shape for shape in drawing.fills if shape.role == "silhouette"]
    if not others or not outer:
        return ()
    paths = tuple(path for shape in outer for path in shape.paths)
    error = max(shape.error_mm for shape in outer)
    return (Shape("silhouette", "silhouette", paths, others[0].fill, error),)


def _copied(motif: _Motif, place: MotifPlace, names: "_Names") -> _Motif:
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
            name=names.free(shape.name),
            paths=paths,
            error_mm=shape.error_mm * place.scale,
            area_mm2=shape.area_mm2 * place.scale**2,
        )

    fills, lines = tuple(map(copied, motif.fills)), tuple(map(copied, motif.lines))
    return _Motif(fills, lines, motif.outer, at)


class _Names:
    """Names of shapes, none of them twice."""

    def __init__(self, taken: Iterable[str]) -> None:
        self._taken = set(taken)
        self._last = Counter[str]()

    def free(self, name: str) -> str:
        """One for the next copy of a shape."""
        while True:
            self._last[name] += 1
            free = f"{name}-copy-{self._last[name]}"
            if free not in self._taken:
                self._taken.add(free)
                return free


def _box(shapes: Iterable[Shape]) -> tuple[Floats, Floats]:
    boxes = np.array([bounds(path) for shape in shapes for path in shape.paths])
    return boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)


def _on_page(shapes: Sequence[Shape], drawing: Drawing) -> bool:
    low, high = _box(shapes)
    size = np.array([drawing.width_mm, drawing.height_mm])
    return bool((low >= -_ROUNDING_MM).all() and (high <= size + _ROUNDING_MM).all())


class _Pile:
    """A drawing to which copies are added: its base, its fills and its ink, each from bottom to top."""

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._bases = [shape for shape in drawing.fills if shape.role == "silhouette"]
        self._fills = [shape for shape in drawing.fills if shape.role != "silhouette"]
        self._covered = shapely.union_all([filled_region(shape.paths) for shape in self._bases])
        self._lines: list[Shape] = []
        self._boxes = np.zeros((0, 4))
        self._regions: dict[str, Any] = {}
        self._add_lines(drawing.lines)

    def add(self, copy: _Motif) -> None:
        """Put a copy above all else; its base lies with the others, where it leaves those of the drawing."""
        for shape in copy.fills:
            if shape.role != "silhouette":
                self._fills.append(shape)
            elif not shapely.covers(self._covered, filled_region(shape.paths)):
                self._bases.append(shape)
        outer = [shape for shape, is_outer in zip(copy.fills, copy.outer, strict=True) if is_outer]
        paths = [path for shape in outer for path in shape.paths]
        if paths:
            self._clear(Cover.of(paths))
        self._add_lines(copy.lines)

    def drawing(self) -> Drawing:
        """The drawing with all copies."""
        return replace(self._drawing, fills=(*self._bases, *self._fills), lines=tuple(self._lines))

    def _add_lines(self, lines: Sequence[Shape]) -> None:
        self._lines += lines
        boxes = [np.concatenate(_box([shape])) for shape in lines]
        self._boxes = np.concatenate([self._boxes, np.reshape(boxes, (-1, 4))])

    def _clear(self, cover: Cover) -> None:
        """Take away the ink under a cover."""
        x0, y0, x1, y1 = shapely.bounds(cover.region)
        boxes = self._boxes
        near = (boxes[:, 0] < x1) & (boxes[:, 1] < y1) & (boxes[:, 2] > x0) & (boxes[:, 3] > y0)
        gone = np.zeros(len(boxes), dtype=bool)
        for i in np.flatnonzero(near):
            line = self._lines[i]
            if line.name not in self._regions:
                self._regions[line.name] = filled_region(line.paths)
            left = without(line, cover, self._regions[line.name])
            if left is line:
                continue
            del self._regions[line.name]
            if left is None:
                gone[i] = True
            else:
                self._lines[i] = left
                self._boxes[i] = np.concatenate(_box([left]))
        self._lines = [line for line, is_gone in zip(self._lines, gone.tolist(), strict=True) if not is_gone]
        self._boxes = self._boxes[~gone]
