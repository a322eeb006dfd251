"""A drawing mirrored about an axis, on its curves, without a refit.

Each shape is cut exactly at the axis (`limner.symmetry.paths.cut`); what lies on the kept side is joined to
its own reflection where it meets the axis (`limner.symmetry.paths.seam`) and doubled where it does not. So
the result is its own mirror image to the rounding of the coordinates, and mirroring it again changes
nothing.

Limits: a shape that crosses the axis is evened out by its kept part alone; a thin line that runs along the
axis, slightly aslant, therefore opens like a fork. `Shape.area_mm2` of a shape across the axis is scaled by
the area of its outline.
"""

import re
from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from limner.errors import GeometryError
from limner.geometry.cubics import flatten, signed_area
from limner.geometry.rings import inside_rings
from limner.model.arrays import Floats
from limner.model.drawing import Drawing, Shape
from limner.model.geometry import Axis, CubicPath
from limner.symmetry.frame import Frame, frame_of, seen_sides
from limner.symmetry.paths.cut import cut_path
from limner.symmetry.paths.one_sided import around_shapes, keep_drawn
from limner.symmetry.paths.seam import join_to_reflection, reflect_path

__all__ = ["mirror_drawing"]


# How closely the outlines are followed where only their area or place is asked for.
FLATTEN_MM = 0.05

_SIDE_SUFFIX = re.compile(r"-(left|right|top|bottom)$")


def mirror_drawing(
    drawing: Drawing,
    axis: Axis,
    *,
    stray_mm: float | None = None,
    one_sided: Collection[str] = (),
    within: Sequence[Floats] | None = None,
) -> Drawing:
    """Replace one side of a drawing by the mirror image of the other.

    Parameters
    ----------
    drawing : Drawing
        The drawing.
    axis : Axis
        The axis; where `axis.keep` is None, the side with more ink is kept.
    stray_mm : float or None
        How far a seam may lead away from what was drawn to be smooth; None: half a line's width, so that
        the border of a fill stays under its line. Where that does not do, the seam is a corner.
    one_sided : collection of str
        Names of shapes that stay as they are drawn, on whichever side; so does the ink in and around
        areas of these names (`limner.symmetry.paths.one_sided`).
    within : sequence of ndarray, shape (n, 2), optional
        Closed rings in millimetres: only shapes whose middle lies inside them (even-odd) are mirrored,
        so that a drawing of several figures can have an axis for each.

    Returns
    -------
    Drawing
        Shapes in the order of the originals, each twin right after its own; its `axis` is the one used,
        its side decided. A shape on the side given up for which the user gave a rule passes its name, rule
        and fill on to the reflection that falls on it. `error_mm` of a shape grows by how far its seams
        moved it.

    Raises
    ------
    GeometryError
        A name in `one_sided` is not in the drawing, or nothing lies on the kept side.
    """
    names = {shape.name for shape in drawing.shapes}
    for name in one_sided:
        if name not in names:
            raise GeometryError(
                f'No shape is called "{name}", so it cannot stay one-sided: '
                f"the shapes are {', '.join(sorted(names))}."
            )
    if axis.keep is None:
        axis = replace(axis, keep=_fuller_side(drawing, axis))
    unmirrored = {s.name for s in drawing.shapes if s.name in one_sided or not _is_within(s, within)}
    mirror = _Mirror(drawing, axis, 0.5 * drawing.line_width_mm if stray_mm is None else stray_mm, unmirrored)
    fills = mirror.layer(drawing.fills)
    lines = mirror.layer(drawing.lines)
    around = around_shapes(
        [shape for shape in drawing.fills if shape.name in one_sided], mirror.frame, drawing.line_width_mm
    )
    if around is not None:
        lines = keep_drawn(lines, [s for s in drawing.lines if s.name not in unmirrored], around)
        bases = [s for s in drawing.fills if s.role == "silhouette" and s.name not in unmirrored]
        areas = tuple(shape for shape in fills if shape.role != "silhouette")
        fills = keep_drawn([s for s in fills if s.role == "silhouette"], bases, around) + areas
    if not mirror.mirrored and len(unmirrored) < len(names):
        raise GeometryError(
            "Nothing is drawn on the side of the axis that is to be kept: keep the other side, "
            "or set the axis by hand with a point and an angle."
        )
    return replace(drawing, fills=fills, lines=lines, axis=axis)


