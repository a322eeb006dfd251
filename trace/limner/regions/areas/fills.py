"""What each area is filled with: the user's colour, else the sketch's, else ink, else a tint."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from limner.geometry.cycles import cycle_points
from limner.geometry.rasters import fill_rings
from limner.model.raster import FlatPage, ScaledInk
from limner.model.regionmap import Edge
from limner.regions.areas.interiors import is_mostly_inked
from limner.regions.areas.sketch_colours import SOLID, sketch_colours, tint_areas
from limner.regions.areas.stack import Stack

__all__ = ["OwnFills", "choose_fills", "own_fills"]

# Longer side of the raster on which the colours of the sketch are gathered.
_COLOUR_PX = 700

# More ink than this on a pixel of that raster hides the colour under it.
_HIDDEN = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class OwnFills:
    """What areas are filled with where the user says nothing.

    Parameters
    ----------
    coloured : tuple of (str or None)
        Colour "#rrggbb" in which each was coloured in on the sketch; None: it was not.
    black : tuple of bool
        Which of the others are the inside of a solid black.
    """

    coloured: tuple[str | None, ...]
    black: tuple[bool, ...]


def own_fills(stack: Stack, edges: Sequence[Edge], ink: ScaledInk, page: FlatPage | None) -> OwnFills:
    """Find what the sketch fills every area with.

    Parameters
    ----------
    stack : Stack
        The areas.
    edges : sequence of Edge
        Edges of the map.
    ink : ScaledInk
        The ink.
    page : FlatPage or None
        The page in colour; None: nothing was coloured in.

    Returns
    -------
    OwnFills
    """
    faces = [stack.faces.faces[number] for number in stack.order]
    coloured: list[str | None] = [None] * len(faces)
    if page is not None and faces:
        coloured = sketch_colours(ink, page, _labels(stack, edges, ink), len(faces))
    black = (
        colour is None and is_mostly_inked(edges, face, ink)
        for colour, face in zip(coloured, faces, strict=True)
    )
    return OwnFills(tuple(coloured), tuple(black))


def choose_fills(
    stack: Stack, names: Sequence[str], given: Sequence[str | None], own: OwnFills
) -> tuple[list[str], list[bool]]:
    """Decide the fill of every area.

    Parameters
    ----------
    stack : Stack
        The areas.
    names : sequence of str
        Names of the areas: decide which tint each asks for.
    given : sequence of str or None
        Fills that the user gave.
    own : OwnFills
        What the sketch gives.

    Returns
    -------
    fills : list of str
        "#rrggbb".
    inked : list of bool
        Which areas are filled as the inside of a solid black.
    """
    inked = [fill is None and black for fill, black in zip(given, own.black, strict=True)]
    fills = [
        SOLID if black else fill or found
        for black, fill, found in zip(inked, given, own.coloured, strict=True)
    ]
    sizes = [stack.faces.faces[number].visible for number in stack.order]
    return tint_areas(names, sizes, stack.neighbours(), fills), inked


def _labels(stack: Stack, edges: Sequence[Edge], ink: ScaledInk) -> NDArray[np.int32]:
    """Area of each pixel of a reduced raster over the page, ink left out; -1 elsewhere."""
    height, width = ink.coverage.shape
    factor = min(1.0, _COLOUR_PX / max(height, width))
    size = (max(1, round(width * factor)), max(1, round(height * factor)))
    labels = np.full((size[1], size[0]), -1, np.int32)
    faces = stack.faces
    places = sorted(
        enumerate(stack.order), key=lambda item: (faces.depth(item[1]), -faces.faces[item[1]].area)
    )
    for place, number in places:
        outline = cycle_points(edges, faces.faces[number].outline)
        fill_rings(labels, [outline * (factor / ink.mm_per_px)], place)
    covered = cv2.resize(ink.coverage, size, interpolation=cv2.INTER_AREA)
    labels[covered > _HIDDEN] = -1
    return labels
