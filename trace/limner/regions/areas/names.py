"""Names of areas that stay the same while the drawing stays much the same.

Method: the page is a board of squares, a, b, c, ... from left to right and 1, 2, 3, ... downwards. An area
is called by the square in which its inside point lies and, where it lies inside other areas, by how deep:
``area-d5``, ``area-d5-in``, ``area-d5-in2``. Several in one square are told apart by size: the largest keeps
the plain name, the next is ``area-d5-b``, then ``-c``. Nothing counts through the whole drawing, so a new
line renames the areas that it touches and no others.

Limits: an area whose middle crosses the border of a square gets another name.
"""

import string
from collections.abc import Iterator, Sequence
from itertools import count

__all__ = ["name_areas"]

# Squares along the longer side of the page: fine enough that few areas share one, coarse enough that a
# redrawn line rarely moves an area's middle into the next.
_SQUARES = 12


def name_areas(
    points_mm: Sequence[tuple[float, float]],
    depths: Sequence[int],
    sizes_mm2: Sequence[float],
    page_mm: tuple[float, float],
    given: Sequence[str | None],
) -> list[str]:
    """Name areas.

    Parameters
    ----------
    points_mm : sequence of (x, y)
        A point inside each area.
    depths : sequence of int
        How many areas lie around each.
    sizes_mm2 : sequence of float
        Their sizes.
    page_mm : tuple of float
        Size of the page.
    given : sequence of str or None
        Names that the user gave; several areas may share one and are numbered then.

    Returns
    -------
    list of str
        Unique names.
    """
    names: list[str] = [""] * len(points_mm)
    taken = {name for name in given if name is not None}
    by_size = sorted(range(len(names)), key=lambda area: (-sizes_mm2[area], points_mm[area]))
    for area in by_size:
        wanted = given[area]
        if wanted is not None:
            names[area] = _free(wanted, set(names), (str(number) for number in count(2)))
    for area in by_size:
        if not names[area]:
            base = f"area-{_square(points_mm[area], page_mm)}{_depth(depths[area])}"
            names[area] = _free(base, taken | set(names), _letters())
    return names


def _free(base: str, taken: set[str], suffixes: Iterator[str]) -> str:
    """The plain name, or the first numbered one that nobody has."""
    if base not in taken:
        return base
    return next(f"{base}-{suffix}" for suffix in suffixes if f"{base}-{suffix}" not in taken)


def _letters() -> Iterator[str]:
    """b, c, ..., z, then b2, c2, ..."""
    for turn in count(1):
        for letter in string.ascii_lowercase[1:]:
            yield letter + (str(turn) if turn > 1 else "")


def _square(point: tuple[float, float], page_mm: tuple[float, float]) -> str:
    side = max(page_mm) / _SQUARES
    column = min(max(int(point[0] / side), 0), _SQUARES - 1)
    row = min(max(int(point[1] / side), 0), _SQUARES - 1)
    return f"{string.ascii_lowercase[column]}{row + 1}"


def _depth(depth: int) -> str:
    if depth == 0:
        return ""
    return "-in" if depth == 1 else f"-in{depth}"