class _Mirror:
    """One run over a drawing: the names already given out, and the twins still to be found."""

    def __init__(self, drawing: Drawing, axis: Axis, stray_mm: float, unmirrored: Collection[str]) -> None:
        self.frame = frame_of(axis)
        self.stray_mm = stray_mm
        self.unmirrored = unmirrored
        left, right = seen_sides(axis)
        self.sides = (left, right) if axis.keep == "left" else (right, left)
        self.mirrored = 0
        self.taken = {shape.name for shape in drawing.shapes if shape.name in unmirrored}

    def layer(self, shapes: Sequence[Shape]) -> tuple[Shape, ...]:
        """All shapes of a layer, bottom to top."""
        given_up = [s for s in shapes if s.name not in self.unmirrored and self._is_given_up(s)]
        result: list[Shape] = []
        for shape in shapes:
            if shape.name in self.unmirrored:
                result.append(shape)
            else:
                result.extend(self._shape(shape, given_up))
        return tuple(result)

    def _is_given_up(self, shape: Shape) -> bool:
        return all(float(self.frame.distance(path.segments).max()) <= 0 for path in shape.paths)

    def _shape(self, shape: Shape, given_up: list[Shape]) -> list[Shape]:
        paths: list[CubicPath] = []
        images: list[CubicPath] = []
        across = False
        strayed = 0.0
        for path in shape.paths:
            whole, pieces = cut_path(path, self.frame)
            if whole is not None:
                paths.append(whole)
                images.append(reflect_path(whole, self.frame))
            for piece in pieces:
                joined = join_to_reflection(piece, self.frame, self.stray_mm)
                strayed = max(strayed, joined.strayed_mm)
                paths.append(joined.path)
                across = True
        if not paths:
            return []
        self.mirrored += 1
        if across:
            together = tuple(paths) + tuple(images)
            return [self._across(shape, together, strayed)]
        return self._pair(shape, tuple(paths), tuple(images), given_up)

    def _across(self, shape: Shape, paths: tuple[CubicPath, ...], strayed: float) -> Shape:
        before, after = _outline_area(shape.paths), _outline_area(paths)
        area = shape.area_mm2 * after / before if before > 0 else shape.area_mm2
        return replace(
            shape,
            name=self._free(shape.name),
            paths=paths,
            area_mm2=area,
            error_mm=shape.error_mm + strayed,
        )

    def _pair(
        self,
        shape: Shape,
        paths: tuple[CubicPath, ...],
        images: tuple[CubicPath, ...],
        given_up: list[Shape],
    ) -> list[Shape]:
        base = _SIDE_SUFFIX.sub("", shape.name)
        names = [f"{base}-{self.sides[0]}", f"{base}-{self.sides[1]}"]
        image = shape
        twin = self._twin(images, given_up)
        if twin is not None:
            image = twin
            names = [shape.name, twin.name]
        return [
            replace(shape, name=self._free(names[0]), paths=paths),
            replace(
                shape,
                name=self._free(names[1]),
                paths=images,
                fill=image.fill,
                rule=image.rule,
                inked=image.inked,
            ),
        ]

    def _twin(self, images: tuple[CubicPath, ...], given_up: list[Shape]) -> Shape | None:
        """The shape with a rule of the user's, on the side given up, that the image falls on."""
        middle = _middle(images)
        for shape in given_up:
            if shape.rule is None:
                continue
            if inside_rings(middle[None], [flatten(p, FLATTEN_MM) for p in shape.paths])[0]:
                return shape
        return None

    def _free(self, name: str) -> str:
        """The name, with a number where it is already taken."""
        candidate, number = name, 2
        while candidate in self.taken:
            candidate, number = f"{name}-{number}", number + 1
        self.taken.add(candidate)
        return candidate


def _outline_area(paths: Sequence[CubicPath]) -> float:
    """Area inside the paths: outer ones are positive, holes negative."""
    return abs(sum(signed_area(path) for path in paths))


def _middle(paths: Sequence[CubicPath]) -> Floats:
    """Middle of the box around the nodes, shape (2,)."""
    nodes = np.concatenate([path.nodes for path in paths])
    return np.asarray((nodes.min(axis=0) + nodes.max(axis=0)) / 2.0)


def _is_within(shape: Shape, within: Sequence[Floats] | None) -> bool:
    return within is None or bool(inside_rings(_middle(shape.paths)[None], within)[0])


def _fuller_side(drawing: Drawing, axis: Axis) -> str:
    """The side with more ink (or, without lines, with more filled area)."""
    shapes = drawing.lines or drawing.fills
    area = {side: _kept_area(shapes, frame_of(replace(axis, keep=side))) for side in ("left", "right")}
    return "right" if area["right"] > area["left"] else "left"


def _kept_area(shapes: Sequence[Shape], frame: Frame) -> float:
    """Area on the kept side; outer paths are positive, holes negative."""
    total = 0.0
    for shape in shapes:
        for path in shape.paths:
            points = flatten(path, FLATTEN_MM)
            # Distance below zero is cut to zero: the part beyond the axis folds flat onto it.
            u, v = frame.position(points), np.maximum(frame.distance(points), 0.0)
            total += float(np.sum(u * np.roll(v, -1) - np.roll(u, -1) * v)) / 2.0
    return abs(total)
