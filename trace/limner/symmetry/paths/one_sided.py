"""Ink that stays as it is drawn around areas that stay one-sided.

The outline of a hair clip mostly is one piece of ink with the hair's: the ink is mirrored as a whole, then
cut out around the clip and around the clip's mirror image (`limner.symmetry.paths.clip`), and what was
drawn there is put in its place.

Limits: what the artist left out behind the clip is missing on the other side, too.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limner.geometry.cubics import flatten
from limner.model.arrays import Floats
from limner.model.drawing import Shape
from limner.symmetry.frame import Frame
from limner.symmetry.paths.clip import clip_paths

__all__ = ["Around", "around_shapes", "keep_drawn"]


# The ink around an area belongs to it: its outline reaches half a line width beyond, and wavers a little.
AROUND_WIDTHS = 0.75

# What is put in place overlaps what was cut by this much, so that no hairline of paper shows between.
OVERLAP_MM = 0.05

FLATTEN_MM = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Around:
    """Where ink stays as drawn: rings, outer ones positive and holes negative, shape (n, 2), millimetres.

    Parameters
    ----------
    cut : tuple of ndarray
        What is taken out of the mirrored ink.
    put : tuple of ndarray
        What is put in from the drawn ink: the same, a little larger.
    """

    cut: tuple[Floats, ...]
    put: tuple[Floats, ...]


def around_shapes(shapes: Sequence[Shape], frame: Frame, line_width_mm: float) -> Around | None:
    """The surroundings of shapes, and their mirror images; None where there are no shapes."""
    if not shapes:
        return None
    import shapely

    drawn = []
    for shape in shapes:
        outlines = [flatten(path, FLATTEN_MM) for path in shape.paths]
        for rings in (outlines, [frame.reflect(outline) for outline in outlines]):
            drawn += [shapely.Polygon(ring).buffer(AROUND_WIDTHS * line_width_mm) for ring in rings]
    cut = shapely.union_all(drawn)
    return Around(_rings(cut), _rings(cut.buffer(OVERLAP_MM)))


def _rings(region: object) -> tuple[Floats, ...]:
    import shapely

    parts = [shapely.geometry.polygon.orient(part, 1.0) for part in shapely.get_parts(region)]
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    return tuple(np.asarray(ring.coords, np.float64)[:-1] for ring in rings)


def keep_drawn(mirrored: Sequence[Shape], drawn: Sequence[Shape], around: Around) -> tuple[Shape, ...]:
    """Lines (or silhouettes) that are mirrored but for the surroundings, where they stay as drawn.

    Parameters
    ----------
    mirrored, drawn : sequence of Shape
        Lines after and before mirroring.
    around : Around
        Where they stay as drawn.

    Returns
    -------
    tuple of Shape
        The mirrored lines, cut out; then what was drawn there, named after its lines ("line-1-drawn").
    """
    result = [kept for shape in mirrored if (kept := _clipped(shape, around.cut, inside=False)) is not None]
    names = {shape.name for shape in result}
    for shape in drawn:
        drawn_part = _clipped(shape, around.put, inside=True)
        if drawn_part is not None:
            name, number = f"{shape.name}-drawn", 2
            while name in names:
                name, number = f"{shape.name}-drawn-{number}", number + 1
            names.add(name)
            result.append(replace(drawn_part, name=name))
    return tuple(result)


def _clipped(shape: Shape, rings: Sequence[Floats], *, inside: bool) -> Shape | None:
    """The shape inside or outside the rings; itself where they do not meet."""
    nodes = np.concatenate([path.segments.reshape(-1, 2) for path in shape.paths])
    low, high = nodes.min(axis=0), nodes.max(axis=0)
    apart = all((ring.max(axis=0) < low).any() or (ring.min(axis=0) > high).any() for ring in rings)
    if apart:
        return None if inside else shape
    paths = clip_paths(shape.paths, rings, inside=inside)
    return replace(shape, paths=tuple(paths)) if paths else None
